package models

import (
	"slices"
	"strings"
	"time"

	"revidit/review"
)

// record is a specimen with all of its submissions and their events from the first on.
type record struct {
	specimen    *review.Specimen
	submissions []review.Submission
	events      []review.Event
}

// specimenOf is the id in the name of a specimen's stream.
func specimenOf(stream string) string {
	return strings.TrimPrefix(stream, review.SpecimenStream(""))
}

// wholeRecords are those that a batch begins, by id of the specimen: nothing of them can be stored already.
func wholeRecords(batch review.Batch) map[string]*record {
	registered := map[string]bool{}
	for _, e := range batch.Events {
		if _, ok := e.Change.(*review.SpecimenRegistered); ok {
			registered[specimenOf(e.Stream)] = true
		}
	}
	whole, of := map[string]*record{}, map[string]*record{} // by id and by stream
	for i := range batch.Specimens {
		if s := &batch.Specimens[i]; registered[s.ID] {
			whole[s.ID] = &record{specimen: s}
			of[review.SpecimenStream(s.ID)] = whole[s.ID]
		}
	}
	for _, s := range batch.Submissions {
		if r := whole[s.Specimen]; r != nil {
			r.submissions = append(r.submissions, s)
			of[review.SubmissionStream(s.ID)] = r
		}
	}
	for _, e := range batch.Events {
		if r := of[e.Stream]; r != nil {
			r.events = append(r.events, e)
		}
	}
	return whole
}

// testimonyRows are those that its whole life leaves: of a specimen that is open again they stay as they were before.
func (r *record) testimonyRows() ([]testimonyRow, error) {
	review.InOrder(r.submissions)
	if closed, ok := review.ClosedOf(r.specimen, r.submissions); ok {
		return toTestimonyRows(closed)
	}
	for _, opened := range r.openings() {
		before, err := r.before(opened)
		if err != nil || before == nil {
			return nil, err
		}
		closed, ok := review.ClosedOf(before.specimen, before.submissions)
		if !ok {
			continue
		}
		rows, err := toTestimonyRows(closed)
		for i := range rows {
			rows[i].ClosedAt = nil
		}
		return rows, err
	}
	return nil, nil
}

// openings are the times at which a submission came before reviewers, the last first.
func (r *record) openings() []time.Time {
	var times []time.Time
	for _, e := range r.events {
		switch e.Change.(type) {
		case *review.Submitted, *review.Reopened:
			times = append(times, e.At)
		}
	}
	slices.SortFunc(times, func(a, b time.Time) int { return b.Compare(a) })
	return times
}

// before is the record as it was before an act, nil before the first one.
func (r *record) before(act time.Time) (*record, error) {
	return r.of(func(e review.Event) bool { return e.At.Before(act) })
}

// until is the record as an act has left it, nil before the first one; its submissions are in the order of Closed.
func (r *record) until(act time.Time) (*record, error) {
	then, err := r.of(func(e review.Event) bool { return !e.At.After(act) })
	if then != nil {
		review.InOrder(then.submissions)
	}
	return then, err
}

// of is what the first events of each stream make, up to one that is not taken: clocks of long ago were set back.
func (r *record) of(takes func(review.Event) bool) (*record, error) {
	streams, ended := map[string][]review.Event{}, map[string]bool{}
	for _, e := range r.events {
		if !takes(e) {
			ended[e.Stream] = true
		}
		if !ended[e.Stream] {
			streams[e.Stream] = append(streams[e.Stream], e)
		}
	}
	events := streams[review.SpecimenStream(r.specimen.ID)]
	if len(events) == 0 {
		return nil, nil
	}
	specimen, err := review.ReplaySpecimen(events)
	if err != nil {
		return nil, err
	}
	before := &record{specimen: &specimen}
	for _, s := range r.submissions {
		events := streams[review.SubmissionStream(s.ID)]
		if len(events) == 0 {
			continue
		}
		was, err := review.ReplaySubmission(events)
		if err != nil {
			return nil, err
		}
		before.submissions = append(before.submissions, was)
	}
	return before, nil
}
