package main

import (
	"fmt"
	"net/http"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// TestKillDuringSubmits kills the program (SIGKILL) while several people submit. What was acknowledged is there, what is
// there is whole, and a request that got no answer can be sent again with its key and is not stored twice.
func TestKillDuringSubmits(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	picture := drawnPicture(t, "whole-below")
	acknowledged := map[string]string{} // catalogue number -> submission
	for round := range 3 {
		p := startProgram(t, "serve", "--insecure", "--drafts-per-minute", "100000", "--data", data, "--addr", "127.0.0.1:0")
		member := loginClient(t, p, "member")
		photos := []string{}
		for range 10 { // a program of its own reads each, which takes longer than submitting
			photos = append(photos, member.upload(t, picture))
		}
		answers := submitMany(member, round, photos)
		for range 1 + 2*round { // then others are on their way
			a, more := <-answers
			require.True(t, more, "no submission was answered")
			acknowledged[a.number] = a.id
		}
		require.NoError(t, p.cmd.Process.Kill())
		require.Error(t, p.cmd.Wait())
		for a := range answers {
			acknowledged[a.number] = a.id
		}
		requireWhole(t, data, acknowledged)
	}
	again := startProgram(t, "serve", "--insecure", "--drafts-per-minute", "100000", "--data", data, "--addr", "127.0.0.1:0")
	member := loginClient(t, again, "member")
	photo := member.upload(t, picture)
	for range 2 {
		status, err := member.send("POST", "/submissions", clickBeetle("last", photo), map[string]string{"Idempotency-Key": "last"}, nil)
		require.NoError(t, err)
		require.Equal(t, http.StatusCreated, status)
	}
	db := openClub(t, data)
	defer db.Close()
	lines, _, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{Text: "last"}, service.Page{Size: 10})
	require.NoError(t, err)
	require.Len(t, lines, 1)
}

// answer is an acknowledged submission.
type answer struct{ number, id string }

// submitMany submits from four goroutines and tells what was acknowledged; the channel ends when all have ended.
func submitMany(member *client, round int, photos []string) <-chan answer {
	var group sync.WaitGroup
	answers := make(chan answer, len(photos))
	for worker := range 4 {
		group.Go(func() {
			for i := worker; i < len(photos); i += 4 {
				number := fmt.Sprintf("K-%d-%d", round, i)
				var view struct {
					Submission struct {
						ID string `json:"id"`
					} `json:"submission"`
				}
				status, err := member.send("POST", "/submissions", clickBeetle(number, photos[i]), map[string]string{"Idempotency-Key": number}, &view)
				if err != nil || status != http.StatusCreated {
					return // the program is gone
				}
				answers <- answer{number: number, id: view.Submission.ID}
			}
		})
	}
	go func() {
		group.Wait()
		close(answers)
	}()
	return answers
}

// requireWhole checks that every stored submission is what its events make, and that nothing acknowledged is missing.
func requireWhole(t *testing.T, data string, acknowledged map[string]string) {
	t.Helper()
	ctx := t.Context()
	db := openClub(t, data)
	defer db.Close()
	for number, id := range acknowledged {
		_, err := db.Submission(ctx, id)
		require.NoError(t, err, "acknowledged submission %s", number)
	}
	cursor := ""
	for {
		lines, next, err := db.FindSubmissions(ctx, service.SubmissionFilter{}, service.Page{Size: 200, Cursor: cursor})
		require.NoError(t, err)
		for _, l := range lines {
			stored, err := db.Submission(ctx, l.ID)
			require.NoError(t, err)
			events, err := db.Events(ctx, review.SubmissionStream(l.ID))
			require.NoError(t, err)
			replayed, err := review.ReplaySubmission(events)
			require.NoError(t, err)
			require.Equal(t, replayed, stored)
			require.Equal(t, review.StatusOpen, stored.Status)
			require.NotNil(t, stored.Assessment)
			_, err = db.Specimen(ctx, stored.Specimen)
			require.NoError(t, err)
		}
		if next == "" {
			return
		}
		cursor = next
	}
}
