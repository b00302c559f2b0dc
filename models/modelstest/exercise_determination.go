package modelstest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var determinations = map[string]func(fixture){
	"determinations that stand are visited":       standingVisited,
	"each of many determinations is visited once": manyVisited,
	"a visit that fails ends them":                visitFails,
	"a visit may write":                           visitWrites,
}

// visited returns the ids that EachDetermination visits, sorted, and requires that each comes with what belongs to it.
func (f fixture) visited(group string) []string {
	f.Helper()
	ids := []string{}
	err := f.db.EachDetermination(f.Context(), group, func(s review.Submission, spec review.Specimen, siblings []review.Submission) error {
		ids = append(ids, s.ID)
		require.Equal(f, f.submission(s.ID), s)
		specimen, err := f.db.Specimen(f.Context(), s.Specimen)
		require.NoError(f, err)
		require.Equal(f, specimen, spec)
		all, err := f.db.SubmissionsOf(f.Context(), s.Specimen)
		require.NoError(f, err)
		require.Equal(f, all, siblings)
		return nil
	})
	require.NoError(f, err)
	slices.Sort(ids)
	return ids
}

// standingVisited: one submission of each status in each of two groups, and one that names none.
func standingVisited(f fixture) {
	for _, group := range []string{"adults", "larvae"} {
		f.add(entry{id: group + "-draft", group: group, draft: true})
		for name, change := range map[string]review.Change{
			"open": nil, "returned": &review.Returned{Return: review.Return{ID: "r"}}, "confirmed": &review.Confirmed{},
			"redetermined": &review.Redetermined{}, "undetermined": &review.Undetermined{}, "withdrawn": &review.Withdrawn{},
		} {
			id := group + "-" + name
			f.add(entry{id: id, catalogue: id, group: group})
			if change != nil {
				f.commit(event(review.SubmissionStream(id), 4, "rex", noon, change))
			}
		}
	}
	f.add(entry{id: "groupless"})
	sibling := func(id, specimen, group string, at time.Time) {
		f.commit(event(review.SubmissionStream(id), 1, "rex", at, &review.Drafted{ID: id, Proposal: review.Proposal{Group: group, Specimen: specimen}}),
			event(review.SubmissionStream(id), 2, "rex", at, &review.Submitted{}))
	}
	sibling("follows", "adults-redetermined", "adults", noon.Add(time.Second))
	sibling("before", "adults-redetermined", "adults", noon.Add(-time.Second))
	sibling("in-another-group", "adults-open", "larvae", noon)

	require.Equal(f, []string{"adults-confirmed", "adults-open", "adults-returned", "before", "follows"}, f.visited("adults"))
	require.Equal(f, []string{"in-another-group", "larvae-confirmed", "larvae-open", "larvae-returned"}, f.visited("larvae"))
	require.Equal(f, []string{"groupless"}, f.visited(""))
	for _, unknown := range []string{"none", "%", "Adults", "a\x00b"} {
		require.Empty(f, f.visited(unknown))
	}
}

// manyVisited: more than any page, with submissions of one specimen far from each other and others between them.
func manyVisited(f fixture) {
	const specimens, each = 230, 3
	var events []review.Event
	var want []string
	for i := range specimens {
		specimen := fmt.Sprintf("specimen-%03d", i)
		events = append(events, event(review.SpecimenStream(specimen), 1, "o", noon, &review.SpecimenRegistered{ID: specimen}))
		for j := range each {
			id, group := fmt.Sprintf("%d-%03d", j, i), []string{"adults", "adults", "larvae"}[(i+j)%3]
			events = append(events, event(review.SubmissionStream(id), 1, "o", noon, &review.Drafted{ID: id, Proposal: review.Proposal{Group: group, Specimen: specimen}}))
			if i%10 == 7 {
				continue // stays a draft
			}
			events = append(events, event(review.SubmissionStream(id), 2, "o", noon, &review.Submitted{}))
			if group == "adults" {
				want = append(want, id)
			}
		}
	}
	f.commit(events...)
	slices.Sort(want)
	require.Greater(f, len(want), 400)
	require.Equal(f, want, f.visited("adults"))
}

func visitFails(f fixture) {
	for _, id := range []string{"a", "b", "c"} {
		f.add(entry{id: id, group: "adults"})
	}
	fault, visits := errors.New("no more"), 0
	err := f.db.EachDetermination(f.Context(), "adults", func(review.Submission, review.Specimen, []review.Submission) error {
		if visits++; visits == 2 {
			return fault
		}
		return nil
	})
	require.Equal(f, fault, err)
	require.Equal(f, 2, visits)

	ended, cancel := context.WithCancel(f.Context())
	cancel()
	err = f.db.EachDetermination(ended, "adults", func(review.Submission, review.Specimen, []review.Submission) error { return nil })
	require.ErrorIs(f, err, context.Canceled)
}

// visitWrites: were a transaction held, the write would wait for it until the deadline.
func visitWrites(f fixture) {
	for i := range 20 { // more than a pool has connections
		f.add(entry{id: fmt.Sprintf("s%02d", i), group: "adults"})
	}
	ctx, cancel := context.WithTimeout(f.Context(), time.Minute)
	defer cancel()
	err := f.db.EachDetermination(ctx, "adults", func(s review.Submission, _ review.Specimen, _ []review.Submission) error {
		return f.db.Commit(ctx, f.batch(event(review.SubmissionStream(s.ID), s.Seq+1, "rex", noon, &review.Undetermined{Reason: "worn"})))
	})
	require.NoError(f, err)
	require.Empty(f, f.visited("adults"))
	require.Len(f, f.find(service.SubmissionFilter{Status: review.StatusUndetermined}, 50), 20)
}
