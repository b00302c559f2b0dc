package judgement

import (
	"math"
	"slices"
	"strconv"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// ContradictionKind is what is wrong with an observation beside the proposed family.
type ContradictionKind string

const (
	// Excluded: the state never occurs in the proposed family.
	Excluded ContradictionKind = "excluded"
	// Incompatible: two stated characters cannot both be true of one specimen, whatever the family.
	Incompatible ContradictionKind = "incompatible"
	// Combination: each state occurs, but in no form of the family together.
	Combination ContradictionKind = "combination"
	// BetterFit: another family explains the same observations better.
	BetterFit ContradictionKind = "better-fit"
	// Unusual: the state occurs rarely in the proposed family.
	Unusual ContradictionKind = "unusual"
	// Unseen: no photo shows a view in which the character can be seen.
	Unseen ContradictionKind = "unseen"
)

// ContradictionKinds are all of them, the gravest first.
var ContradictionKinds = []ContradictionKind{Excluded, Incompatible, Combination, BetterFit, Unusual, Unseen}

// Contradiction is a flag. It is found apart from the confidence and does not change it. Its words are made where it is read, of its
// codes and of the tables that the assessment names.
type Contradiction struct {
	Kind      ContradictionKind `json:"kind"`
	Character string            `json:"character"`
	State     string            `json:"state"`
	// Family is the proposed one, "" where none is; for BetterFit the rival.
	Family string `json:"family"`
	// Reason and Resolve, what would settle it, are words of assessments of a time that stored them. The API fills them in.
	Reason  string `json:"reason,omitempty" doc:"Why, in the language of Accept-Language or else of the caller"`
	Source  string `json:"source" doc:"Citation"`
	Resolve string `json:"resolve,omitempty" doc:"What would settle it, in the same language"`
	// With are the other states of a Combination or Incompatible pair.
	With []Selected `json:"with,omitempty" doc:"The other states of a combination or of an incompatible pair"`
	// Rule is that of the tables which an Incompatible pair breaks.
	Rule string `json:"rule,omitempty" doc:"Of an incompatible pair: the id of the rule of the tables that it breaks"`
	// Decibans are by how much a BetterFit explains better what was stated, and Plainly says that its character is what shows that most
	// plainly; otherwise it tells most.
	Decibans int  `json:"decibans,omitempty" doc:"Of a better fit: by how many decibans it explains better what was stated"`
	Plainly  bool `json:"plainly,omitempty" doc:"Of a better fit: the character shows it most plainly, while another one weighs more"`
}

// Selected is a character with a state.
type Selected struct {
	Character string `json:"character"`
	State     string `json:"state"`
}

const (
	// unusualShare is the share of a family up to which a state is unusual in it.
	unusualShare = 0.03
	// unusualLength is the same for lengths, which count as unusual about three standard deviations from the middle: the
	// largest common species of a family is no reason to doubt its name.
	unusualLength = 0.003
	// lengthSlack is allowed beyond the extremes of a length, for measuring.
	lengthSlack = 0.1
)

// contradictions adds all kinds, each in the order of the characters. photos says whether there are any to ask for views.
func (j *Judge) contradictions(out []Contradiction, s *scratch, photos bool) []Contradiction {
	s.found, s.unusual = s.found[:0], s.unusual[:0]
	proposed := s.gathered.family != nil
	if proposed {
		j.improbable(s)
	}
	j.incompatible(s)
	if proposed {
		j.combination(s)
		j.betterFit(s)
	}
	s.found = append(s.found, s.unusual...)
	if photos {
		j.unseen(s)
	}
	return append(slices.Grow(out, len(s.found)), s.found...)
}

func (g *gathered) familyName() string {
	if g.family == nil {
		return ""
	}
	return g.family.Name
}

// formsOf are the forms of the proposed family that the specimen can have.
func (j *Judge) formsOf(g *gathered) []indexedForm { return j.index.families[g.hypothesis].fit[g.sex] }

// improbable sorts the findings into what the proposed family never shows and what it shows rarely.
func (j *Judge) improbable(s *scratch) {
	g := &s.gathered
	forms := j.formsOf(g)
	for i := range g.findings {
		f := &g.findings[i]
		share, known := f.share(forms)
		if !known || share > f.limit() {
			continue
		}
		c := Contradiction{Kind: Unusual, Character: f.Character.ID, State: f.ID, Family: g.family.Name, Source: forms[0].cells[f.Index].source}
		if share > 0 || f.Character.NeverExcludes {
			s.unusual = append(s.unusual, c)
			continue
		}
		c.Kind = Excluded
		s.found = append(s.found, c)
	}
}

// share is how much of the forms shows the finding, and false where one of them has no cell. Of a length it is the part
// of the forms that is at least as far out, on either side.
func (f *Finding) share(forms []indexedForm) (share float64, known bool) {
	for i := range forms {
		cell := forms[i].cells[f.Index].Cell
		if cell == nil {
			return 0, false
		}
		share += forms[i].weight * f.probability(cell)
	}
	return share, true
}

func (f *Finding) probability(cell *diagnosis.Cell) float64 {
	if f.Character.Kind != diagnosis.KindLength {
		return cell.P[f.State]
	}
	if !within(f.Length, cell.Length) {
		return 0
	}
	below := confidence.LengthBelow(f.Length, cell.Length.Usual[0], cell.Length.Usual[1])
	const some = 1e-9 // within the extremes it does occur, however narrow the usual range
	return max(2*min(below, 1-below), some)
}

// within says whether a length lies between the extremes of a cell, with what measuring is allowed.
func within(length float64, l diagnosis.Length) bool {
	return length >= l.Min*(1-lengthSlack) && length <= l.Max*(1+lengthSlack)
}

// Occurs says whether a form shows a state at all, as contradictions take it; one without a cell may show any.
func Occurs(form *diagnosis.Form, c *diagnosis.Character, state string) bool {
	cell := form.Cells[c.ID]
	if cell == nil {
		return true
	}
	if c.Kind == diagnosis.KindLength {
		length, err := strconv.ParseFloat(state, 64)
		return err == nil && within(length, cell.Length)
	}
	i := c.State(state)
	return i >= 0 && cell.P[i] > 0
}

// limit is the share up to which the finding is unusual.
func (f *Finding) limit() float64 {
	if f.Character.Kind == diagnosis.KindLength {
		return unusualLength
	}
	return unusualShare
}

// asCommon is the part of the commonest state's share from which on another one is as common for people.
const asCommon = 0.8

// Often is how clearly the states of Usual stand before others.
type Often string

const (
	Mostly    Often = "mostly"     // one state, with more than half
	MostOften Often = "most-often" // one state, with less
	Equally   Often = "equally"    // two or three states, about equally often
	Several   Often = "several"    // more than three, which are not named
)

// Usual is what forms mostly show of a character with states or a count: their positions, in the order of the tables.
func Usual(c *diagnosis.Character, forms []diagnosis.Form) (states []int, how Often) {
	shares := make([]float64, len(c.States))
	for i := range forms {
		if cell := forms[i].Cells[c.ID]; cell != nil {
			for state := range shares {
				shares[state] += forms[i].Weight * cell.P[state]
			}
		}
	}
	most := slices.Max(shares)
	for state, share := range shares {
		if share >= asCommon*most {
			states = append(states, state)
		}
	}
	switch {
	case len(states) > 3:
		return states, Several
	case len(states) > 1:
		return states, Equally
	case most > 0.5:
		return states, Mostly
	}
	return states, MostOften
}

func (j *Judge) unseen(s *scratch) {
	g := &s.gathered
	for _, f := range g.findings {
		if j.shown(s, f.Index) {
			continue
		}
		s.found = append(s.found, Contradiction{Kind: Unseen, Character: f.Character.ID, State: f.ID, Family: g.familyName(), Source: j.index.definition})
	}
}

// closeToFirst is how probable a rival must be, in shares of the most probable hypothesis, to be named at all: a fifth, or 7
// decibans. Assumed, no source: with less room, look-alikes among the stored cases would stand under a wrong name
// without a flag, where several families share what is left of the doubt.
const closeToFirst = 0.2

// betterFit is the most probable rival whose likelihood beats that of the proposed family by the stated margin, if it leads or
// comes close.
func (j *Judge) betterFit(s *scratch) {
	g, p := &s.gathered, &s.posterior
	if len(p.Seen) == 0 {
		return
	}
	most := slices.Max(p.P)
	if p.P[g.hypothesis] >= most {
		return // nothing leads over the name
	}
	p.Complete()
	rival, margin, least := -1, 0.0, closeToFirst*most
	for h := range j.tables.Families {
		d := confidence.Decibans(p.LogLikelihood[h] - p.LogLikelihood[g.hypothesis])
		if p.P[h] >= least && p.P[h] > p.P[g.hypothesis] && d >= j.tables.Group.BetterFitDecibans && (rival < 0 || p.P[h] > p.P[rival]) {
			rival, margin = h, d
		}
	}
	if rival < 0 {
		return
	}
	f, plainly := j.named(s, rival)
	s.found = append(s.found, Contradiction{Kind: BetterFit, Character: f.Character.ID, State: f.ID, Family: j.index.names[rival],
		Source: j.sourceIn(j.index.families[rival].forms, f.Index), Decibans: int(math.RoundToEven(margin)), Plainly: plainly})
}

// nearlyMost is the part of the largest weight from which on a character may be named for a rival: a person names what
// strikes the eye, not what the sum owes most to. Assumed, no source.
const nearlyMost = 1.0 / 3

// named is the finding that a person would name for a rival against the proposed family, and whether it only tells most plainly. Of those
// that tell at least nearlyMost as much as the one that tells most, it is what the proposed family never shows, then
// what is asked first, then a choice before a count and a count before a length, then what tells most.
func (j *Judge) named(s *scratch, rival int) (f *Finding, plainly bool) {
	s.posterior.FillWhy(&s.weights, rival, s.gathered.hypothesis)
	most := slices.Max(s.weights.Characters)
	best, rank, weight := -1, 0, 0.0
	for i, w := range s.weights.Characters {
		if w < nearlyMost*most && w < most {
			continue
		}
		at := s.findingOf(s.posterior.Seen[i])
		if r := j.strikes(s, at); best < 0 || r > rank || r == rank && w > weight {
			best, rank, weight = at, r, w
		}
	}
	return &s.gathered.findings[best], weight < most
}

// findingOf is the position of the first finding of a seen character.
func (s *scratch) findingOf(character int) int {
	return slices.IndexFunc(s.gathered.findings, func(f Finding) bool { return f.Index == character })
}

// strikes ranks a finding by how soon a person would name it against the proposed family.
func (j *Judge) strikes(s *scratch, at int) int {
	f := &s.gathered.findings[at]
	rank := 0
	switch f.Character.Kind {
	case diagnosis.KindStates:
		rank = 2
	case diagnosis.KindCount:
		rank = 1
	}
	if f.Character.AskFirst {
		rank += 3
	}
	if share, known := f.share(j.formsOf(&s.gathered)); known && share == 0 && !f.Character.NeverExcludes {
		rank += 6
	}
	return rank
}

// sourceIn cites the first form that has the character.
func (j *Judge) sourceIn(forms []indexedForm, character int) string {
	for i := range forms {
		if cell := forms[i].cells[character]; cell.Cell != nil {
			return cell.source
		}
	}
	return j.index.definition
}
