package web

import (
	"net/http"
	"slices"
	"strconv"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// draws puts a policy in force and dice in place by which exactly these reviewers are to look blind at what is submitted.
func (c *apiClub) draws(who ...string) {
	c.t.Helper()
	const rate = 0.5
	c.chance("reviewers", 3, "blind_rate", rate, "recheck_rate", 0)
	c.dice(rate, func(d review.Draw) bool {
		for _, login := range []string{"rita", "rolf"} {
			if d.Drawn(c.people[login]) != slices.Contains(who, login) {
				return false
			}
		}
		return true
	})
}

// rechecks puts a policy in force and dice in place by which everything that closes is rechecked and nobody looks blind.
// It takes so many reviewers to settle.
func (c *apiClub) rechecks(reviewers int) {
	c.t.Helper()
	const rate = 0.5
	c.chance("reviewers", reviewers, "blind_rate", 0, "recheck_rate", rate)
	c.dice(rate, func(d review.Draw) bool { return d.Drawn("recheck") })
}

func (c *apiClub) chance(more ...any) {
	c.t.Helper()
	body := policyBody(append([]any{"confidence", 0.5}, more...)...)
	c.call("cora", http.MethodPut, "/api/v1/policy", body).is(http.StatusOK)
}

func (c *apiClub) dice(rate float64, wanted func(review.Draw) bool) {
	c.t.Helper()
	for i := range 10_000 {
		if seed := strconv.Itoa(i); wanted(review.Draw{Rate: rate, Seed: seed}) {
			c.seed = seed
			return
		}
	}
	require.Fail(c.t, "no such dice")
}

// asked is a submission of Ada's whose plates Rita is to look at blind.
func (c *apiClub) asked() service.SubmissionView {
	c.t.Helper()
	c.draws("rita")
	return c.submitted()
}

// closed is a confirmed submission of Ada's that Rita and Rolf are to name from the photos.
func (c *apiClub) closed() service.SubmissionView {
	c.t.Helper()
	c.rechecks(1)
	v := c.submitted()
	got := c.call("cora", http.MethodPost, at(v, "/reviews"), agrees).is(http.StatusOK).view()
	require.Equal(c.t, review.StatusConfirmed, got.Submission.Status)
	require.NotNil(c.t, got.Submission.Recheck)
	return got
}

// toLook requires that an answer of the API leads to a blind look, and returns where.
func (r *reply) toLook() string {
	r.t.Helper()
	require.Equal(r.t, http.StatusConflict, r.status, string(r.body))
	p := r.problem()
	require.Equal(r.t, blindType, p.Type)
	require.Equal(r.t, blindTitle, p.Title)
	return p.Blind
}
