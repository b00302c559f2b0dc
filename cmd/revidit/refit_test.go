package main

import (
	"bytes"
	"context"
	"log/slog"
	"net/http"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
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
	r, err := db.Reliability(t.Context(), diagnosis.Default().Group.ID)
	require.NoError(t, err)
	return r
}

func TestRefitCommand(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	require.Contains(t, output(t, "refit", "--data", data, "--as", "curator"), "version 1, 0 characters by 0 people")
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	closedBeetle(t, p, "R-1")
	require.Len(t, snapshot(t, data).Added, 1, "learnt when it closed")
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
	before := snapshot(t, data)
	require.Len(t, before.Added, 1)
	second := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	require.Eventually(t, func() bool { return len(snapshot(t, data).Added) == 0 }, 20*time.Second, 100*time.Millisecond)
	after := snapshot(t, data)
	require.Equal(t, before.Version+1, after.Version)

	closedBeetle(t, second, "R-3")
	db := openClub(t, data)
	defer db.Close()
	house, err := newHouse(db, data, service.NewLibrary(diagnosis.Default()), service.Options{})
	require.NoError(t, err)
	log := slog.New(slog.NewTextHandler(t.Output(), nil))
	house.refitDue(t.Context(), log) // what a server does at its start, waited for
	require.Len(t, snapshot(t, data).Added, 1, "a refit of today is good for a day")
	tomorrow, err := newHouse(db, data, service.NewLibrary(diagnosis.Default()),
		service.Options{Now: func() time.Time { return time.Now().Add(25 * time.Hour) }})
	require.NoError(t, err)
	tomorrow.refitDue(t.Context(), log)
	require.Empty(t, snapshot(t, data).Added, "and no longer")

	events, err := db.Events(t.Context(), review.ReliabilityStream(diagnosis.Default().Group.ID))
	require.NoError(t, err)
	require.Equal(t, "reliability-refitted", events[before.Version].Change.EventKind())
	require.Equal(t, "program", events[before.Version].Actor)
}

// lockedBuffer is written by a job and read by a test.
type lockedBuffer struct {
	mu     sync.Mutex
	buffer bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buffer.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.buffer.String()
}

// TestRefittingEndsWithItsServer, and says in the log what went wrong.
func TestRefittingEndsWithItsServer(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	db := openClub(t, data)
	house, err := newHouse(db, data, service.NewLibrary(diagnosis.Default()), service.Options{})
	require.NoError(t, err)
	require.NoError(t, db.Close())
	var out lockedBuffer
	log := slog.New(slog.NewTextHandler(&out, nil))
	err = house.whileRefitting(context.Background(), log, func() error {
		require.Eventually(t, func() bool {
			return bytes.Contains([]byte(out.String()), []byte("refit: what is known of people stays as it was"))
		},
			10*time.Second, 10*time.Millisecond)
		return context.Canceled
	})
	require.ErrorIs(t, err, context.Canceled)
	logged(log)(context.DeadlineExceeded)
	require.Contains(t, out.String(), "after an act that is stored")
}
