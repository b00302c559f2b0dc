package judgement

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Separator is a character with what it tells between two families.
type Separator struct {
	Character string `json:"character"`
	// Bits that one look is expected to tell, from 0 to 1, where both families are equally likely and nothing else is
	// known: the whole question is one bit.
	Bits float64 `json:"bits"`
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
		list[i] = Separator{Character: c.ID}
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
