package main

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestNobodySeesOthersVerdictsFirst: before a reviewer has saved their own, nothing that the program answers them changes
// when somebody else gives a verdict: not the submission, the queue, the list, the history or a preview of tables.
func TestNobodySeesOthersVerdictsFirst(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	member, reviewer, curator := loginClient(t, p, "member"), loginClient(t, p, "reviewer"), loginClient(t, p, "curator")
	var view struct {
		Submission struct {
			ID    string   `json:"id"`
			Cites []string `json:"cites"`
		} `json:"submission"`
		Assessment map[string]any `json:"assessment"`
	}
	status, err := member.send("POST", "/submissions", clickBeetle("S-1", member.upload(t, drawnPicture(t, "whole-below"))), nil, &view)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)

	before := sealedAnswers(t, curator, view.Submission.ID)
	verdicts := []map[string]string{}
	for _, id := range view.Submission.Cites[:2] {
		verdicts = append(verdicts, map[string]string{"observation": id, "kind": "dispute"})
	}
	status, err = reviewer.send("POST", "/submissions/"+view.Submission.ID+"/reviews", map[string]any{"verdicts": verdicts}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	require.Equal(t, before, sealedAnswers(t, curator, view.Submission.ID))
	requireNoGain(t, curator)

	// The same question is answered differently to whoever has disputed: it is no constant.
	var seen struct {
		Assessment map[string]any `json:"assessment"`
	}
	status, err = reviewer.send("GET", "/submissions/"+view.Submission.ID, nil, nil, &seen)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	require.NotEqual(t, before["confidence"], seen.Assessment["confidence"])
	var queue struct{ Items []any }
	_, err = reviewer.send("GET", "/queue", nil, nil, &queue)
	require.NoError(t, err)
	require.Empty(t, queue.Items, "whoever has judged it is not asked again")
}

// requireNoGain: what others said goes into the order of the queue, and no number tells of it.
func requireNoGain(t *testing.T, c *client) {
	t.Helper()
	var queue struct {
		Items []struct {
			Gain           float64
			Region, Reason string
			LongestWaiting bool `json:"longest_waiting"`
		} `json:"items"`
	}
	status, err := c.send("GET", "/queue", nil, nil, &queue)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	require.Len(t, queue.Items, 1)
	line := queue.Items[0]
	require.Zero(t, line.Gain)
	require.False(t, line.LongestWaiting)
	require.Empty(t, line.Region)
	require.Contains(t, line.Reason, "others have looked")
}

// sealedAnswers are what could give a verdict away, without versions and times.
func sealedAnswers(t *testing.T, c *client, id string) map[string]any {
	t.Helper()
	var view struct {
		Assessment map[string]any `json:"assessment"`
		Submission map[string]any `json:"submission"`
	}
	var queue, list struct {
		Items []map[string]any `json:"items"`
	}
	for path, into := range map[string]any{"/submissions/" + id: &view, "/queue": &queue, "/submissions": &list} {
		status, err := c.send("GET", path, nil, nil, into)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status, path)
	}
	answers := map[string]any{"confidence": view.Assessment["confidence"], "why": view.Assessment["why"],
		"verdicts": view.Submission["verdicts"], "opinions": view.Submission["opinions"]}
	for name, lines := range map[string][]map[string]any{"queue": queue.Items, "list": list.Items} {
		require.Len(t, lines, 1)
		for _, field := range []string{"confidence", "leading", "contradictions"} {
			answers[name+" "+field] = lines[0][field]
		}
	}
	edit := map[string]any{"family": "Elateridae", "character": "antenna-form", "states": []map[string]string{{"state": "filiform", "word": "always"}, {"state": "rest", "word": "never"}},
		"citation": map[string]string{"source": "arnett-2002", "place": "chapter Elateridae", "basis": "memory"}}
	var effect struct {
		List []map[string]any `json:"list"`
	}
	status, err := c.send("POST", "/groups/coleoptera-adults/changes/preview", map[string]any{"edit": edit}, nil, &effect)
	require.NoError(t, err)
	if status == http.StatusOK { // curators
		answers["preview"] = effect.List
	}
	return answers
}
