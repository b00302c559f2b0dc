package web

import (
	"encoding/json"
	"net/http"
	"testing"

	"github.com/danielgtaylor/huma/v2"
	"github.com/stretchr/testify/require"
)

// TestEveryFieldHasAType: nothing in the document is left to be guessed.
func TestEveryFieldHasAType(t *testing.T) {
	doc := newDocument(t, newAPIClub(t))
	fields := 0
	var look func(where string, s *huma.Schema)
	look = func(where string, s *huma.Schema) {
		if s == nil {
			return
		}
		require.False(t, isUntyped(s), where)
		fields++
		for name, property := range s.Properties {
			look(where+"."+name, property)
		}
		look(where+"[]", s.Items)
		if of, ok := s.AdditionalProperties.(*huma.Schema); ok {
			look(where+"{}", of)
		}
	}
	for name, thing := range doc.Components.Schemas.Map() {
		look(name, thing)
	}
	require.Greater(t, fields, 1000)
}

// TestChangesAreOfTheirKinds: what the history of a submission tells is of the form that the document says of its kind.
func TestChangesAreOfTheirKinds(t *testing.T) {
	club := newAPIClub(t)
	v := club.doubtful()
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
	club.call("cora", "PUT", "/api/v1/specimens/"+v.Specimen.ID+"/label", map[string]any{"label": map[string]any{"catalogue_number": "C-2"}, "withheld": map[string]any{}, "reason": "misread"}).is(http.StatusOK)
	doc := newDocument(t, club)
	kinds, _ := doc.Components.Schemas.Map()["HistoryEntry"].Properties["change"].Extensions[kindsExtension].(map[string]string)
	require.NotEmpty(t, kinds)
	told := map[string]bool{}
	for _, e := range decoded[struct {
		Items []struct {
			Kind   string
			Hidden bool
			Change any
		} `json:"entries"`
	}](club.call("cora", "GET", at(v, "/events"), nil).is(http.StatusOK)).Items {
		if e.Hidden {
			continue
		}
		told[e.Kind] = true
		schema := &huma.Schema{Ref: kinds[e.Kind]}
		result := huma.ValidateResult{}
		huma.Validate(doc.Components.Schemas, schema, huma.NewPathBuffer(nil, 0), huma.ModeReadFromServer, e.Change, &result)
		text, err := json.Marshal(e.Change)
		require.NoError(t, err)
		require.Empty(t, result.Errors, "%s: %s", e.Kind, text)
	}
	require.GreaterOrEqual(t, len(told), 6, told)
}
