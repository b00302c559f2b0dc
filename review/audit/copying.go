package audit

import (
	"cmp"
	"slices"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/judgement"
)

// Copying is the test whether reviewers share departures from what was recorded that nothing explains.
type Copying struct {
	// Limit is the tail below which a pair is named: CopyingRisk divided by the pairs that were tested (Dunn O.J. 1961.
	// Multiple comparisons among means. Journal of the American Statistical Association 56: 52-64).
	Limit float64       `json:"limit" doc:"Tail probability below which a pair is named: 0.01 divided by the number of pairs tested"`
	Pairs []CopyingPair `json:"pairs" nullable:"false" doc:"Pairs of reviewers with enough common units, the least probable first"`
}

// CopyingPair is what two reviewers share. See confidence.SharedDepartures, a test of our own.
type CopyingPair struct {
	A        string               `json:"a" doc:"Person id"`
	B        string               `json:"b" doc:"Person id"`
	Units    int                  `json:"units" doc:"Units on which both said what they hold to be true"`
	Observed int                  `json:"observed" doc:"Units on which both hold the same state and not the recorded one"`
	Expected float64              `json:"expected" doc:"The same, expected of two people who look for themselves and are as reliable as these"`
	Tail     float64              `json:"tail" doc:"Probability of that many or more by chance, 0 to 1"`
	Named    bool                 `json:"named" doc:"The tail is below the limit: ask them"`
	Warnings []confidence.Warning `json:"warnings" nullable:"false"`
}

// CopyingRisk is the chance of naming any pair at all where nobody copies. Our own choice, no source.
const CopyingRisk = 0.01

// copyingOf tests all pairs of persons who looked at what somebody else had recorded.
func copyingOf(found map[couple]*confidence.DepartureSum) Copying {
	out := Copying{Pairs: []CopyingPair{}}
	for who, of := range found {
		if of.Items() < LeastCommon {
			continue
		}
		d := of.Departures()
		out.Pairs = append(out.Pairs, CopyingPair{A: who.a, B: who.b, Units: d.Items, Observed: d.Observed, Expected: d.Expected,
			Tail: d.Tail, Warnings: nonNilWarnings(d.Warnings)})
	}
	out.name()
	return out
}

func (c *Copying) name() {
	c.Limit = CopyingRisk / float64(max(len(c.Pairs), 1))
	for i := range c.Pairs {
		c.Pairs[i].Named = c.Pairs[i].Tail < c.Limit
	}
	slices.SortFunc(c.Pairs, func(x, y CopyingPair) int {
		return cmp.Or(cmp.Compare(x.Tail, y.Tail), cmp.Compare(x.A+x.B, y.A+y.B))
	})
}

// lookers are those who looked at what somebody else had recorded, one report each, in the order of persons.
func (it item) lookers() []said {
	looked := it.heldBy(LooksBlind, false)
	for _, s := range it.heldBy(LooksShown, false) {
		if !slices.ContainsFunc(looked, func(b said) bool { return b.person == s.person }) {
			looked = append(looked, s)
		}
	}
	slices.SortFunc(looked, func(a, b said) int { return cmp.Compare(a.person, b.person) })
	return slices.DeleteFunc(looked, func(s said) bool { return it.recordedBy(s.person) })
}

func (it item) recordedBy(person string) bool {
	return slices.ContainsFunc(it.said, func(s said) bool {
		return s.person == person && s.report.Kind == confidence.Stated && !s.report.Blind
	})
}

// blindBy says whether a person looked blind: then a verdict of theirs is no second look.
func (it item) blindBy(person string) bool {
	return slices.ContainsFunc(it.said, func(s said) bool { return s.person == person && s.report.Blind })
}

func departure(j *judgement.Judge, it *item, r *review.Reliability, recorded int, a, b said) confidence.Departure {
	region := j.Tables().Characters[it.character].Region
	d := confidence.Departure{Character: j.Character(it.character), Prior: it.prior, Recorded: it.said[recorded].report.State,
		First: readingOf(r, a, region), Second: readingOf(r, b, region)}
	for _, s := range it.said {
		if s.person == a.person || s.person == b.person || s.report.Kind != confidence.Stated && it.blindBy(s.person) {
			continue
		}
		d.Others = append(d.Others, reportOf(r, s, region))
	}
	return d
}

// readingOf is what somebody holds to be true, with how far that can be relied on.
func readingOf(r *review.Reliability, s said, region string) confidence.Reading {
	reading := confidence.Reading{State: s.held(), Reader: readerOf(r, s, region), Accuracy: r.Accuracy(s.person, s.role, region)}
	if !s.report.Blind {
		reading.Anchoring = r.Anchoring(s.person, s.role)
	}
	return reading
}

func reportOf(r *review.Reliability, s said, region string) confidence.Report {
	report := confidence.Report{Kind: s.report.Kind, State: s.report.State, Better: s.report.Better, Reader: readerOf(r, s, region), Accuracy: s.report.Fixed}
	if report.Accuracy == 0 {
		report.Accuracy = r.Accuracy(s.person, s.role, region)
	}
	if report.Kind != confidence.Stated {
		report.Anchoring = r.Anchoring(s.person, s.role)
	}
	return report
}

// readerOf is as what somebody reads, on a region, as an index of roles.
func readerOf(r *review.Reliability, s said, region string) int {
	if r.Reader(s.person, s.role, region) == judgement.Member {
		return roleIndex(review.RoleMember)
	}
	return roleIndex(review.RoleReviewer)
}
