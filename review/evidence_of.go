package review

import "slices"

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
// verdicts on them. Verdicts given on an earlier submission of the same specimen count as well, each person's latest on
// each observation once: they are about the specimen, not about the name.
func evidenceOf(s *Submission, spec *Specimen, siblings []Submission) Evidence {
	verdicts := []Verdict{}
	for i := range siblings {
		if siblings[i].ID != s.ID {
			verdicts = mergeVerdicts(verdicts, siblings[i].Verdicts)
		}
	}
	verdicts = mergeVerdicts(verdicts, s.Verdicts)
	e := Evidence{Family: s.Determination.Family, Sex: spec.Label.Sex, Views: s.views(spec)}
	for _, o := range spec.Observations {
		if o.Withdrawn != "" || !slices.Contains(s.Cites, o.ID) {
			continue
		}
		e.Stated = append(e.Stated, Stated{Character: o.Character, State: o.State, Reports: reportsOn(o, verdicts)})
	}
	return e
}

func reportsOn(o Observation, verdicts []Verdict) []Report {
	reports := []Report{observerReport(o)}
	for _, v := range verdicts {
		if v.Observation != o.ID {
			continue
		}
		if report, counts := verdictReport(v); counts {
			reports = append(reports, report)
		}
	}
	return reports
}

// observerReport is an observation as a report: its observer is as reliable as the role starts with, less where the
// observer was not sure.
func observerReport(o Observation) Report {
	accuracy := RoleAccuracy(o.Role)
	switch o.Sureness {
	case FairlySure:
		accuracy = 0.5 * (accuracy + unsureAccuracy)
	case Unsure:
		accuracy = unsureAccuracy
	}
	return Report{Kind: ReportStated, Accuracy: accuracy}
}

// unsureAccuracy is what somebody who is unsure is taken to be right with: a little better than a coin. Assumed, no
// source.
const unsureAccuracy = 0.6

// verdictReport is a verdict as a report, and false for verdicts that say nothing about the state.
func verdictReport(v Verdict) (Report, bool) {
	report := Report{Better: v.Better, Accuracy: RoleAccuracy(v.Role), Anchoring: RoleAnchoring(v.Role)}
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
