package judgement

import (
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

// Contradiction is a flag with a reason. It is found apart from the confidence and does not change it.
type Contradiction struct {
	Kind      ContradictionKind `json:"kind"`
	Character string            `json:"character"`
	State     string            `json:"state"`
	// Family is the proposed one, "" where none is; for BetterFit the rival.
	Family  string `json:"family"`
	Reason  string `json:"reason"`
	Source  string `json:"source"`
	Resolve string `json:"resolve"` // what would settle it
	// With are the other states of a Combination or Incompatible pair.
	With []Selected `json:"with,omitempty"`
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
		c := Contradiction{Kind: Unusual, Character: f.Character.ID, State: f.ID, Family: g.family.Name,
			Source: forms[0].cells[f.Index].source, Resolve: j.index.characters[f.Index].lookAgain}
		if share > 0 || f.Character.NeverExcludes {
			c.Reason = j.reason(s, f, forms, "rarely")
			s.unusual = append(s.unusual, c)
			continue
		}
		c.Kind = Excluded
		c.Reason = j.reason(s, f, forms, "never")
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
	l := cell.Length
	if f.Length < l.Min*(1-lengthSlack) || f.Length > l.Max*(1+lengthSlack) {
		return 0
	}
	below := confidence.LengthBelow(f.Length, l.Usual[0], l.Usual[1])
	const some = 1e-9 // within the extremes it does occur, however narrow the usual range
	return max(2*min(below, 1-below), some)
}

// limit is the share up to which the finding is unusual.
func (f *Finding) limit() float64 {
	if f.Character.Kind == diagnosis.KindLength {
		return unusualLength
	}
	return unusualShare
}

// appendFinding puts a finding into words: the label, and the state or the length with its unit.
func (j *Judge) appendFinding(text []byte, f *Finding) []byte {
	text = append(append(text, f.Character.Label...), ' ')
	if f.Character.Kind == diagnosis.KindLength {
		return append(append(append(text, "of "...), f.ID...), " mm"...)
	}
	return append(text, j.index.characters[f.Index].states[f.State]...)
}

func (j *Judge) reason(s *scratch, f *Finding, forms []indexedForm, how string) string {
	if s.brief {
		return ""
	}
	s.text = append(j.appendFinding(s.text[:0], f), " occurs "...)
	s.text = append(append(s.text, how...), " in "...)
	s.text = append(s.text, s.gathered.family.Name...)
	if f.Character.Kind == diagnosis.KindLength {
		s.text = appendRange(append(s.text, ", whose species measure "...), forms, f.Index)
		return string(append(s.text, " mm."...))
	}
	s.text = j.appendUsual(append(s.text, "; there it is "...), s, f, forms)
	return string(append(s.text, '.'))
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
	return usual(shares, slices.Max(shares), nil)
}

// usual appends to room the states that are about as common as the commonest, of which most is the share.
func usual(shares []float64, most float64, room []int) ([]int, Often) {
	for state, share := range shares {
		if share >= asCommon*most {
			room = append(room, state)
		}
	}
	switch {
	case len(room) > 3:
		return room, Several
	case len(room) > 1:
		return room, Equally
	case most > 0.5:
		return room, Mostly
	}
	return room, MostOften
}

// appendUsual says what the forms mostly show. States that are about equally common are named together, as far as there
// are three; "mostly" is said where one has more than half.
func (j *Judge) appendUsual(text []byte, s *scratch, f *Finding, forms []indexedForm) []byte {
	most := f.fillShares(s, forms)
	var how Often
	s.usual, how = usual(s.shares, most, s.usual[:0])
	s.words = s.words[:0]
	for _, state := range s.usual {
		s.words = append(s.words, j.index.characters[f.Index].states[state])
	}
	switch how {
	case Several:
		return append(text, "about equally often one of several others"...)
	case Equally:
		return appendList(append(text, "about equally often "...), s.words, " or ")
	case Mostly:
		text = append(text, "mostly "...)
	default:
		text = append(text, "most often "...)
	}
	return append(text, s.words[0]...)
}

// appendRange writes the shortest and longest of the forms, to three digits.
func appendRange(text []byte, forms []indexedForm, character int) []byte {
	shortest, longest := forms[0].cells[character].Length.Min, forms[0].cells[character].Length.Max
	for _, form := range forms {
		shortest = min(shortest, form.cells[character].Length.Min)
		longest = max(longest, form.cells[character].Length.Max)
	}
	text = append(strconv.AppendFloat(text, shortest, 'g', 3, 64), " to "...)
	return strconv.AppendFloat(text, longest, 'g', 3, 64)
}

// fillShares fills in the share of each state over the forms, and returns the largest.
func (f *Finding) fillShares(s *scratch, forms []indexedForm) (most float64) {
	s.shares = resized(s.shares, len(f.Character.States))
	for state := range s.shares {
		s.shares[state] = 0
		for i := range forms {
			if cell := forms[i].cells[f.Index].Cell; cell != nil {
				s.shares[state] += forms[i].weight * cell.P[state]
			}
		}
		most = max(most, s.shares[state])
	}
	return most
}

func (j *Judge) unseen(s *scratch) {
	g := &s.gathered
	for _, f := range g.findings {
		if j.shown(s, f.Index) {
			continue
		}
		words := &j.index.characters[f.Index]
		s.found = append(s.found, Contradiction{Kind: Unseen, Character: f.Character.ID, State: f.ID, Family: g.familyName(),
			Reason: words.unseen, Source: j.index.definition, Resolve: words.addPhoto})
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
	rival, margin, least := -1, 0.0, closeToFirst*slices.Max(p.P)
	for h := range j.tables.Families {
		d := confidence.Decibans(p.LogLikelihood[h] - p.LogLikelihood[g.hypothesis])
		if p.P[h] >= least && p.P[h] > p.P[g.hypothesis] && d >= j.tables.Group.BetterFitDecibans && (rival < 0 || p.P[h] > p.P[rival]) {
			rival, margin = h, d
		}
	}
	if rival < 0 {
		return
	}
	f, how := j.named(s, rival)
	c := Contradiction{Kind: BetterFit, Character: f.Character.ID, State: f.ID, Family: j.index.names[rival]}
	if s.brief {
		s.found = append(s.found, c)
		return
	}
	s.text = append(append(s.text[:0], j.index.names[rival]...), " explains what was stated better than "...)
	s.text = append(append(s.text, g.family.Name...), ", by "...)
	s.text = append(strconv.AppendFloat(s.text, margin, 'f', 0, 64), " decibans; "...)
	s.text = append(append(j.appendFinding(s.text, f), how...), '.')
	c.Reason, c.Source, c.Resolve = string(s.text), j.sourceIn(j.index.families[rival].forms, f.Index), j.index.characters[f.Index].lookAgain
	s.found = append(s.found, c)
}

// nearlyMost is the part of the largest weight from which on a character may be named for a rival: a person names what
// strikes the eye, not what the sum owes most to. Assumed, no source.
const nearlyMost = 1.0 / 3

// named is the finding that a person would name for a rival against the proposed family, and how it tells in words. Of those
// that tell at least nearlyMost as much as the one that tells most, it is what the proposed family never shows, then
// what is asked first, then a choice before a count and a count before a length, then what tells most.
func (j *Judge) named(s *scratch, rival int) (f *Finding, how string) {
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
	if how = " tells most"; weight < most {
		how = " is what tells most plainly"
	}
	return &s.gathered.findings[best], how
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
