package web

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// OfGroup chooses a group of tables. It is exported because huma looks into exported parts only.
type OfGroup struct {
	Group string `query:"group" maxLength:"60" doc:"Id of a group of tables; empty: the first"`
}

type groupInput struct {
	Caller
	OfGroup
}

// OnFamily is a request about one family.
type OnFamily struct {
	Caller
	OfGroup
	Name string `path:"name" maxLength:"60" doc:"Accepted name, or an old name that the family has had"`
}

type familiesOutput struct {
	Body struct {
		Tables TablesView   `json:"tables"`
		Items  []FamilyLine `json:"items" nullable:"false"`
	}
}

type familyOutput struct{ Body FamilyView }

type charactersOutput struct {
	Body struct {
		Tables TablesView      `json:"tables"`
		Items  []CharacterView `json:"items" nullable:"false"`
	}
}

// Stated is a state as JSON has it: a state id, or a number for counts and lengths.
type Stated string

// UnmarshalJSON takes a string as it is, and a number in its shortest decimal form.
func (s *Stated) UnmarshalJSON(data []byte) error {
	var text string
	if json.Unmarshal(data, &text) == nil {
		*s = Stated(text)
		return nil
	}
	var number float64
	if err := json.Unmarshal(data, &number); err != nil {
		return err
	}
	*s = Stated(strconv.FormatFloat(number, 'f', -1, 64))
	return nil
}

// Schema describes it, for huma.
func (Stated) Schema(huma.Registry) *huma.Schema {
	longest := 60
	schema := &huma.Schema{Description: "State id, or a number for counts and lengths", OneOf: []*huma.Schema{
		{Type: huma.TypeString, MaxLength: &longest}, {Type: huma.TypeNumber}}}
	schema.PrecomputeMessages()
	return schema
}

type assessInput struct {
	Caller
	Body struct {
		Group        string            `json:"group" required:"false" maxLength:"60" doc:"Id of a group of tables; empty: the first"`
		Family       string            `json:"family" required:"false" maxLength:"60" doc:"Proposed family; empty where there is none yet"`
		Sex          string            `json:"sex" required:"false" enum:",male,female"`
		Observations map[string]Stated `json:"observations" maxProperties:"200" doc:"State of each character that was observed, by character id"`
		List         review.List       `json:"list" required:"false" enum:",free,asked" doc:"free: the observations were told as they struck the eye, and what is not among them tells something, too; asked, or empty: they answer questions"`
	}
}

type assessOutput struct{ Body judgement.Assessment }

func (a *api) registerKnowledge() {
	const tag = "knowledge"
	huma.Register(a.doors, operation(http.MethodGet, "/families", "families", tag, "Families that the tables know", http.StatusNotFound), a.families)
	huma.Register(a.doors, operation(http.MethodGet, "/families/{name}", "family", tag, "What marks a family, with the source of every statement",
		http.StatusNotFound), a.family)
	huma.Register(a.doors, operation(http.MethodGet, "/characters", "characters", tag, "Characters and their states", http.StatusNotFound), a.characters)
	huma.Register(a.doors, operation(http.MethodGet, "/faunas", "faunas", tag, "What occurs in a region: numbers of species with their sources, for the prior",
		http.StatusNotFound), a.faunas)
	huma.Register(a.doors, operation(http.MethodPost, "/assessments", "assess", tag, "How well observations carry a family; nothing is stored",
		http.StatusNotFound, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType), a.assess)
}

// tables are those in force of a group; an empty one is the first.
func (a *api) tables(ctx context.Context, group string) (*diagnosis.Tables, error) {
	judge, err := a.Service.Judge(ctx, group)
	if err != nil {
		return nil, err
	}
	return judge.Tables(), nil
}

func (a *api) families(ctx context.Context, in *groupInput) (*familiesOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	out := &familiesOutput{}
	out.Body.Tables, out.Body.Items = tablesView(t), []FamilyLine{}
	for i := range t.Families {
		out.Body.Items = append(out.Body.Items, familyLine(&t.Families[i]))
	}
	return out, nil
}

func (a *api) family(ctx context.Context, in *OnFamily) (*familyOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	family, remark, ok := t.Resolve(in.Name)
	if !ok {
		return nil, noFamily(t, in.Name)
	}
	return &familyOutput{Body: familyView(t, family, remark)}, nil
}

func noFamily(t *diagnosis.Tables, name string) error {
	return review.Errorf(review.KindNotFound, "%s.", t.NotAName(name))
}

func (a *api) characters(ctx context.Context, in *groupInput) (*charactersOutput, error) {
	t, err := a.tables(ctx, in.Group)
	if err != nil {
		return nil, err
	}
	out := &charactersOutput{}
	out.Body.Tables, out.Body.Items = tablesView(t), []CharacterView{}
	for i := range t.Characters {
		out.Body.Items = append(out.Body.Items, characterView(&t.Characters[i]))
	}
	return out, nil
}

func (a *api) assess(ctx context.Context, in *assessInput) (*assessOutput, error) {
	judge, err := a.Service.Judge(ctx, in.Body.Group)
	if err != nil {
		return nil, err
	}
	evidence := judgement.Evidence{Sex: in.Body.Sex}
	var problems review.Problems
	if in.Body.Family != "" {
		if _, _, ok := judge.Tables().Resolve(in.Body.Family); !ok {
			problems.Addf("family", "%s", judge.Tables().NotAName(in.Body.Family))
		}
		evidence.Family = in.Body.Family
	}
	for _, character := range slices.Sorted(maps.Keys(in.Body.Observations)) {
		state := string(in.Body.Observations[character])
		if err := judge.CheckState(character, state); err != nil {
			problems.Addf(fmt.Sprintf("observations.%s", character), "%s", err)
		}
		evidence.Stated = append(evidence.Stated, judgement.Stated{Character: character, State: state})
	}
	if err := problems.Err(); err != nil {
		return nil, err
	}
	if in.Body.List == review.ListFree {
		evidence.Free = []judgement.FreeList{{Mentioned: slices.Collect(maps.Keys(in.Body.Observations))}}
	}
	return &assessOutput{Body: a.told(ctx, judge.Assess(evidence), in.Body.Sex)}, nil
}
