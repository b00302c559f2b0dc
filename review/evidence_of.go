package review

import (
	"slices"

	"revidit/review/diagnosis"
)

// weighing is what turns what people said into evidence: how far they can be relied on, and what the club expects to
// fly here.
type weighing struct {
	people *Reliability
	list   map[string]float64 // the club's own prior weights by family, or nil
	policy int                // version of the policy that list is of
	look   *Look              // who looks next; nil: a reviewer of whom nothing else is known
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

// evidenceOf gathers what a submission's confidence rests on: the standing observations that it cites, with the
// verdicts and blind checks on them. Those given on an earlier submission of the same specimen count as well, each
// person's latest on each observation once: they are about the specimen, not about the name.
func (w weighing) evidenceOf(s *Submission, spec *Specimen, siblings []Submission, t *diagnosis.Tables) Evidence {
	verdicts, blind := []Verdict{}, slices.Clone(s.Blind)
	for i := range siblings {
		if siblings[i].ID != s.ID {
			verdicts = mergeVerdicts(verdicts, siblings[i].Verdicts)
			blind = append(blind, siblings[i].Blind...)
		}
	}
	verdicts = mergeVerdicts(verdicts, s.Verdicts)
	e := Evidence{Family: s.Determination.Family, Sex: spec.Label.Sex, Views: s.views(spec), Prior: listOf(w.list, t)}
	for _, o := range spec.Observations {
		if o.Withdrawn != "" || !slices.Contains(s.Cites, o.ID) {
			continue
		}
		e.Stated = append(e.Stated, Stated{Character: o.Character, State: o.State, Reports: w.reportsOn(o, verdicts, blind, t)})
	}
	return e
}

// listOf is the part of the club's list that names families of these tables; nil where it has none.
func listOf(list map[string]float64, t *diagnosis.Tables) map[string]float64 {
	var known map[string]float64
	for family, weight := range list {
		if _, _, ok := t.Resolve(family); !ok {
			continue
		}
		if known == nil {
			known = map[string]float64{}
		}
		known[family] = weight
	}
	return known
}

// reportsOn are all reports about one observation. Whoever looked at it blind is counted by that look: a verdict on the
// same thing afterwards is no second one.
func (w weighing) reportsOn(o Observation, verdicts []Verdict, blind []BlindCheck, t *diagnosis.Tables) []Report {
	region := ""
	if c, ok := t.Character(o.Character); ok {
		region = c.Region
	}
	reports := []Report{w.observerReport(o, region)}
	looked := map[string]bool{}
	for _, b := range blind {
		if b.Observation != o.ID || b.State == "" || looked[b.By] {
			continue
		}
		looked[b.By] = true
		reports = append(reports, Report{Kind: ReportBlind, Better: b.State, Accuracy: w.people.Accuracy(b.By, b.Role, region)})
	}
	for _, v := range verdicts {
		if v.Observation != o.ID || looked[v.By] {
			continue
		}
		if report, counts := w.verdictReport(v, region); counts {
			reports = append(reports, report)
		}
	}
	return reports
}

// observerReport is an observation as a report: its observer is as reliable as known, less where the observer was not
// sure.
func (w weighing) observerReport(o Observation, region string) Report {
	return Report{Kind: ReportStated, Accuracy: sureAccuracy(w.people.Accuracy(o.By, o.Role, region), o.Sureness)}
}

// sureAccuracy is the accuracy of somebody who says how sure they are.
func sureAccuracy(accuracy float64, s Sureness) float64 {
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
func (w weighing) verdictReport(v Verdict, region string) (Report, bool) {
	report := Report{Better: v.Better, Accuracy: w.people.Accuracy(v.By, v.Role, region), Anchoring: w.people.Anchoring(v.By, v.Role)}
	switch v.Kind {
	case VerdictConfirm:
		report.Kind = ReportConfirmed
		return report, true
	case VerdictDispute:
		report.Kind = ReportDisputed
		return report, true
	}
	return Report{}, false
}
