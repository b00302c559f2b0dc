package web

import (
	"encoding/json"
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/danielgtaylor/huma/v2"
	"github.com/stretchr/testify/require"
)

// TestManual: whatever stands in the document stands on the page, and every link on it leads somewhere.
func TestManual(t *testing.T) {
	club := newAPIClub(t)
	page := club.shown(club.call("", http.MethodGet, manualPath, nil), http.StatusOK)
	document := decoded[struct {
		Paths      map[string]map[string]struct{ OperationID, Summary string }
		Components struct{ Schemas map[string]any }
	}](club.call("", http.MethodGet, "/api/v1/openapi.json", nil))
	require.Greater(t, len(document.Paths), 60)
	for path, operations := range document.Paths {
		for method, o := range operations {
			require.Contains(t, page, `id="`+o.OperationID+`"`)
			require.Contains(t, page, "<b>"+strings.ToUpper(method)+"</b> /api/v1"+path)
		}
	}
	for name := range document.Components.Schemas {
		require.Contains(t, page, `id="thing-`+name+`"`)
	}
	for _, link := range regexp.MustCompile(`href="#([^"]+)"`).FindAllStringSubmatch(page, -1) {
		require.Contains(t, page, `id="`+link[1]+`"`)
	}
	require.Equal(t, manualPath, club.call("", http.MethodGet, "/api/v1/", nil).goesTo())
	require.Contains(t, club.shown(club.call("", http.MethodGet, manualPath, nil, "Accept-Language", "de"), http.StatusOK), `lang="de"`)
}

// TestExamplesOfTheManual: what an example sends is of the form that the document asks for.
func TestExamplesOfTheManual(t *testing.T) {
	club := newAPIClub(t)
	doc := newDocument(t, club)
	m := manual{doc: doc, things: doc.Components.Schemas.Map()}
	sent := 0
	for _, o := range operationsOf(doc) {
		if o.RequestBody == nil || o.RequestBody.Content["application/json"] == nil {
			continue
		}
		text, err := json.Marshal(m.exampleOf(o.RequestBody.Content["application/json"].Schema, 0))
		require.NoError(t, err)
		var value any
		require.NoError(t, json.Unmarshal(text, &value))
		result := huma.ValidateResult{}
		huma.Validate(doc.Components.Schemas, o.RequestBody.Content["application/json"].Schema, huma.NewPathBuffer(nil, 0), huma.ModeWriteToServer, value, &result)
		require.Empty(t, result.Errors, "%s: %s", o.OperationID, text)
		sent++
	}
	require.Greater(t, sent, 20)
}

// newDocument is the document of a club, as the server has it before it is written.
func newDocument(t testing.TB, club *apiClub) *huma.OpenAPI {
	t.Helper()
	require.NotNil(t, club.server.document)
	return club.server.document
}
