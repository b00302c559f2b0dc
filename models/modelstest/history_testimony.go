package modelstest

import (
	"context"
	"strconv"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// testimonies are all of a group, by specimen.
func (w *world) testimonies(filter service.TestimonyFilter) map[string]review.Closed {
	w.Helper()
	found := map[string]review.Closed{}
	for page := (service.Page{Size: 50}); ; {
		some, next, err := w.db.FindTestimonies(context.Background(), filter, page)
		require.NoError(w, err)
		for _, c := range some {
			require.NotContains(w, found, c.Specimen.ID)
			found[c.Specimen.ID] = c
		}
		if page.Cursor = next; next == "" {
			return found
		}
	}
}

// requireTestimonies: what is kept of closed specimens is what their values tell, and nothing is kept of others.
func (w *world) requireTestimonies() {
	w.Helper()
	want := map[string]map[string]review.Closed{firstGroup: {}, otherGroup: {}}
	for _, id := range w.specimens {
		spec, err := w.db.Specimen(w.Context(), id)
		require.NoError(w, err)
		submissions, err := w.db.SubmissionsOf(w.Context(), id)
		require.NoError(w, err)
		closed, ok := review.ClosedOf(&spec, submissions)
		if !ok {
			continue
		}
		for _, group := range closed.Groups() {
			want[group][id] = renumbered(closed.Testimony())
		}
	}
	require.NotEmpty(w, want[firstGroup])
	for group, of := range want {
		got := w.testimonies(service.TestimonyFilter{Group: group})
		for id, c := range got {
			got[id] = renumbered(c)
		}
		require.Equal(w, of, got, group)
	}
}

// renumbered has the places of observations as their ids, and what was said in the order of observations.
func renumbered(c review.Closed) review.Closed {
	s := review.Submission{Specimen: c.Specimen.ID, Verdicts: []review.Verdict{}}
	spec := c.Specimen
	spec.Observations = nil
	for i, o := range c.Specimen.Observations {
		id := strconv.Itoa(i)
		for _, b := range c.Submissions[0].Blind {
			if b.Observation == o.ID {
				b.Observation = id
				s.Blind = append(s.Blind, b)
			}
		}
		for _, v := range c.Submissions[0].Verdicts {
			if v.Observation == o.ID {
				v.Observation = id
				s.Verdicts = append(s.Verdicts, v)
			}
		}
		o.ID = id
		spec.Observations = append(spec.Observations, o)
		if o.Withdrawn == "" {
			s.Cites = append(s.Cites, id)
		}
	}
	s.Opinions = c.Submissions[0].Opinions
	return review.Closed{Specimen: spec, Submissions: []review.Submission{s}}
}

// snapshotTestimonies adds what is kept of closed specimens, and from which of them is to be learnt.
func (w *world) snapshotTestimonies(all map[string]any) {
	for _, group := range []string{firstGroup, otherGroup} {
		all["closed in "+group] = w.testimonies(service.TestimonyFilter{Group: group})
		all["waiting in "+group] = w.testimonies(service.TestimonyFilter{Group: group, Waiting: true})
		drawn, closed, err := w.db.Rechecks(context.Background(), group, 10_000, nil)
		require.NoError(w, err)
		all["rechecks in "+group], all["closed determinations in "+group] = drawn, closed
	}
}
