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
)

type familyInput struct {
	Caller
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
		Family       string            `json:"family" required:"false" maxLength:"60" doc:"Proposed family; empty where there is none yet"`
		Sex          string            `json:"sex" required:"false" enum:",male,female"`
		Observations map[string]Stated `json:"observations" maxProperties:"200" doc:"State of each character that was observed, by character id"`
	}
}

type assessOutput struct{ Body review.Assessment }

func (a *api) registerKnowledge() {
	const tag = "knowledge"
	huma.Register(a.doors, operation(http.MethodGet, "/families", "families", tag, "Families that the tables know"), a.families)
	huma.Register(a.doors, operation(http.MethodGet, "/families/{name}", "family", tag, "What marks a family, with the source of every statement",
		http.StatusNotFound), a.family)
	huma.Register(a.doors, operation(http.MethodGet, "/characters", "characters", tag, "Characters and their states"), a.characters)
	huma.Register(a.doors, operation(http.MethodPost, "/assessments", "assess", tag, "How well observations carry a family; nothing is stored",
		http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType), a.assess)
}

func (a *api) tables() *diagnosis.Tables { return a.Service.Judge().Tables() }

func (a *api) families(_ context.Context, _ *callerInput) (*familiesOutput, error) {
	out := &familiesOutput{}
	out.Body.Tables, out.Body.Items = tablesView(a.tables()), []FamilyLine{}
	for i := range a.tables().Families {
		out.Body.Items = append(out.Body.Items, familyLine(&a.tables().Families[i]))
	}
	return out, nil
}

func (a *api) family(_ context.Context, in *familyInput) (*familyOutput, error) {
	family, remark, ok := a.tables().Resolve(in.Name)
	if !ok {
		return nil, review.Errorf(review.KindNotFound, "%q is not a family of these tables, nor an old name of one.", in.Name)
	}
	return &familyOutput{Body: familyView(a.tables(), family, remark)}, nil
}

func (a *api) characters(_ context.Context, _ *callerInput) (*charactersOutput, error) {
	out := &charactersOutput{}
	out.Body.Tables, out.Body.Items = tablesView(a.tables()), []CharacterView{}
	for i := range a.tables().Characters {
		out.Body.Items = append(out.Body.Items, characterView(&a.tables().Characters[i]))
	}
	return out, nil
}

func (a *api) assess(_ context.Context, in *assessInput) (*assessOutput, error) {
	judge := a.Service.Judge()
	evidence := review.Evidence{Sex: in.Body.Sex}
	var problems review.Problems
	if in.Body.Family != "" {
		if _, _, ok := judge.Tables().Resolve(in.Body.Family); !ok {
			problems.Addf("family", "%q is not a family of these tables, nor an old name of one", in.Body.Family)
		}
		evidence.Family = in.Body.Family
	}
	for _, character := range slices.Sorted(maps.Keys(in.Body.Observations)) {
		state := string(in.Body.Observations[character])
		if err := judge.CheckState(character, state); err != nil {
			problems.Addf(fmt.Sprintf("observations.%s", character), "%s", err)
		}
		evidence.Stated = append(evidence.Stated, review.Stated{Character: character, State: state})
	}
	if err := problems.Err(); err != nil {
		return nil, err
	}
	return &assessOutput{Body: judge.Assess(evidence)}, nil
}
