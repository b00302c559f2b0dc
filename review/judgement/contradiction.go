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

// contradictions lists all kinds, each in the order of the characters. photos says whether there are any to ask for views.
func (j *Judge) contradictions(s *scratch, photos bool) []Contradiction {
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
	return append(make([]Contradiction, 0, len(s.found)), s.found...)
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
			c.Reason = j.reason(f, g.family.Name, forms, "rarely")
			s.unusual = append(s.unusual, c)
			continue
		}
		c.Kind = Excluded
		c.Reason = j.reason(f, g.family.Name, forms, "never")
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

// words of a finding for people.
func (j *Judge) words(f *Finding) string {
	if f.Character.Kind == diagnosis.KindLength {
		return f.ID
	}
	return j.index.characters[f.Index].states[f.State]
}

func (j *Judge) reason(f *Finding, family string, forms []indexedForm, how string) string {
	if f.Character.Kind == diagnosis.KindLength {
		var room [64]byte
		return f.Character.Label + " of " + f.ID + " mm occurs " + how + " in " + family + ", whose species measure " +
			string(appendRange(room[:0], forms, f.Index)) + " mm."
	}
	return f.Character.Label + " " + j.words(f) + " occurs " + how + " in " + family + "; there it is mostly " +
		j.index.characters[f.Index].states[f.usual(forms)] + "."
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

// usual is the commonest state over the forms.
func (f *Finding) usual(forms []indexedForm) int {
	best, most := 0, -1.0
	for s := range f.Character.States {
		share := 0.0
		for i := range forms {
			if cell := forms[i].cells[f.Index].Cell; cell != nil {
				share += forms[i].weight * cell.P[s]
			}
		}
		if share > most {
			best, most = s, share
		}
	}
	return best
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

// betterFit is the most probable rival whose likelihood beats that of the proposed family by the stated margin.
func (j *Judge) betterFit(s *scratch) {
	g, p := &s.gathered, &s.posterior
	if len(p.Seen) == 0 {
		return
	}
	rival, margin := -1, 0.0
	for h := range j.tables.Families {
		d := confidence.Decibans(p.LogLikelihood[h] - p.LogLikelihood[g.hypothesis])
		if p.P[h] > p.P[g.hypothesis] && d >= j.tables.Group.BetterFitDecibans && (rival < 0 || p.P[h] > p.P[rival]) {
			rival, margin = h, d
		}
	}
	if rival < 0 {
		return
	}
	f := s.mostTelling(rival)
	var room [32]byte
	decibans := strconv.AppendFloat(room[:0], margin, 'f', 0, 64)
	s.found = append(s.found, Contradiction{Kind: BetterFit, Character: f.Character.ID, State: f.ID, Family: j.index.names[rival],
		Reason: j.index.names[rival] + " explains what was stated better than " + g.family.Name + ", by " + string(decibans) +
			" decibans; " + f.Character.Label + " " + j.words(f) + " tells most.",
		Source:  j.sourceIn(j.index.families[rival].forms, f.Index),
		Resolve: j.index.characters[f.Index].lookAgain})
}

// mostTelling is the finding that moves the odds most from the proposed family to a rival.
func (s *scratch) mostTelling(rival int) *Finding {
	s.posterior.FillWhy(&s.weights, rival, s.gathered.hypothesis)
	best := 0
	for i, w := range s.weights.Characters {
		if w > s.weights.Characters[best] {
			best = i
		}
	}
	character := s.posterior.Seen[best]
	i := slices.IndexFunc(s.gathered.findings, func(f Finding) bool { return f.Index == character })
	return &s.gathered.findings[i]
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
