package judgement

import (
	"slices"
	"strings"

	"revidit/review/diagnosis"
)

// index is what a judge looks up of its tables, by index in place of id, and sources in words.
type index struct {
	characters []indexedCharacter
	families   []indexedFamily
	views      map[string]int // indices of all views that characters name
	sides      []string       // onPhotos, then the sides that views show
	pairs      []indexedPair  // of Tables.Incompatible
	atMost     []indexedPair  // of Tables.AtMost: First is Less, Second is More
	// byName are all hypotheses in the order of their names, and names what they are called.
	byName []int
	names  []string
	// charactersByName are the positions of the characters when sorted by id.
	charactersByName []int
	definition       string // the source of what follows from the meaning of the characters themselves
}

// indexedCharacter is a character of the tables.
type indexedCharacter struct {
	views     []int
	sides     sideSet // from which it can be judged
	side      side    // to which the specimen is turned for it
	dependent []int   // elements of Tables.Dependent that it belongs to
}

// indexedFamily is a family of the tables with its forms.
type indexedFamily struct {
	forms []indexedForm
	fit   [3][]indexedForm // by confidence.Sex: the forms that a specimen can have, with weights that sum to 1
}

// indexedForm is a form with its cells by character.
type indexedForm struct {
	*diagnosis.Form
	weight float64
	cells  []indexedCell
}

// indexedCell is a cell with its source in words; Cell is nil where there is none.
type indexedCell struct {
	*diagnosis.Cell
	source string
}

// indexedPair are the two characters of a rule.
type indexedPair struct{ first, second int }

func newIndex(t *diagnosis.Tables) index {
	k := index{views: map[string]int{}, definition: "Definitions of the characters, tables " + t.Group.ID + " " + t.Group.Release}
	k.fillSides(t)
	for i := range t.Characters {
		k.characters = append(k.characters, k.character(t, &t.Characters[i]))
		k.charactersByName = append(k.charactersByName, i)
	}
	slices.SortFunc(k.charactersByName, func(a, b int) int { return strings.Compare(t.Characters[a].ID, t.Characters[b].ID) })
	sources := map[diagnosis.Citation]string{}
	for i := range t.Families {
		k.families = append(k.families, familyOf(t, &t.Families[i], sources))
		k.names = append(k.names, t.Families[i].Name)
	}
	k.names = append(k.names, NoneOfThese)
	for h := range k.names {
		k.byName = append(k.byName, h)
	}
	slices.SortFunc(k.byName, func(a, b int) int { return strings.Compare(k.names[a], k.names[b]) })
	for _, rule := range t.Incompatible {
		k.pairs = append(k.pairs, indexedPair{t.CharacterIndex(rule.First.Character), t.CharacterIndex(rule.Second.Character)})
	}
	for _, rule := range t.AtMost {
		k.atMost = append(k.atMost, indexedPair{t.CharacterIndex(rule.Less), t.CharacterIndex(rule.More)})
	}
	return k
}

func (k *index) character(t *diagnosis.Tables, c *diagnosis.Character) indexedCharacter {
	var out indexedCharacter
	out.sides, out.side = k.sidesOf(t, c)
	for _, v := range c.Views {
		if _, known := k.views[v]; !known {
			k.views[v] = len(k.views)
		}
		out.views = append(out.views, k.views[v])
	}
	for i, d := range t.Dependent {
		if slices.Contains(d.Characters, c.ID) {
			out.dependent = append(out.dependent, i)
		}
	}
	return out
}

// familyOf keeps the words of each citation in sources, because most cells share theirs with others.
func familyOf(t *diagnosis.Tables, f *diagnosis.Family, sources map[diagnosis.Citation]string) indexedFamily {
	var out indexedFamily
	for i := range f.Forms {
		form := indexedForm{Form: &f.Forms[i], weight: f.Forms[i].Weight, cells: make([]indexedCell, len(t.Characters))}
		for c := range t.Characters {
			cell := form.Cells[t.Characters[c].ID]
			if cell == nil {
				continue
			}
			if _, known := sources[cell.Citation]; !known {
				sources[cell.Citation] = inWords(t, cell.Citation)
			}
			form.cells[c] = indexedCell{cell, sources[cell.Citation]}
		}
		out.forms = append(out.forms, form)
	}
	for _, sex := range []string{"", "male", "female"} {
		out.fit[sexOf(sex)] = fitting(f, out.forms, sex)
	}
	return out
}

// fitting are the forms that FormsOf chooses.
func fitting(f *diagnosis.Family, all []indexedForm, sex string) []indexedForm {
	var forms []indexedForm
	for _, fit := range FormsOf(f, sex) {
		form := all[slices.IndexFunc(all, func(x indexedForm) bool { return x.ID == fit.ID })]
		form.weight = fit.Weight
		forms = append(forms, form)
	}
	return forms
}

// FormsOf are the forms that a specimen of that sex can have, with weights that sum to 1: all where the family is
// known from the other sex only.
func FormsOf(family *diagnosis.Family, sex string) []diagnosis.Form {
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

// inWords puts the citation of a cell into words.
func inWords(t *diagnosis.Tables, c diagnosis.Citation) string {
	work, ok := t.Source(c.Source)
	if !ok {
		return c.Source
	}
	text := strings.TrimSuffix(work.Citation, ".")
	if c.Place != "" {
		text += ", " + c.Place
	}
	switch c.Basis {
	case diagnosis.BasisMemory:
		return text + " (cited from memory)"
	case diagnosis.BasisInPart:
		return text + " (read in part)"
	}
	return text
}
