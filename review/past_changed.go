package review

import (
	"slices"

	"revidit/review/judgement"
)

// Pictured is what is compared of a submission at a moment. Assessment is nil where there was none.
type Pictured struct {
	Submission *Submission
	Specimen   *Specimen
	Assessment *judgement.Assessment
}

// Changed is what is another thing at the later of two moments.
type Changed struct {
	Status        *Pair[Status]        `json:"status,omitempty"`
	Determination *Pair[Determination] `json:"determination,omitempty"`
	Label         *Pair[Label]         `json:"label,omitempty"`
	// Stated are observations that were cited since, TakenBack those that were taken back.
	Stated    []Observation `json:"stated" nullable:"false"`
	TakenBack []Observation `json:"taken_back" nullable:"false"`
	// Verdicts and Opinions are those given since; Before is empty where the person had given none.
	Verdicts []Pair[Verdict] `json:"verdicts" nullable:"false" doc:"Given since, each with the person's former one, whose kind is empty where there was none"`
	Opinions []Pair[Opinion] `json:"opinions" nullable:"false" doc:"Given since, each with the person's former one, whose person is empty where there was none"`
	// Appeared and Resolved are contradictions that only the later or only the earlier moment has.
	Appeared []judgement.Contradiction `json:"appeared" nullable:"false"`
	Resolved []judgement.Contradiction `json:"resolved" nullable:"false"`
	// Assessment is how sure the name was, where it moved or was made by other versions.
	Assessment *Pair[Number] `json:"assessment,omitempty"`
}

// Pair is something before and after.
type Pair[T any] struct {
	Before T `json:"before"`
	After  T `json:"after"`
}

// Number is how sure a name is, with what it was made by.
type Number struct {
	Family      string  `json:"family"`
	Confidence  float64 `json:"confidence"`
	Leads       string  `json:"leads" doc:"The most probable family"`
	Release     string  `json:"release"`
	TablesHash  string  `json:"tables_hash"`
	Method      string  `json:"method"`
	Reliability int     `json:"reliability"`
	Policy      int     `json:"policy"`
}

// NumberOf is how sure an assessment says that a name is; the zero value of none.
func NumberOf(a *judgement.Assessment) Number {
	if a == nil {
		return Number{}
	}
	return Number{Family: a.Family, Confidence: a.Confidence, Leads: a.Leads(), Release: a.Release, TablesHash: a.TablesHash, Method: a.MadeBy(),
		Reliability: a.Reliability, Policy: a.Policy}
}

// Nothing says whether nothing is another thing.
func (c *Changed) Nothing() bool {
	return c.Status == nil && c.Determination == nil && c.Label == nil && c.Assessment == nil &&
		len(c.Stated)+len(c.TakenBack)+len(c.Verdicts)+len(c.Opinions)+len(c.Appeared)+len(c.Resolved) == 0
}

// ChangedBetween compares a submission at two moments, the earlier first.
func ChangedBetween(a, b Pictured) Changed {
	was, is := a.standing(), b.standing()
	c := Changed{
		Status:        pairOf(a.Submission.Status, b.Submission.Status),
		Determination: pairOf(a.Submission.Determination, b.Submission.Determination),
		Label:         pairOf(a.Specimen.Label, b.Specimen.Label),
		Stated:        without(is, was, sameObservation), TakenBack: without(was, is, sameObservation),
		Verdicts: given(a.Submission.Verdicts, b.Submission.Verdicts, func(x, y Verdict) bool { return x.By == y.By && x.Observation == y.Observation }),
		Opinions: given(a.Submission.Opinions, b.Submission.Opinions, func(x, y Opinion) bool { return x.By == y.By }),
		Appeared: without(b.contradictions(), a.contradictions(), judgement.Contradiction.Same),
		Resolved: without(a.contradictions(), b.contradictions(), judgement.Contradiction.Same),
	}
	c.Assessment = pairOf(NumberOf(a.Assessment), NumberOf(b.Assessment))
	return c
}

// standing are the cited observations that nobody has taken back.
func (p Pictured) standing() []Observation {
	return slices.DeleteFunc(slices.Clone(p.Specimen.Observations), func(o Observation) bool {
		return o.Withdrawn != "" || !slices.Contains(p.Submission.Cites, o.ID)
	})
}

func (p Pictured) contradictions() []judgement.Contradiction {
	if p.Assessment == nil {
		return nil
	}
	return p.Assessment.Contradictions
}

func sameObservation(a, b Observation) bool { return a.ID == b.ID }

// pairOf is nil where both are the same.
func pairOf[T comparable](before, after T) *Pair[T] {
	if before == after {
		return nil
	}
	return &Pair[T]{before, after}
}

// without are those of some that are not among others.
func without[T any](some, others []T, same func(a, b T) bool) []T {
	left := []T{}
	for _, x := range some {
		if !slices.ContainsFunc(others, func(y T) bool { return same(x, y) }) {
			left = append(left, x)
		}
	}
	return left
}

// given are those that are new or other ones, each with the one that it took the place of.
func given[T comparable](before, after []T, same func(a, b T) bool) []Pair[T] {
	pairs := []Pair[T]{}
	for _, x := range after {
		i := slices.IndexFunc(before, func(y T) bool { return same(x, y) })
		switch {
		case i < 0:
			pairs = append(pairs, Pair[T]{After: x})
		case before[i] != x:
			pairs = append(pairs, Pair[T]{before[i], x})
		}
	}
	return pairs
}
