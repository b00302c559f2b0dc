package main

import (
	"fmt"
	"net/http"
	"testing"

	"github.com/stretchr/testify/require"
)

// chance submits click beetles until dice that nobody can foresee fall as a test needs them. At a rate of a half, all of
// its throws go wrong once in 2 to the power of 60.
type chance struct {
	member, reviewer, curator *client
	made                      int
}

const throws = 60

func newChance(t *testing.T, p *program) *chance {
	t.Helper()
	c := &chance{member: loginClient(t, p, "member"), reviewer: loginClient(t, p, "reviewer"), curator: loginClient(t, p, "curator")}
	status, err := c.curator.send("PUT", "/policy", map[string]any{"reviewers": 2, "confidence": 0.95, "excluded_needs_reason": true, "experts": map[string]any{},
		"hold_minutes": 30, "holds_at_once": 3, "blind_rate": 0.5, "recheck_rate": 0.5, "panel": 3, "list": map[string]any{}, "reason": "for the test"}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	return c
}

// submit returns the id of a new submission, and whether the reviewer is to look at it blind.
func (c *chance) submit(t *testing.T) (id string, blind bool) {
	t.Helper()
	c.made++
	photo := c.member.upload(t, drawnPicture(t, "whole-below"))
	var made struct{ Submission struct{ ID string } }
	status, err := c.member.send("POST", "/submissions", clickBeetle(fmt.Sprintf("C-%d", c.made), photo), nil, &made)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	return made.Submission.ID, c.hidden(t, made.Submission.ID)
}

func (c *chance) hidden(t *testing.T, id string) bool {
	t.Helper()
	status, err := c.reviewer.do("GET", "/submissions/"+id, "", nil, nil, nil)
	require.NoError(t, err)
	return status == http.StatusConflict
}

// asked is the page of an open submission that the reviewer is to look at blind.
func (c *chance) asked(t *testing.T) string {
	t.Helper()
	for range throws {
		if id, blind := c.submit(t); blind {
			return "/submissions/" + id
		}
	}
	require.Fail(t, "nothing was drawn")
	return ""
}

// closed is the page of a closed submission that the reviewer is to name from its photos.
func (c *chance) closed(t *testing.T) string {
	t.Helper()
	for range throws {
		id, _ := c.submit(t)
		status, err := c.curator.send("POST", "/submissions/"+id+"/undetermination", map[string]string{"reason": "too worn"}, nil, nil)
		require.NoError(t, err)
		require.Equal(t, http.StatusOK, status)
		if c.hidden(t, id) {
			return "/submissions/" + id
		}
	}
	require.Fail(t, "nothing was drawn")
	return ""
}
