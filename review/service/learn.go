package service

import (
	"context"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/jobs"
)

// learnedAtOnce is how many specimens are weighed together: a slice that collides with a refit loses no more.
const learnedAtOnce = 100

// learnSlice takes in closed specimens from which nothing was learnt yet, the earliest closed first. That they were taken
// in is stored with what was learnt, so that none is taken in twice; a refit marks those that it has seen in the same way.
func (s *Service) learnSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Group](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	if done, err := s.complete(ctx, slice); err != nil || !done {
		return JobStep{Cursor: slice.Cursor, Done: slice.Done, More: true}, err
	}
	judge, err := s.Judge(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	group := judge.Tables().Group.ID
	waiting, next, err := s.store.FindTestimonies(ctx, TestimonyFilter{Group: group, Waiting: true, Unread: s.unread().add}, Page{Size: max(learnedAtOnce>>slice.Try, 1)})
	if err != nil || len(waiting) == 0 {
		return JobStep{Done: slice.Done, Total: slice.Total}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return JobStep{}, err
	}
	known, err := s.reliability(ctx, group)
	if err != nil {
		return JobStep{}, err
	}
	m := s.moment(itself).NotBefore(known.At)
	learnt, people, err := audit.Learn(judge, known, waiting, policy.Prior(judge.Tables()), m.Now)
	if err != nil {
		return JobStep{}, err
	}
	change := &review.ReliabilityLearned{Items: learnt.Items - known.Items, People: map[string]review.PersonKnown{}}
	for _, c := range waiting {
		change.Specimens = append(change.Specimens, c.Specimen.ID)
	}
	for _, id := range people {
		change.People[id] = learnt.People[id]
	}
	change.Mentions = learnt.MentionsSince(known)
	w := review.NewWriter(m)
	if err := w.Reliability(&known, change); err != nil {
		return JobStep{}, err
	}
	return JobStep{Batch: w.Finished(), Done: slice.Done + len(waiting), More: next != ""}, nil
}

// learnDue: something was closed from which nothing was learnt yet, or was closed before testimonies were kept.
func (s *Service) learnDue(ctx context.Context, group, _ string) ([]jobs.Job, error) {
	waiting, err := s.store.TestimonyWaits(ctx, group)
	if err != nil || !waiting {
		return nil, err
	}
	return []jobs.Job{jobs.Learn(group)}, nil
}
