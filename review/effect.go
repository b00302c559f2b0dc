package review

import (
	"math"
	"slices"
	"strconv"

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
	// Because says why a standing determination would be in doubt; empty where it only changes. Resolved and Appeared are
	// contradictions.
	Because  []Coded `json:"because,omitempty" doc:"Why it would be in doubt, as codes: doubt-no-family, doubt-fall, doubt-lead or doubt-contradiction"`
	Resolved []Coded `json:"resolved,omitempty" doc:"Contradictions that would go, as flag-state with kind, character and state"`
	Appeared []Coded `json:"appeared,omitempty" doc:"Contradictions that would come, as flag-state with kind, character and state"`
	// Doubts, Gone and New are the same in words, which the API fills in; what was found before there were codes holds them in English.
	Doubts []string `json:"doubts" doc:"because, in words"`
	Gone   []string `json:"gone" doc:"resolved, in words"`
	New    []string `json:"new" doc:"appeared, in words"`
}

// Doubted says how many reasons there are to doubt it.
func (a Affected) Doubted() int { return max(len(a.Because), len(a.Doubts)) }

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
		Before: before.Confidence, After: after.Confidence, Because: doubts(other, policy, before, after), Resolved: flags(d.Gone), Appeared: flags(d.New),
		Doubts: []string{}, Gone: []string{}, New: []string{}}
	return a, d.Noticeable || len(a.Because) > 0
}

func doubts(other *judgement.Judge, policy Policy, before, after judgement.Assessment) (found []Coded) {
	if _, ok := other.Tables().Family(after.Family); !ok {
		return append(found, Code("doubt-no-family", "family", after.Family))
	}
	if before.Confidence >= policy.Confidence && after.Confidence < policy.Confidence {
		found = append(found, Code("doubt-fall", "from", thousandths(before.Confidence), "to", thousandths(roundDown(after.Confidence)),
			"least", thousandths(policy.Confidence)))
	}
	if before.Leads() == before.Family && after.Leads() != after.Family {
		found = append(found, Code("doubt-lead", "hypothesis", after.Leads()))
	}
	for _, c := range after.Contradictions {
		if policy.stops(c.Kind) && !slices.ContainsFunc(before.Contradictions, c.Same) {
			found = append(found, Code("doubt-contradiction", "character", c.Character, "kind", string(c.Kind)))
		}
	}
	return found
}

func flags(contradictions []judgement.Contradiction) (all []Coded) {
	for _, c := range contradictions {
		all = append(all, Code("flag-state", "kind", string(c.Kind), "character", c.Character, "state", c.State))
	}
	return all
}

// thousandths writes a probability with three decimals.
func thousandths(p float64) string { return strconv.FormatFloat(p, 'f', 3, 64) }

// Add takes in one determination. What is kept of them has a bound.
func (e *Effect) Add(a Affected) {
	e.Changed++
	if a.Doubted() > 0 {
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
		if d := b.Doubted() - a.Doubted(); d != 0 {
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
