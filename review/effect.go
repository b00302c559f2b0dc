package review

import (
	"fmt"
	"math"
	"slices"

	"revidit/review/judgement"
)

// Effect is what other tables would do to the determinations that stand: computed before anybody decides.
type Effect struct {
	Looked  int        `json:"looked"`  // determinations that were assessed with both tables
	Changed int        `json:"changed"` // of them, those in List
	InDoubt int        `json:"in_doubt"`
	List    []Affected `json:"list"` // those put in doubt first, then the largest changes; at most maxAffected
	// Policy and Reliability are the versions that it was weighed by.
	Policy      int `json:"policy"`
	Reliability int `json:"reliability"`
	Dated
}

// Affected is a determination that other tables would judge otherwise.
type Affected struct {
	Submission      string  `json:"submission"`
	CatalogueNumber string  `json:"catalogue_number"`
	Family          string  `json:"family"`
	Status          Status  `json:"status"`
	Before          float64 `json:"before"` // confidence
	After           float64 `json:"after"`
	// Doubts say why a standing determination would be in doubt; empty where it only changes.
	Doubts []string `json:"doubts"`
	// Gone and New are contradictions, in words.
	Gone []string `json:"gone"`
	New  []string `json:"new"`
}

const (
	// maxAffected bounds the list that a page shows; the counts are of all.
	maxAffected = 500
)

// Compare assesses one determination with the tables in force and with others, and says whether they judge otherwise.
func (now *Dossier) Compare(present, other *judgement.Judge) (Affected, bool) {
	s, policy := now.Submission, now.Policy
	before := now.weighing(present).Assess(present, s, now.Specimen, now.Siblings)
	after := now.weighing(other).Assess(other, s, now.Specimen, now.Siblings)
	d := judgement.DifferenceOf(before, after)
	a := Affected{Submission: s.ID, CatalogueNumber: now.Specimen.Label.CatalogueNumber, Family: s.Determination.Family, Status: s.Status,
		Before: before.Confidence, After: after.Confidence, Doubts: doubts(other, policy, before, after), Gone: d.Gone, New: d.New}
	return a, d.Noticeable || len(a.Doubts) > 0
}

func doubts(other *judgement.Judge, policy Policy, before, after judgement.Assessment) []string {
	found := []string{}
	if _, ok := other.Tables().Family(after.Family); !ok {
		return append(found, "the tables would have no family "+after.Family)
	}
	if before.Confidence >= policy.Confidence && after.Confidence < policy.Confidence {
		found = append(found, fmt.Sprintf("the confidence would fall from %.3f to %.3f, below the policy's %.3f",
			before.Confidence, roundDown(after.Confidence), policy.Confidence))
	}
	if before.Leads() == before.Family && after.Leads() != after.Family {
		found = append(found, after.Leads()+" would lead")
	}
	for _, c := range after.Contradictions {
		if policy.stops(c.Kind) && !slices.ContainsFunc(before.Contradictions, c.Same) {
			found = append(found, fmt.Sprintf("%s would be %s", c.Character, c.Kind))
		}
	}
	return found
}

// Add takes in one determination. What is kept of them has a bound.
func (e *Effect) Add(a Affected) {
	e.Changed++
	if len(a.Doubts) > 0 {
		e.InDoubt++
	}
	e.List = append(e.List, a)
	if len(e.List) >= 2*maxAffected {
		e.Finish()
	}
}

// Finish orders the list and cuts it to what a page can show.
func (e *Effect) Finish() {
	slices.SortStableFunc(e.List, func(a, b Affected) int {
		if d := len(b.Doubts) - len(a.Doubts); d != 0 {
			return d
		}
		return compareFloat(math.Abs(b.Before-b.After), math.Abs(a.Before-a.After))
	})
	if len(e.List) > maxAffected {
		e.List = e.List[:maxAffected]
	}
}

func compareFloat(a, b float64) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}
