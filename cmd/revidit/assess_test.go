package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
)

// assessLines runs assess over the text and returns its answers.
func assessLines(t *testing.T, text string) (answers []map[string]any, bad int) {
	t.Helper()
	var out bytes.Buffer
	bad, err := runAssess(strings.NewReader(text), &out, review.NewJudge(diagnosis.Default()))
	require.NoError(t, err)
	for line := range strings.Lines(out.String()) {
		answer := map[string]any{}
		require.NoError(t, json.Unmarshal([]byte(line), &answer))
		for _, list := range []string{"ranking", "contradictions", "next", "forms", "warnings"} {
			require.True(t, answer["error"] != nil || answer[list] != nil, "%s must be a list, not null: %s", list, line)
		}
		answers = append(answers, answer)
	}
	return answers, bad
}

func TestAssessLine(t *testing.T) {
	answers, bad := assessLines(t, `{"id": "a1", "family": "Buprestidae", "observations": {"prosternal-process": "click-spine", "antenna-form": "serrate", "ventrites": 5, "body-length-mm": 12.5}}`)
	require.Zero(t, bad)
	require.Len(t, answers, 1)
	a := answers[0]
	require.ElementsMatch(t, []string{"id", "family", "confidence", "ranking", "contradictions", "next", "forms", "warnings"}, keys(a))
	require.Equal(t, "a1", a["id"])
	require.Equal(t, "Buprestidae", a["family"])
	ranking := a["ranking"].([]any)
	require.Equal(t, "Elateridae", ranking[0].(map[string]any)["family"])
	require.Len(t, ranking, len(diagnosis.Default().Families)+1, "all families, and none of these")
	flag := a["contradictions"].([]any)[0].(map[string]any)
	require.ElementsMatch(t, []string{"kind", "character", "state", "family", "reason", "source", "resolve"}, keys(flag))
	require.Contains(t, flag["resolve"], "Look again at")
	require.Equal(t, "excluded", flag["kind"])
	require.Equal(t, "prosternal-process", flag["character"])
	next := a["next"].([]any)
	require.Len(t, next, 8)
	require.ElementsMatch(t, []string{"character", "bits", "effort"}, keys(next[0].(map[string]any)))
	require.Equal(t, "rostrum", next[0].(map[string]any)["character"], "nothing is said of the snout")
	form := a["forms"].([]any)[0].(map[string]any)
	require.ElementsMatch(t, []string{"family", "form", "name", "p"}, keys(form))
	require.Equal(t, "Elateridae", form["family"])
}

func keys(m map[string]any) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	return out
}

func TestAssessGoesOn(t *testing.T) {
	long := `{"id": "long", "family": "` + strings.Repeat("x", maxLine) + `"}`
	answers, bad := assessLines(t, "\n"+`{"id": 7, "observations": {}}`+"\n  \n"+long+"\nnonsense\n"+
		`{"id": 8, "family": "Silphidae", "observations": {"ventrites": "6", "antenna-segments": 11.0}}`)
	require.Equal(t, 2, bad)
	require.Len(t, answers, 4)
	require.Equal(t, 7.0, answers[0]["id"])
	require.Equal(t, "", answers[0]["family"])
	require.Equal(t, []any{}, answers[0]["contradictions"])
	require.Contains(t, answers[1]["error"], "longer than 1048576 bytes")
	require.Contains(t, answers[2]["error"], "not JSON")
	require.Nil(t, answers[2]["id"])
	require.Equal(t, "Staphylinidae", answers[3]["family"])
	require.Contains(t, answers[3]["warnings"].([]any)[0], "Silphidae is an old name")
}

func TestAssessBadLines(t *testing.T) {
	for line, want := range map[string]string{
		`{"id": "b", "observations": {"antenna-form": "blue"}}`:                "antenna-form has no state \"blue\"; allowed are filiform",
		`{"id": "b", "observations": {"antenna-form": 5}}`:                     "antenna-form takes a state, not the number 5; allowed are filiform",
		`{"id": "b", "observations": {"nose": "long"}}`:                        "there is no character \"nose\"; allowed are ",
		`{"id": "b", "observations": {"ventrites": 2.5}}`:                      "ventrites must be a whole number from 2 to 10",
		`{"id": "b", "observations": {"ventrites": 99}}`:                       "ventrites must be a whole number from 2 to 10",
		`{"id": "b", "observations": {"ventrites": null}}`:                     "ventrites must be a state or a number",
		`{"id": "b", "observations": {"ventrites": [5]}}`:                      "ventrites must be a state or a number",
		`{"id": "b", "observations": {"body-length-mm": -1}}`:                  "body-length-mm must be millimetres from 0.2 to 200",
		`{"id": "b", "observations": {"body-length-mm": 1e999}}`:               "body-length-mm must be millimetres from 0.2 to 200",
		`{"id": "b", "observations": []}`:                                      "observations must be a JSON object",
		`{"id": "b", "observations": {"ventrites": 5, "ventrites": 6}}`:        "observations: \"ventrites\" is given twice",
		`{"id": "b", "family": "Giraffidae"}`:                                  "family: there is no \"Giraffidae\" in the tables; allowed are nothing, an old name, Aderidae, ",
		`{"id": "b", "family": "Elaterida"}`:                                   "(did you mean Elateridae?)",
		`{"id": "b", "family": 3}`:                                             "family must be a string",
		`{"id": "b", "family": "Carabidae", "family": "Carabidae"}`:            "\"family\" is given twice",
		`{"id": "b", "species": "x"}`:                                          "unknown field \"species\"; allowed are id, family, observations and list",
		`{"id": "b"} {"id": "c"}`:                                              "more on the line",
		`{"id": "b"} x`:                                                        "more on the line",
		`{"id": {"a": 1}}`:                                                     "id must be a string or a number",
		`["b"]`:                                                                "the line must be a JSON object",
		`{"id": "b", "observations": {"ventrites": 5`:                          "not JSON: the line ends too early",
		`{"id": "b", "observations": {"ventrites": 5}, }`:                      "not JSON",
		`{"id": "b", "observations": {"side-vesicles": "blue"}, "family": ""}`: "allowed are present, absent",
	} {
		answers, bad := assessLines(t, line+"\n")
		require.Equal(t, 1, bad, line)
		require.ElementsMatch(t, []string{"id", "error"}, keys(answers[0]), line)
		require.Contains(t, answers[0]["error"], want, line)
		if json.Valid([]byte(line)) && strings.HasPrefix(line, `{"id": "b"`) {
			require.Equal(t, "b", answers[0]["id"], line)
		}
	}
}

type refusing struct{}

func (refusing) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestAssessStopsWithoutFiles(t *testing.T) {
	judge := review.NewJudge(diagnosis.Default())
	_, err := runAssess(iotest.ErrReader(errors.New("gone")), io.Discard, judge)
	require.ErrorContains(t, err, "read the specimens: gone")
	_, err = runAssess(strings.NewReader("{}\n"), refusing{}, judge)
	require.ErrorContains(t, err, "write the assessments: disk full")
}

// TestAssessList: a list is taken as told freely, so that a snout of which nothing was said is less likely; answers to questions
// tell nothing by what was not asked.
func TestAssessList(t *testing.T) {
	const observations = `"family": "Curculionidae", "observations": {"head-from-above": "visible", "tarsi-counted": "4-4-4", "body-length-mm": 8}`
	answers, bad := assessLines(t, `{`+observations+`}`+"\n"+`{`+observations+`, "list": "free"}`+"\n"+`{"list": "asked", `+observations+`}`+"\n"+
		`{"observations": {}, "list": "free"}`+"\n"+`{`+observations+`, "list": "told"}`)
	require.Equal(t, 1, bad)
	require.Equal(t, answers[0]["confidence"], answers[1]["confidence"])
	require.Less(t, answers[0]["confidence"], answers[2]["confidence"])
	require.Contains(t, answers[4]["error"], "list must be free")
}

// An earwig given as a rove beetle: assess says that it may be no beetle, and asks of the orders first, by name of the group.
func TestAssessAsksWhetherItIsABeetle(t *testing.T) {
	command := assessCommand{}
	judge, err := command.judge()
	require.NoError(t, err)
	var out bytes.Buffer
	_, err = runAssess(strings.NewReader(`{"id": "e", "family": "Staphylinidae", "observations": {"elytra-cover": "short", "antenna-form": "filiform", "antenna-segments": 14, "tarsi-counted": "3-3-3", "body-length-mm": 13, "ventrites": 8, "rostrum": "none"}}`), &out, judge)
	require.NoError(t, err)
	answer := map[string]any{}
	require.NoError(t, json.Unmarshal(out.Bytes(), &answer))
	next := answer["next"].([]any)
	for _, n := range next[:3] {
		require.Equal(t, "insect-orders", n.(map[string]any)["group"])
		require.NotEmpty(t, n.(map[string]any)["expect"])
	}
	require.NotContains(t, next[3].(map[string]any), "group")
	require.Contains(t, strings.Join(texts(answer["warnings"].([]any)), "\n"), "none of the Coleoptera at all")
}

func texts(list []any) []string {
	var out []string
	for _, v := range list {
		out = append(out, v.(string))
	}
	return out
}
