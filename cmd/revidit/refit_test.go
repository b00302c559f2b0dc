package main

import (
	"net/http"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/service"
)

// closedBeetle submits a beetle and leaves it undetermined after a verdict: something to learn from.
func closedBeetle(t *testing.T, p *program, number string) {
	t.Helper()
	member, reviewer := loginClient(t, p, "member"), loginClient(t, p, "reviewer")
	var view struct {
		Submission struct {
			ID    string   `json:"id"`
			Cites []string `json:"cites"`
		} `json:"submission"`
	}
	status, err := member.send("POST", "/submissions", clickBeetle(number, member.upload(t, drawnPicture(t, "whole-below"))), nil, &view)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	path := "/submissions/" + view.Submission.ID
	verdicts := map[string]any{"verdicts": []map[string]string{{"observation": view.Submission.Cites[0], "kind": "confirm"}}}
	status, err = reviewer.send("POST", path+"/reviews", verdicts, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	status, err = reviewer.send("POST", path+"/undetermination", map[string]string{"reason": "for the test"}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
}

// snapshot is the one of the first group, as it is stored.
func snapshot(t *testing.T, data string) review.Reliability {
	t.Helper()
	db := openClub(t, data)
	defer db.Close()
	return knownOf(t, db)
}

func knownOf(t *testing.T, db *models.DB) review.Reliability {
	t.Helper()
	r, err := db.Reliability(t.Context(), diagnosis.Default().Group.ID)
	require.NoError(t, err)
	return r
}

// learnt waits until so many specimens were taken in since the last refit.
func learnt(t *testing.T, data string, specimens int) (r review.Reliability) {
	t.Helper()
	db := openClub(t, data)
	defer db.Close()
	require.Eventually(t, func() bool {
		r = knownOf(t, db)
		return len(r.Added) == specimens
	}, modelstest.Patience, 100*time.Millisecond)
	return r
}

func TestRefitCommand(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	require.Contains(t, output(t, "refit", "--data", data, "--as", "curator"), "version 1, 0 characters by 0 people")
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	closedBeetle(t, p, "R-1")
	learnt(t, data, 1)
	made := output(t, "refit", "--data", data, "--as", "Curator", "--group", diagnosis.Default().Group.ID)
	require.Contains(t, made, "version 3, 5 characters by 2 people")
	require.Contains(t, made, "mind: ")
	require.Empty(t, snapshot(t, data).Added)

	for _, refused := range [][]string{{"--as", "reviewer"}, {"--as", "nobody"}, {"--as", "curator", "--group", "no-such"}} {
		r := runHere(t, "", append([]string{"refit", "--data", data}, refused...)...)
		require.Equal(t, 1, r.code)
		require.Contains(t, r.err, "nothing was changed")
	}
	require.Equal(t, 3, snapshot(t, data).Version)
}

// TestServeRefitsWhatIsDue: what was learnt is weighed together when a server starts, under no person's name, and again
// only when it is due.
func TestServeRefitsWhatIsDue(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	closedBeetle(t, startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0"), "R-2")
	before := learnt(t, data, 1)
	second := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	after := learnt(t, data, 0)
	require.Equal(t, before.Version+1, after.Version)

	closedBeetle(t, second, "R-3")
	db := openClub(t, data)
	defer db.Close()
	refits := func(after time.Duration) bool {
		house, err := newHouse(t.Context(), db, inFolder(data), service.NewLibrary(diagnosis.Default()),
			service.Options{Now: func() time.Time { return time.Now().Add(after) }})
		require.NoError(t, err)
		due, err := house.service.DueJobs(t.Context())
		require.NoError(t, err)
		return slices.ContainsFunc(due, func(j jobs.Job) bool { return j.Kind == jobs.KindRefit })
	}
	learnt(t, data, 1)
	require.False(t, refits(0), "a refit of today is good for a day")
	require.True(t, refits(25*time.Hour), "and no longer")

	events, err := db.Events(t.Context(), review.ReliabilityStream(diagnosis.Default().Group.ID))
	require.NoError(t, err)
	require.Equal(t, "reliability-refitted", events[before.Version].Change.EventKind())
	require.Equal(t, "program", events[before.Version].Actor)
}
