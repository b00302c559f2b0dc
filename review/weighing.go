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

// views adds to views, which may be empty but not nil, those of the photos that a submission shows.
func (s *Submission) views(views []string, spec *Specimen) []string {
	for _, p := range spec.Photos {
		if slices.Contains(s.Photos, p.ID) && !slices.Contains(views, p.View) {
			views = append(views, p.View)
		}
	}
	return views
}

// gathering is memory that evidence is gathered in, and the next one again. What was gathered before is lost then.
type gathering struct {
	views    []string
	verdicts []Verdict
	blind    []BlindCheck
	stated   []judgement.Stated
	reports  []judgement.Report
}

// Evidence gathers what a submission's confidence rests on: the standing observations that it cites, with the
// verdicts and blind checks on them. Those given on an earlier submission of the same specimen count as well, each
// person's latest on each observation once: they are about the specimen, not about the name.
func (w Weighing) Evidence(s *Submission, spec *Specimen, siblings []Submission, t *diagnosis.Tables) judgement.Evidence {
	e := w.gather(&gathering{}, s, spec, siblings, t)
	if len(e.Free) > 0 {
		e.Mentions = w.People.MentionRates(t)
	}
	return e
}

// gather is Evidence over memory that is used again, without how often things are mentioned.
func (w Weighing) gather(g *gathering, s *Submission, spec *Specimen, siblings []Submission, t *diagnosis.Tables) judgement.Evidence {
	g.verdicts, g.blind, g.stated, g.reports = g.verdicts[:0], append(g.blind[:0], s.Blind...), g.stated[:0], g.reports[:0]
	for i := range siblings {
		if siblings[i].ID != s.ID {
			g.verdicts = addVerdicts(g.verdicts, siblings[i].Verdicts)
			g.blind = append(g.blind, siblings[i].Blind...)
		}
	}
	g.verdicts = addVerdicts(g.verdicts, s.Verdicts)
	if g.views == nil {
		g.views = []string{}
	}
	g.views = s.views(g.views[:0], spec)
	e := judgement.Evidence{Family: s.Determination.Family, Sex: spec.Label.Sex, Views: g.views, Prior: judgement.Listed(w.List, t),
		Wider: widerStated(s.Wider)}
	for i := range spec.Observations {
		o := &spec.Observations[i]
		if o.Withdrawn != "" || !slices.Contains(s.Cites, o.ID) {
			continue
		}
		e.Newcomer = e.Newcomer || o.By == s.Owner && w.People.New(o.By, o.Role)
		first := len(g.reports)
		w.reportsOn(g, o, t)
		g.stated = append(g.stated, judgement.Stated{Character: o.Character, State: o.State, Reports: g.reports[first:len(g.reports):len(g.reports)]})
	}
	if len(g.stated) > 0 {
		e.Stated = g.stated
	}
	_, e.Free = s.FreeLists(spec)
	return e
}

// FreeLists are what members told freely, by observer: what they took back since was mentioned all the same. Who reviews looks
// otherwise than somebody who describes.
func (s *Submission) FreeLists(spec *Specimen) (observers []string, lists []judgement.FreeList) {
	for _, o := range spec.Observations {
		if o.List != ListFree || !o.Role.States() || !slices.Contains(s.Cites, o.ID) && o.Withdrawn != TakenBack {
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

// reportsOn adds all reports about one observation. Whoever looked at it blind is counted by that look: a verdict on the
// same thing afterwards is no second one. Nor is one by the observer.
func (w Weighing) reportsOn(g *gathering, o *Observation, t *diagnosis.Tables) {
	region := ""
	if c, ok := t.Character(o.Character); ok {
		region = c.Region
	}
	g.reports = append(g.reports, w.observerReport(o, region))
	looked := func(by string, at int) bool {
		return slices.ContainsFunc(g.blind[:at], func(b BlindCheck) bool { return b.Observation == o.ID && b.State != "" && b.By == by })
	}
	for i := range g.blind {
		b := &g.blind[i]
		if b.Observation != o.ID || b.State == "" || looked(b.By, i) {
			continue
		}
		g.reports = append(g.reports, w.People.report(judgement.ReportBlind, b.State, b.By, b.Role, region))
		g.reports[len(g.reports)-1].Anchoring = 0 // nothing was shown
	}
	for i := range g.verdicts {
		v := &g.verdicts[i]
		if v.Observation != o.ID || v.By == o.By || looked(v.By, len(g.blind)) {
			continue
		}
		if report, counts := w.verdictReport(v, region); counts {
			if v.repeats(g.verdicts, g.blind) {
				report = report.Repeated()
			}
			g.reports = append(g.reports, report)
		}
	}
}

// observerReport is an observation as a report: its observer is as reliable as known, less where the observer was not
// sure. What was stated after a hint weighs as agreement with what was shown.
func (w Weighing) observerReport(o *Observation, region string) judgement.Report {
	report := w.People.report(judgement.ReportStated, "", o.By, o.Role, region)
	report.Accuracy = SureAccuracy(report.Accuracy, o.Sureness)
	if o.AfterHint {
		report.Kind = judgement.ReportHinted
	} else {
		report.Anchoring = 0 // nothing was shown
	}
	return report
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
func (w Weighing) verdictReport(v *Verdict, region string) (judgement.Report, bool) {
	switch v.Kind {
	case VerdictConfirm:
		return w.People.report(judgement.ReportConfirmed, v.Better, v.By, v.Role, region), true
	case VerdictDispute:
		return w.People.report(judgement.ReportDisputed, v.Better, v.By, v.Role, region), true
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
