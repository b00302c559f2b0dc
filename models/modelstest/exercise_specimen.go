package modelstest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var specimens = map[string]func(fixture){
	"specimens that came before reviewers are visited": specimensVisited,
	"each of many specimens is visited once":           manySpecimens,
	"a visit to a specimen that fails ends them":       specimenVisitFails,
	"a visit to a specimen may write":                  specimenVisitWrites,
	"photos that look alike are found":                 photosAlike,
}

// photosAlike: by the digest, and by a look of which few bits differ.
func photosAlike(f fixture) {
	look := "0f1e2d3c4b5a69788796a5b4c3d2e1f0"
	digest := func(n string) string { return strings.Repeat(n, 64) }
	for id, u := range map[string]struct{ sha256, look string }{
		"same": {digest("1"), look}, "alike": {digest("2"), "0f1e2d3c4b5a69788796a5b4c3d2e10f"}, "far": {digest("3"), "0f1effffffffffffffffffffffffffff"}, "without": {digest("4"), ""},
	} {
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Upload: &review.Upload{Photo: review.Photo{ID: id, SHA256: u.sha256, Type: "image/jpeg", Width: 1, Height: 1, By: "o", At: noon}, Look: u.look}}))
	}
	found := func(sha256, look string) (ids []string) {
		uploads, err := f.db.SeenPhotos(f.Context(), sha256, look)
		require.NoError(f, err)
		for _, u := range uploads {
			ids = append(ids, u.ID)
		}
		slices.Sort(ids)
		return ids
	}
	require.Equal(f, []string{"alike", "same"}, found(digest("1"), look))
	require.Equal(f, []string{"without"}, found(digest("4"), ""))
	require.Equal(f, []string{"alike", "same"}, found(digest("5"), look))
	require.Empty(f, found(digest("5"), ""))
}

// specimensOf returns the ids that EachSpecimen visits, sorted, and requires that each comes with what belongs to it.
func (f fixture) specimensOf(group string) []string {
	f.Helper()
	ids := []string{}
	err := f.db.EachSpecimen(f.Context(), group, func(spec review.Specimen, submissions []review.Submission) error {
		ids = append(ids, spec.ID)
		specimen, err := f.db.Specimen(f.Context(), spec.ID)
		require.NoError(f, err)
		require.Equal(f, specimen, spec)
		all, err := f.db.SubmissionsOf(f.Context(), spec.ID)
		require.NoError(f, err)
		require.Equal(f, all, submissions)
		return nil
	})
	require.NoError(f, err)
	slices.Sort(ids)
	return ids
}

// specimensVisited: a specimen for each way in which its submissions can stand.
func specimensVisited(f fixture) {
	f.add(entry{id: "draft", owner: "o", group: "adults", draft: true})
	f.add(entry{id: "discarded", owner: "o", group: "adults", draft: true})
	f.next("discarded", "o", noon, &review.Withdrawn{})
	f.add(entry{id: "open", owner: "o", group: "adults"})
	f.add(entry{id: "closed", owner: "o", group: "adults"})
	f.next("closed", "rex", noon, &review.Undetermined{Reason: "worn"})
	f.add(entry{id: "withdrawn", owner: "o", group: "adults"})
	f.next("withdrawn", "o", noon, &review.Withdrawn{})
	f.add(entry{id: "larva", owner: "o", group: "larvae"})
	f.add(entry{id: "groupless", owner: "o"})
	sibling := func(id, specimen, group string, at time.Time, changes ...review.Change) {
		f.commit(event(review.SubmissionStream(id), 1, "rex", at, &review.Drafted{ID: id, Proposal: review.Proposal{Group: group, Specimen: specimen}}))
		f.next(id, "rex", at, changes...)
	}
	sibling("later", "closed", "adults", noon.Add(time.Second), &review.Submitted{})
	sibling("earlier", "closed", "adults", noon.Add(-time.Second), &review.Submitted{})
	sibling("as larva", "open", "larvae", noon, &review.Submitted{})
	sibling("as larva, a draft", "withdrawn", "larvae", noon)

	require.Equal(f, []string{"closed", "open", "withdrawn"}, f.specimensOf("adults"), "with submissions of other groups and drafts")
	require.Equal(f, []string{"larva", "open"}, f.specimensOf("larvae"))
	require.Equal(f, []string{"groupless"}, f.specimensOf(""))
	for _, unknown := range []string{"none", "%", "Adults", "a\x00b", "\xff"} {
		require.Empty(f, f.specimensOf(unknown))
	}
}

// manySpecimens: more than any page, with several submissions each.
func manySpecimens(f fixture) {
	var events []review.Event
	var want []string
	for i := range 450 {
		specimen := fmt.Sprintf("specimen-%03d", i)
		events = append(events, event(review.SpecimenStream(specimen), 1, "o", noon, &review.SpecimenRegistered{ID: specimen}))
		for j := range 1 + i%3 {
			id := fmt.Sprintf("%d-%03d", 2-j, i)
			events = append(events, event(review.SubmissionStream(id), 1, "o", noon, &review.Drafted{ID: id, Proposal: review.Proposal{Group: "adults", Specimen: specimen}}),
				event(review.SubmissionStream(id), 2, "o", noon, &review.Submitted{}))
		}
		want = append(want, specimen)
	}
	f.commit(events...)
	require.Equal(f, want, f.specimensOf("adults"))
}

func specimenVisitFails(f fixture) {
	for _, id := range []string{"a", "b", "c"} {
		f.add(entry{id: id, group: "adults"})
	}
	fault, visits := errors.New("no more"), 0
	err := f.db.EachSpecimen(f.Context(), "adults", func(review.Specimen, []review.Submission) error {
		if visits++; visits == 2 {
			return fault
		}
		return nil
	})
	require.Equal(f, fault, err)
	require.Equal(f, 2, visits)

	ended, cancel := context.WithCancel(f.Context())
	cancel()
	err = f.db.EachSpecimen(ended, "adults", func(review.Specimen, []review.Submission) error { return nil })
	require.ErrorIs(f, err, context.Canceled)
}

// specimenVisitWrites: were a transaction held, the write would wait for it until the deadline.
func specimenVisitWrites(f fixture) {
	for i := range 20 { // more than a pool has connections
		f.add(entry{id: fmt.Sprintf("s%02d", i), group: "adults"})
	}
	ctx, cancel := context.WithTimeout(f.Context(), time.Minute)
	defer cancel()
	err := f.db.EachSpecimen(ctx, "adults", func(spec review.Specimen, submissions []review.Submission) error {
		s := submissions[0]
		return f.db.Commit(ctx, f.batch(event(review.SubmissionStream(s.ID), s.Seq+1, "rex", noon, &review.Undetermined{Reason: "worn"})))
	})
	require.NoError(f, err)
	require.Len(f, f.find(service.SubmissionFilter{Status: review.StatusUndetermined}, 50), 20)
}
