package review

import (
	"fmt"
	"math"
	"slices"
)

// Effect is what other tables would do to the determinations that stand: computed before anybody decides.
type Effect struct {
	Looked  int        `json:"looked"`  // determinations that were assessed with both tables
	Changed int        `json:"changed"` // of them, those in List
	InDoubt int        `json:"in_doubt"`
	List    []Affected `json:"list"` // those put in doubt first, then the largest changes; at most maxAffected
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
	// noticeable is the change of a confidence below which it is left out: a thousandth changes no decision.
	noticeable = 0.001
)

// compare assesses one determination with the tables in force and with others.
func compare(present, other *Judge, now *situation) (Affected, bool) {
	s, policy := now.submission, now.policy
	before := now.weighing().assess(present, s, now.specimen, now.siblings)
	after := now.weighing().assess(other, s, now.specimen, now.siblings)
	a := Affected{Submission: s.ID, CatalogueNumber: now.specimen.Label.CatalogueNumber, Family: s.Determination.Family, Status: s.Status,
		Before: before.Confidence, After: after.Confidence, Doubts: []string{},
		Gone: missingFrom(before.Contradictions, after.Contradictions), New: missingFrom(after.Contradictions, before.Contradictions)}
	a.Doubts = doubts(other, policy, before, after)
	changed := len(a.Doubts)+len(a.Gone)+len(a.New) > 0 || math.Abs(a.Before-a.After) >= noticeable
	return a, changed
}

func doubts(other *Judge, policy Policy, before, after Assessment) []string {
	found := []string{}
	if _, ok := other.Tables().Family(after.Family); !ok {
		return append(found, "the tables would have no family "+after.Family)
	}
	if before.Confidence >= policy.Confidence && after.Confidence < policy.Confidence {
		found = append(found, fmt.Sprintf("the confidence would fall from %.3f to %.3f, below the policy's %.3f",
			before.Confidence, roundDown(after.Confidence), policy.Confidence))
	}
	if leads(before) == before.Family && leads(after) != after.Family {
		found = append(found, leads(after)+" would lead")
	}
	for _, c := range after.Contradictions {
		if policy.stops(c.Kind) && !slices.ContainsFunc(before.Contradictions, c.same) {
			found = append(found, fmt.Sprintf("%s would be %s", c.Character, c.Kind))
		}
	}
	return found
}

func leads(a Assessment) string {
	if len(a.Ranking) == 0 {
		return ""
	}
	return a.Ranking[0].Family
}

func (c Contradiction) same(other Contradiction) bool {
	return c.Kind == other.Kind && c.Character == other.Character && c.State == other.State
}

// missingFrom are the contradictions of some that stand not among others, in words.
func missingFrom(some, others []Contradiction) []string {
	words := []string{}
	for _, c := range some {
		if !slices.ContainsFunc(others, c.same) {
			words = append(words, fmt.Sprintf("%s: %s, %s", c.Kind, c.Character, c.State))
		}
	}
	return words
}

func (e *Effect) add(a Affected) {
	e.Changed++
	if len(a.Doubts) > 0 {
		e.InDoubt++
	}
	e.List = append(e.List, a)
}

// finish orders the list and cuts it to what a page can show.
func (e *Effect) finish() {
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
