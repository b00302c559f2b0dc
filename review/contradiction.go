package review

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

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

// contradictions lists all kinds, each in the order of the characters.
func (j *Judge) contradictions(g *gathered, views []string, p *confidence.Posterior) []Contradiction {
	var excluded, unusual []Contradiction
	if g.family != nil {
		excluded, unusual = j.improbable(g)
	}
	found := append([]Contradiction{}, excluded...)
	found = append(found, j.incompatible(g)...)
	if g.family != nil {
		found = append(found, j.combination(g)...)
		found = append(found, j.betterFit(g, p)...)
	}
	found = append(found, unusual...)
	if views != nil {
		found = append(found, j.unseen(g, views)...)
	}
	return found
}

func (g *gathered) familyName() string {
	if g.family == nil {
		return ""
	}
	return g.family.Name
}

// improbable sorts the findings into what the proposed family never shows and what it shows rarely.
func (j *Judge) improbable(g *gathered) (excluded, unusual []Contradiction) {
	forms := formsOf(g.family, g.sex)
	for _, f := range g.findings {
		share, known := f.share(forms)
		if !known || share > f.limit() {
			continue
		}
		c := Contradiction{Kind: Unusual, Character: f.character.ID, State: f.id, Family: g.family.Name,
			Source: j.source(forms[0].Cells[f.character.ID]), Resolve: j.lookAgain(f.character)}
		if share > 0 || f.character.NeverExcludes {
			c.Reason = j.reason(f, g.family.Name, forms, "rarely")
			unusual = append(unusual, c)
			continue
		}
		c.Kind = Excluded
		c.Reason = j.reason(f, g.family.Name, forms, "never")
		excluded = append(excluded, c)
	}
	return excluded, unusual
}

// formsOf are the forms that a specimen of that sex can have, with weights that sum to 1: all where the family is
// known from the other sex only.
func formsOf(family *diagnosis.Family, sex string) []diagnosis.Form {
	var forms []diagnosis.Form
	sum := 0.0
	for _, f := range family.Forms {
		if sex == "" || f.Sex == "" || f.Sex == sex {
			forms = append(forms, f)
			sum += f.Weight
		}
	}
	if len(forms) == 0 {
		return family.Forms
	}
	for i := range forms {
		forms[i].Weight /= sum
	}
	return forms
}

// share is how much of the forms shows the finding, and false where one of them has no cell. Of a length it is the part
// of the forms that is at least as far out, on either side.
func (f finding) share(forms []diagnosis.Form) (share float64, known bool) {
	for i := range forms {
		cell := forms[i].Cells[f.character.ID]
		if cell == nil {
			return 0, false
		}
		share += forms[i].Weight * f.probability(cell)
	}
	return share, true
}

func (f finding) probability(cell *diagnosis.Cell) float64 {
	if f.character.Kind != diagnosis.KindLength {
		return cell.P[f.state]
	}
	l := cell.Length
	if f.length < l.Min*(1-lengthSlack) || f.length > l.Max*(1+lengthSlack) {
		return 0
	}
	below := confidence.LengthBelow(f.length, l.Usual[0], l.Usual[1])
	const some = 1e-9 // within the extremes it does occur, however narrow the usual range
	return max(2*min(below, 1-below), some)
}

// limit is the share up to which the finding is unusual.
func (f finding) limit() float64 {
	if f.character.Kind == diagnosis.KindLength {
		return unusualLength
	}
	return unusualShare
}

func (f finding) words() string {
	if f.character.Kind != diagnosis.KindStates {
		return f.id
	}
	return "“" + f.character.States[f.state].Label + "”"
}

func (j *Judge) reason(f finding, family string, forms []diagnosis.Form, how string) string {
	if f.character.Kind == diagnosis.KindLength {
		shortest, longest := lengthRange(forms, f.character.ID)
		return fmt.Sprintf("%s of %s mm occurs %s in %s, whose species measure %.3g to %.3g mm.",
			f.character.Label, f.id, how, family, shortest, longest)
	}
	return fmt.Sprintf("%s %s occurs %s in %s; there it is mostly %s.",
		f.character.Label, f.words(), how, family, usual(f.character, forms))
}

func lengthRange(forms []diagnosis.Form, character string) (shortest, longest float64) {
	shortest, longest = forms[0].Cells[character].Length.Min, forms[0].Cells[character].Length.Max
	for _, form := range forms {
		shortest = min(shortest, form.Cells[character].Length.Min)
		longest = max(longest, form.Cells[character].Length.Max)
	}
	return shortest, longest
}

// usual is the commonest state over the forms.
func usual(c *diagnosis.Character, forms []diagnosis.Form) string {
	best, most := 0, -1.0
	for s := range c.States {
		share := 0.0
		for i := range forms {
			if cell := forms[i].Cells[c.ID]; cell != nil {
				share += forms[i].Weight * cell.P[s]
			}
		}
		if share > most {
			best, most = s, share
		}
	}
	return finding{character: c, state: best, id: c.States[best].ID}.words()
}

// source puts the citation of a cell into words.
func (j *Judge) source(cell *diagnosis.Cell) string {
	work, ok := j.tables.Source(cell.Citation.Source)
	if !ok {
		return cell.Citation.Source
	}
	text := strings.TrimSuffix(work.Citation, ".")
	if cell.Citation.Place != "" {
		text += ", " + cell.Citation.Place
	}
	if cell.Citation.Basis == diagnosis.BasisMemory {
		return text + " (cited from memory)"
	}
	return text
}

// definition is the source of what follows from the meaning of the characters themselves.
func (j *Judge) definition() string {
	return "Definitions of the characters, tables " + j.tables.Group.ID + " " + j.tables.Group.Release
}

func (j *Judge) lookAgain(c *diagnosis.Character) string {
	return "Look again at “" + c.Label + "”. " + c.How + j.shownBy(c)
}

func (j *Judge) shownBy(c *diagnosis.Character) string {
	var labels []string
	for _, v := range j.tables.Group.Views {
		if slices.Contains(c.Views, v.ID) {
			labels = append(labels, v.Label)
		}
	}
	if len(labels) == 0 {
		return ""
	}
	return " Photos that can show it: " + strings.Join(labels, "; ") + "."
}

func (j *Judge) unseen(g *gathered, views []string) []Contradiction {
	var found []Contradiction
	for _, f := range g.findings {
		if shown(f.character.Views, views) {
			continue
		}
		found = append(found, Contradiction{Kind: Unseen, Character: f.character.ID, State: f.id, Family: g.familyName(),
			Reason:  "No photo at hand shows a view in which “" + f.character.Label + "” can be seen.",
			Source:  j.definition(),
			Resolve: "Add a photo, or have the specimen itself looked at." + j.shownBy(f.character)})
	}
	return found
}

// betterFit is the most probable rival whose likelihood beats that of the proposed family by the stated margin.
func (j *Judge) betterFit(g *gathered, p *confidence.Posterior) []Contradiction {
	if len(p.Seen) == 0 {
		return nil
	}
	proposed := j.tables.FamilyIndex(g.family.Name)
	rival, margin := -1, 0.0
	for h := range j.tables.Families {
		d := confidence.Decibans(p.LogLikelihood[h] - p.LogLikelihood[proposed])
		if p.P[h] > p.P[proposed] && d >= j.tables.Group.BetterFitDecibans && (rival < 0 || p.P[h] > p.P[rival]) {
			rival, margin = h, d
		}
	}
	if rival < 0 {
		return nil
	}
	f := j.mostTelling(g, p, rival, proposed)
	family := &j.tables.Families[rival]
	return []Contradiction{{Kind: BetterFit, Character: f.character.ID, State: f.id, Family: family.Name,
		Reason: fmt.Sprintf("%s explains what was stated better than %s, by %.0f decibans; %s %s tells most.",
			family.Name, g.family.Name, margin, f.character.Label, f.words()),
		Source:  j.sourceIn(family, f.character.ID),
		Resolve: j.lookAgain(f.character)}}
}

// mostTelling is the finding that moves the odds most from one family to the other.
func (j *Judge) mostTelling(g *gathered, p *confidence.Posterior, rival, proposed int) finding {
	weights := p.Why(rival, proposed).Characters
	best := 0
	for i, w := range weights {
		if w > weights[best] {
			best = i
		}
	}
	i := slices.IndexFunc(g.findings, func(f finding) bool { return f.index == p.Seen[best] })
	return g.findings[i]
}

// sourceIn cites the first form that has the character.
func (j *Judge) sourceIn(family *diagnosis.Family, character string) string {
	for i := range family.Forms {
		if cell := family.Forms[i].Cells[character]; cell != nil {
			return j.source(cell)
		}
	}
	return j.definition()
}

// incompatible compares the findings with the rules that hold whatever the family.
func (j *Judge) incompatible(g *gathered) []Contradiction {
	var found []Contradiction
	for _, rule := range j.tables.Incompatible {
		for _, a := range g.findings {
			for _, b := range g.findings {
				if a.in(rule.First) && b.in(rule.Second) {
					found = append(found, j.clash(g, a, b, rule.Because))
				}
			}
		}
	}
	for _, rule := range j.tables.AtMost {
		for _, a := range g.findings {
			for _, b := range g.findings {
				if a.character.ID == rule.Less && b.character.ID == rule.More && a.count() > b.count() {
					found = append(found, j.clash(g, a, b, rule.Because))
				}
			}
		}
	}
	slices.SortStableFunc(found, func(a, b Contradiction) int {
		return cmp.Compare(j.tables.CharacterIndex(a.Character), j.tables.CharacterIndex(b.Character))
	})
	return found
}

func (f finding) in(s diagnosis.Selection) bool {
	return f.character.ID == s.Character && slices.Contains(s.States, f.id)
}

// count is the number that a count character states.
func (f finding) count() int { return int(f.character.Min) + f.state }

func (j *Judge) clash(g *gathered, a, b finding, because string) Contradiction {
	return Contradiction{Kind: Incompatible, Character: a.character.ID, State: a.id, Family: g.familyName(),
		With: []Selected{{b.character.ID, b.id}},
		Reason: fmt.Sprintf("%s %s and %s %s cannot both be true: %s.",
			a.character.Label, a.words(), b.character.Label, b.words(), because),
		Source:  j.definition(),
		Resolve: fmt.Sprintf("One of the two is misread. %s %s", j.lookAgain(a.character), j.lookAgain(b.character))}
}
