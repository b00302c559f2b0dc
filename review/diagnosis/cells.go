package diagnosis

import "reflect"

// SameButCells says whether two tables differ in what forms show, and in words, alone: they have the same characters, families with
// forms, old names and rules, in the same order.
func (t *Tables) SameButCells(other *Tables) bool {
	return reflect.DeepEqual(t.withoutCells(), other.withoutCells())
}

func (t *Tables) withoutCells() any {
	type form struct {
		ID, Sex string
		Weight  float64
	}
	type family struct {
		Name    string
		Species int
		Forms   []form
	}
	families, old := []family{}, map[string]int{}
	for i := range t.Families {
		f := family{Name: t.Families[i].Name, Species: t.Families[i].Species}
		for _, k := range t.Families[i].Forms {
			f.Forms = append(f.Forms, form{k.ID, k.Sex, k.Weight})
		}
		families = append(families, f)
	}
	for name, ref := range t.oldNames {
		old[name] = ref.family
	}
	return []any{t.Group.ID, t.Group.BetterFitDecibans, t.Characters, t.Dependent, t.Incompatible, t.AtMost, t.Faunas, families, old}
}
