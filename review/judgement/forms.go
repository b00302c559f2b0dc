package judgement

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

// Likeness is a form of the most probable family with its probability, given that family: a hint at a subfamily, a sex or
// another part that looks alike, and never a determination.
type Likeness struct {
	Family string `json:"family"`
	Form   string `json:"form"` // id
	// Name is what assessments of a time that stored it call the form. The API fills it in.
	Name string `json:"name,omitempty" doc:"What the form is called, in the language of Accept-Language or else of the caller"`
	// P is within the family: over its forms they sum to 1.
	P float64 `json:"p" doc:"Probability within the family"`
}

// forms lists the forms of the most probable family, the most probable first, then by id. There are none where the family
// has only one, where nothing is stated, and where no family of the tables leads.
func (j *Judge) forms(s *scratch, first int) []Likeness {
	if first == j.model.None() || len(s.posterior.Seen) == 0 || len(j.index.families[first].forms) < 2 {
		return nil
	}
	family := &j.index.families[first]
	list := make([]Likeness, 0, len(family.forms))
	for i, p := range s.posterior.Forms(first) {
		if p = math.Round(p*bitSteps) / bitSteps; p > 0 {
			form := &family.forms[i]
			list = append(list, Likeness{Family: j.index.names[first], Form: form.ID, P: p})
		}
	}
	slices.SortFunc(list, func(a, b Likeness) int {
		return cmp.Or(cmp.Compare(b.P, a.P), strings.Compare(a.Form, b.Form))
	})
	return list
}
