package web

import (
	"context"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

type faunasOutput struct {
	Body struct {
		Tables TablesView  `json:"tables"`
		Items  []FaunaView `json:"items" nullable:"false"`
	}
}

// FaunaView is how many species of each family occur in a region, and the prior that it gives by itself.
type FaunaView struct {
	ID       string          `json:"id"`
	Label    string          `json:"label"`
	Note     string          `json:"note,omitempty"`
	Licence  string          `json:"licence"`
	Families []FaunaLineView `json:"families" nullable:"false" doc:"By name"`
}

// FaunaLineView is one family of a fauna.
type FaunaLineView struct {
	Family  string  `json:"family"`
	Species int     `json:"species"`
	Source  string  `json:"source"`
	Basis   string  `json:"basis" enum:"read,read-in-part,memory" doc:"The number was read in the source, in part (a province of the region), or is from memory"`
	Note    string  `json:"note,omitempty"`
	P       float64 `json:"p" doc:"Probability before anything is seen, where this fauna is the whole prior"`
}

func (a *api) faunas(ctx context.Context, in *groupInput) (*faunasOutput, error) {
	judge, err := a.Service.Judge(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	out := &faunasOutput{}
	out.Body.Tables, out.Body.Items = tablesView(judge.Tables()), []FaunaView{}
	for i := range judge.Tables().Faunas {
		out.Body.Items = append(out.Body.Items, faunaView(judge, &judge.Tables().Faunas[i]))
	}
	return out, nil
}

func faunaView(judge *judgement.Judge, f *diagnosis.Fauna) FaunaView {
	view := FaunaView{ID: f.ID, Label: f.Label, Note: f.Note, Licence: f.Licence, Families: []FaunaLineView{}}
	prior := byFamily(judge.Priors(map[string]float64{f.ID: 1}, nil))
	for _, l := range f.Families {
		view.Families = append(view.Families, FaunaLineView{Family: l.Family, Species: l.Species, Source: l.Source, Basis: string(l.Basis), Note: l.Note, P: prior[l.Family]})
	}
	return view
}
