package judgement

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Separator is a character with what it tells between two families.
type Separator struct {
	Character string `json:"character"`
	// Bits that one look is expected to tell, from 0 to 1, where both families are equally likely and nothing else is
	// known: the whole question is one bit.
	Bits float64 `json:"bits"`
	// A and B say in words what is typical of each, as in "usually saw-like, sometimes thread-like"; notRecorded where
	// the tables do not say.
	A string `json:"a"`
	B string `json:"b"`
}

// Separating is what separates two families of the tables, the most telling character first: every character of the
// tables, with 0 bits where both families show the same or one of them has no cell for it in one of its forms. The look is a
// reviewer's (Taken.Look) at a dead specimen of unknown sex, with the errors that Assess reckons with. An old name
// stands for the family that holds it. It is an error where a name is unknown, and where both are one family.
func (j *Judge) Separating(a, b string) ([]Separator, error) {
	one, two, err := j.twoFamilies(a, b)
	if err != nil {
		return nil, err
	}
	return j.separators(j.careful(), one, two), nil
}

func (j *Judge) twoFamilies(a, b string) (one, two *diagnosis.Family, err error) {
	one, _, okA := j.tables.Resolve(a)
	two, _, okB := j.tables.Resolve(b)
	switch {
	case !okA:
		return nil, nil, fmt.Errorf("there is no family %q in the tables, nor an old name", a)
	case !okB:
		return nil, nil, fmt.Errorf("there is no family %q in the tables, nor an old name", b)
	case one == two:
		return nil, nil, fmt.Errorf("%s and %s are one family: choose two", a, b)
	}
	return one, two, nil
}

// careful is a look by a reviewer at every character, of a dead specimen.
func (j *Judge) careful() *confidence.Looks { return j.looking(Reviewer, j.taken.Look) }

// looking is a look at a dead specimen by a reader who names so many ordinary states right.
func (j *Judge) looking(as Reader, right float64) *confidence.Looks {
	accuracy := make([]float64, len(j.tables.Characters))
	silent := map[int][]int{}
	for i := range j.tables.Characters {
		accuracy[i] = right
		for _, state := range j.tables.Characters[i].OnlyLive {
			silent[i] = append(silent[i], j.tables.Characters[i].State(state))
		}
	}
	return j.model.Looks(as.index(), accuracy, silent)
}

func (j *Judge) separators(looks *confidence.Looks, one, two *diagnosis.Family) []Separator {
	a, b := j.tables.FamilyIndex(one.Name), j.tables.FamilyIndex(two.Name)
	list := make([]Separator, len(j.tables.Characters))
	for i := range list {
		c := &j.tables.Characters[i]
		list[i] = Separator{Character: c.ID, A: typical(one, c), B: typical(two, c)}
		if records(one, c.ID) && records(two, c.ID) {
			list[i].Bits = math.Round(looks.Bits(i, a, b)*1e6) / 1e6
		}
	}
	slices.SortStableFunc(list, func(x, y Separator) int { return cmp.Compare(y.Bits, x.Bits) })
	return list
}

// records says whether a family has a cell for a character in each of its forms.
func records(f *diagnosis.Family, character string) bool {
	return !slices.ContainsFunc(f.Forms, func(form diagnosis.Form) bool { return form.Cells[character] == nil })
}

const notRecorded = "not recorded"

// typicalShare is the least share of a family that a typical state has.
const typicalShare = 0.05

// typical says in words what a family shows in a character, over all its forms: states with at least typicalShare.
func typical(f *diagnosis.Family, c *diagnosis.Character) string {
	switch {
	case !records(f, c.ID):
		return notRecorded
	case c.Kind == diagnosis.KindLength:
		return typicalLength(f, c)
	}
	shares := make([]float64, len(c.States))
	for s := range c.States {
		shares[s], _ = f.Share(c.ID, s)
	}
	if c.Kind == diagnosis.KindCount {
		return typicalCount(c, shares)
	}
	return typicalStates(c, shares)
}

// typicalLength spans the middle nine tenths of every form.
func typicalLength(f *diagnosis.Family, c *diagnosis.Character) string {
	usual := f.Forms[0].Cells[c.ID].Length.Usual
	for _, form := range f.Forms {
		l := form.Cells[c.ID].Length.Usual
		usual[0], usual[1] = min(usual[0], l[0]), max(usual[1], l[1])
	}
	return fmt.Sprintf("usually %g to %g mm", usual[0], usual[1])
}

func typicalCount(c *diagnosis.Character, shares []float64) string {
	first, last, commonest := -1, -1, 0
	for s, p := range shares {
		if p > shares[commonest] {
			commonest = s
		}
		if p >= typicalShare && first < 0 {
			first = s
		}
		if p >= typicalShare {
			last = s
		}
	}
	often := HowOften(shares[commonest]) + " " + c.States[commonest].ID
	switch {
	case first < 0:
		return "no number is typical"
	case first == last:
		return often
	case shares[commonest] >= usuallyShare:
		return fmt.Sprintf("%s to %s, %s", c.States[first].ID, c.States[last].ID, often)
	}
	return fmt.Sprintf("%s to %s", c.States[first].ID, c.States[last].ID)
}

func typicalStates(c *diagnosis.Character, shares []float64) string {
	var order []int
	for s, p := range shares {
		if p >= typicalShare {
			order = append(order, s)
		}
	}
	slices.SortStableFunc(order, func(x, y int) int { return cmp.Compare(shares[y], shares[x]) })
	var words []string
	last := ""
	for _, s := range order {
		often := HowOften(shares[s])
		if often == last {
			words[len(words)-1] += " or " + c.States[s].Label
			continue
		}
		last = often
		words = append(words, often+" "+c.States[s].Label)
	}
	return strings.Join(words, ", ")
}

// Shares from which words are used. They lie between what the words of FORMAT.md come to in a cell.
const (
	nearlyAlwaysShare = 0.95
	usuallyShare      = 0.55
	oftenShare        = 0.25
)

// HowOften is the word for a share of a family, from "sometimes" to "nearly always".
func HowOften(share float64) string {
	switch {
	case share >= nearlyAlwaysShare:
		return "nearly always"
	case share >= usuallyShare:
		return "usually"
	case share >= oftenShare:
		return "often"
	}
	return "sometimes"
}
