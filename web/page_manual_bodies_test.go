package web

import (
	"encoding/json"
	"net/http"
	"os/exec"
	"strings"
	"testing"

	"github.com/danielgtaylor/huma/v2"
	"github.com/stretchr/testify/require"

	"revidit/review/service"
)

// operationOf is the operation of a route.
func operationOf(doc *huma.OpenAPI, method, template string) *huma.Operation {
	for _, o := range operationsOf(doc) {
		if o.Method == method && o.Path == template {
			return o
		}
	}
	return nil
}

// variables are what the variables of examples stand for.
func (c *apiClub) variables(v service.SubmissionView, who string) *strings.Replacer {
	observation := ""
	if len(v.Specimen.Observations) > 0 {
		observation = v.Specimen.Observations[0].ID
	}
	photo := v.Submission.Photos[0]
	if who == "ben" { // one of his own
		photo = c.upload("ben")
	}
	return strings.NewReplacer("$PHOTO", photo, "$SPECIMEN", v.Submission.Specimen, "$DETERMINATION", v.Submission.ID, "$OBSERVATION", observation,
		"$LOGIN", "ben", "$PASSWORD", clubPassword, "$REVIEWER", c.people["rolf"], "$SUBMISSION", v.Submission.ID)
}

// TestEveryExampleOfTheManualIsTaken: each operation with a body has an example of its own, and its handler takes it.
func TestEveryExampleOfTheManualIsTaken(t *testing.T) {
	doc := newDocument(t, newAPIClub(t))
	taken := map[string]bool{"log-in": true, "refresh": true, "pass-holds-of": true} // below
	send := func(t *testing.T, o *huma.Operation, c *apiClub, who, path string, v service.SubmissionView) {
		body, known := manualBodies[o.OperationID]
		require.True(t, known, "%s has no example", o.OperationID)
		got := c.call(who, o.Method, path, json.RawMessage(c.variables(v, who).Replace(body)))
		require.Less(t, got.status, 300, "%s: %s", o.OperationID, got.body)
		taken[o.OperationID] = true
	}
	sendsJSON := func(o *huma.Operation) bool {
		return o.RequestBody != nil && o.RequestBody.Content["application/json"] != nil
	}
	for _, r := range changesOfAll(t) {
		o := operationOf(doc, r.method, r.template())
		require.NotNil(t, o, r.template())
		if taken[o.OperationID] || !sendsJSON(o) {
			continue
		}
		t.Run(o.OperationID, func(t *testing.T) {
			club := newAPIClub(t)
			v := r.prepare(club)
			send(t, o, club, r.who, club.fixedPath(r, v), v)
		})
	}
	t.Run("without a key", func(t *testing.T) {
		club := newAPIClub(t)
		v := club.submitted()
		club.call("rita", "POST", at(v, "/hold"), nil).is(http.StatusOK)
		for _, r := range []struct{ who, method, template, path string }{
			{"ada", "POST", "/assessments", ""}, {"ada", "POST", "/searches", ""}, {"carl", "POST", "/groups/{group}/changes/preview", "/groups/small-test-group/changes/preview"},
			{"cora", "POST", "/machines", ""}, {"cora", "PUT", "/people/{id}/families", "/people/" + club.people["rolf"] + "/families"},
			{"cora", "POST", "/people/{id}/account/holds-passing", "/people/" + club.people["rita"] + "/account/holds-passing"},
			{"cora", "POST", "/invitations", ""}, {"rita", "PUT", "/me/password", ""},
		} {
			o := operationOf(doc, r.method, r.template)
			require.NotNil(t, o, r.template)
			if r.path == "" {
				r.path = r.template
			}
			send(t, o, club, r.who, apiPrefix+r.path, v)
		}
		login := strings.NewReplacer("ida", "ada", "$PASSWORD", clubPassword).Replace(manualBodies["log-in"])
		session := decoded[Session](club.call("", "POST", "/api/v1/sessions", json.RawMessage(login)).is(http.StatusCreated))
		refresh := strings.ReplaceAll(manualBodies["refresh"], "$REFRESH_TOKEN", session.RefreshToken)
		club.call("", "POST", "/api/v1/sessions/refresh", json.RawMessage(refresh)).is(http.StatusCreated)
	})
	for _, o := range operationsOf(doc) {
		if sendsJSON(o) {
			require.True(t, taken[o.OperationID], "%s was sent to nobody", o.OperationID)
		}
	}
	for id := range manualBodies {
		require.True(t, taken[id], "%s is no operation", id)
	}
}

// TestAShellFillsInExamples: what stands in quotes for a shell is what is meant, with its variables.
func TestAShellFillsInExamples(t *testing.T) {
	command := exec.CommandContext(t.Context(), "sh", "-c", "printf %s "+quotedBody(`{"a": "$PHOTO", "b": "it's"}`))
	command.Env = []string{"PHOTO=p 1"}
	said, err := command.Output()
	require.NoError(t, err)
	require.JSONEq(t, `{"a": "p 1", "b": "it's"}`, string(said))
}
