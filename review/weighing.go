package review

import (
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Weighing is what turns what people said into evidence: how far they can be relied on, and what the club expects to
// find here.
type Weighing struct {
	People *Reliability
	List   map[string]float64 // the club's prior weights by family (Policy.Prior), or nil
	Policy int                // version of the policy that it is of
	look   *judgement.Look    // who looks next; nil: a reviewer of whom nothing else is known
}

// views of the photos that a submission shows.
func (s *Submission) views(spec *Specimen) []string {
	views := []string{}
	for _, p := range spec.Photos {
		if slices.Contains(s.Photos, p.ID) && !slices.Contains(views, p.View) {
			views = append(views, p.View)
		}
	}
	return views
}

// Evidence gathers what a submission's confidence rests on: the standing observations that it cites, with the
// verdicts and blind checks on them. Those given on an earlier submission of the same specimen count as well, each
// person's latest on each observation once: they are about the specimen, not about the name.
func (w Weighing) Evidence(s *Submission, spec *Specimen, siblings []Submission, t *diagnosis.Tables) judgement.Evidence {
	verdicts, blind := []Verdict{}, slices.Clone(s.Blind)
	for i := range siblings {
		if siblings[i].ID != s.ID {
			verdicts = mergeVerdicts(verdicts, siblings[i].Verdicts)
			blind = append(blind, siblings[i].Blind...)
		}
	}
	verdicts = mergeVerdicts(verdicts, s.Verdicts)
	e := judgement.Evidence{Family: s.Determination.Family, Sex: spec.Label.Sex, Views: s.views(spec), Prior: judgement.Listed(w.List, t),
		Wider: widerStated(s.Wider)}
	for _, o := range spec.Observations {
		if o.Withdrawn != "" || !slices.Contains(s.Cites, o.ID) {
			continue
		}
		e.Newcomer = e.Newcomer || o.By == s.Owner && w.People.New(o.By, o.Role)
		e.Stated = append(e.Stated, judgement.Stated{Character: o.Character, State: o.State, Reports: w.reportsOn(o, verdicts, blind, t)})
	}
	if _, e.Free = s.FreeLists(spec); len(e.Free) > 0 {
		e.Mentions = w.People.MentionRates(t)
	}
	return e
}

// FreeLists are what members told freely, by observer: what they took back since was mentioned all the same. Who reviews looks
// otherwise than somebody who describes.
func (s *Submission) FreeLists(spec *Specimen) (observers []string, lists []judgement.FreeList) {
	for _, o := range spec.Observations {
		if o.List != ListFree || o.Role != RoleMember || !slices.Contains(s.Cites, o.ID) && o.Withdrawn != TakenBack {
			continue
		}
		at := slices.Index(observers, o.By)
		if at < 0 {
			at = len(observers)
			observers, lists = append(observers, o.By), append(lists, judgement.FreeList{})
		}
		lists[at].Mentioned = append(lists[at].Mentioned, o.Character)
	}
	if len(lists) == 0 {
		return nil, nil
	}
	for _, o := range spec.Observations {
		if at := slices.Index(observers, o.By); at >= 0 && o.List != ListFree {
			lists[at].Since = append(lists[at].Since, o.Character)
		}
	}
	return observers, lists
}

// Reporters are the persons by whose reliability a specimen's submissions are weighed: who observed, who gave verdicts and
// who looked blind.
func Reporters(spec *Specimen, submissions []Submission) []string {
	var persons []string
	for _, o := range spec.Observations {
		persons = append(persons, o.By)
	}
	for i := range submissions {
		for _, v := range submissions[i].Verdicts {
			persons = append(persons, v.By)
		}
		for _, b := range submissions[i].Blind {
			persons = append(persons, b.By)
		}
	}
	slices.Sort(persons)
	return slices.Compact(persons)
}

// reportsOn are all reports about one observation. Whoever looked at it blind is counted by that look: a verdict on the
// same thing afterwards is no second one. Nor is one by the observer.
func (w Weighing) reportsOn(o Observation, verdicts []Verdict, blind []BlindCheck, t *diagnosis.Tables) []judgement.Report {
	region := ""
	if c, ok := t.Character(o.Character); ok {
		region = c.Region
	}
	reports := []judgement.Report{w.observerReport(o, region)}
	looked := map[string]bool{}
	for _, b := range blind {
		if b.Observation != o.ID || b.State == "" || looked[b.By] {
			continue
		}
		looked[b.By] = true
		reports = append(reports, judgement.Report{Kind: judgement.ReportBlind, Better: b.State,
			Reader: w.People.Reader(b.By, b.Role, region), Accuracy: w.People.Accuracy(b.By, b.Role, region), Leaning: w.People.Leaning(b.By)})
	}
	for _, v := range verdicts {
		if v.Observation != o.ID || looked[v.By] || v.SelfGiven(o) {
			continue
		}
		if report, counts := w.verdictReport(v, region); counts {
			if v.repeats(verdicts, blind) {
				report = report.Repeated()
			}
			reports = append(reports, report)
		}
	}
	return reports
}

// observerReport is an observation as a report: its observer is as reliable as known, less where the observer was not
// sure. What was stated after a hint weighs as agreement with what was shown.
func (w Weighing) observerReport(o Observation, region string) judgement.Report {
	kind, anchoring := judgement.ReportStated, 0.0
	if o.AfterHint {
		kind, anchoring = judgement.ReportHinted, w.People.Anchoring(o.By, o.Role)
	}
	return judgement.Report{Kind: kind, Anchoring: anchoring, Reader: w.People.Reader(o.By, o.Role, region),
		Accuracy: SureAccuracy(w.People.Accuracy(o.By, o.Role, region), o.Sureness), Leaning: w.People.Leaning(o.By)}
}

// SureAccuracy is the accuracy of somebody who says how sure they are.
func SureAccuracy(accuracy float64, s Sureness) float64 {
	switch s {
	case FairlySure:
		return 0.5 * (accuracy + unsureAccuracy)
	case Unsure:
		return unsureAccuracy
	}
	return accuracy
}

// unsureAccuracy is what somebody who is unsure is taken to be right with: a little better than a coin. Assumed, no
// source.
const unsureAccuracy = 0.6

// verdictReport is a verdict as a report, and false for verdicts that say nothing about the state.
func (w Weighing) verdictReport(v Verdict, region string) (judgement.Report, bool) {
	report := judgement.Report{Better: v.Better, Reader: w.People.Reader(v.By, v.Role, region), Accuracy: w.People.Accuracy(v.By, v.Role, region), Anchoring: w.People.Anchoring(v.By, v.Role),
		Leaning: w.People.Leaning(v.By)}
	switch v.Kind {
	case VerdictConfirm:
		report.Kind = judgement.ReportConfirmed
		return report, true
	case VerdictDispute:
		report.Kind = judgement.ReportDisputed
		return report, true
	}
	return judgement.Report{}, false
}

// Assess judges a submission of a specimen on all its siblings, and says by which versions.
func (w Weighing) Assess(j *judgement.Judge, s *Submission, spec *Specimen, siblings []Submission) judgement.Assessment {
	e := w.Evidence(s, spec, siblings, j.Tables())
	if w.look != nil {
		e.Look = *w.look
	}
	a := j.Assess(e)
	if w.People != nil {
		a.Reliability = w.People.Version
	}
	if e.Prior != nil {
		a.Policy = w.Policy
	}
	return a
}
