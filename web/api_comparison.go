package web

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/pages"
)

type comparisonInput struct {
	OnFamily
	With string `query:"with" required:"true" minLength:"1" maxLength:"60" doc:"Another family, under an accepted or an old name"`
}

type comparisonOutput struct {
	Body struct {
		Tables      TablesView `json:"tables"`
		Family      Compared   `json:"family"`
		With        Compared   `json:"with"`
		Inseparable *Apart     `json:"inseparable,omitempty" doc:"Where these characters do not always tell the two apart: why, and what it takes"`
		Items       []Telling  `json:"items" nullable:"false" doc:"Every character of the tables, the most telling first"`
	}
}

// Compared is one of two families that are compared.
type Compared struct {
	Name   string `json:"name"`
	Common string `json:"common,omitempty"`
	Remark string `json:"remark,omitempty" doc:"What became of the old name that was asked for"`
}

// Apart is why two families are not always told apart, and what it takes.
type Apart struct {
	Because string `json:"because"`
	Needs   string `json:"needs"`
}

// Telling is what a character tells between two families.
type Telling struct {
	Character string  `json:"character"`
	Label     string  `json:"label"`
	Bits      float64 `json:"bits" doc:"Expected information of one look at it, 0 to 1 bit, where both families are equally likely"`
	Family    string  `json:"family" doc:"What is typical of the family, in the language of Accept-Language or else of the caller"`
	With      string  `json:"with" doc:"What is typical of the other"`
}

func (a *api) registerComparison() {
	huma.Register(a.doors, operation(http.MethodGet, "/families/{name}/comparison", "comparison", "knowledge",
		"What tells a family from another", http.StatusNotFound), a.comparison)
}

func (a *api) comparison(ctx context.Context, in *comparisonInput) (*comparisonOutput, error) {
	judge, err := a.Service.Judge(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	t := judge.Tables()
	family, remark, ok := t.Resolve(in.Name)
	if !ok {
		return nil, noFamily(t, in.Name)
	}
	with, withRemark, ok := t.Resolve(in.With)
	switch {
	case !ok:
		return nil, review.Invalidf("with", "%s", t.NotAName(in.With))
	case family == with:
		return nil, review.Invalidf("with", "is the same family; name another")
	}
	separators, err := judge.Separating(family.Name, with.Name)
	if err != nil {
		return nil, err
	}
	out := &comparisonOutput{}
	out.Body.Tables, out.Body.Items = tablesView(t), tellings(ctx, pages.BookIn(ctx, t), family.Name, with.Name, separators)
	out.Body.Family = Compared{Name: family.Name, Common: family.Common, Remark: remark}
	out.Body.With = Compared{Name: with.Name, Common: with.Common, Remark: withRemark}
	if why, ok := diagnosis.Explained(family, with); ok {
		out.Body.Inseparable = &Apart{Because: why.Because, Needs: why.Needs}
	}
	return out, nil
}

func tellings(ctx context.Context, b pages.Book, family, with string, separators []judgement.Separator) []Telling {
	one, _ := b.Family(family)
	other, _ := b.Family(with)
	list := []Telling{}
	for _, s := range separators {
		list = append(list, Telling{Character: s.Character, Label: b.Character(s.Character), Bits: s.Bits,
			Family: b.TypicalWords(ctx, one, s.Character), With: b.TypicalWords(ctx, other, s.Character)})
	}
	return list
}
