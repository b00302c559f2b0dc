package service

import (
	"context"

	"revidit/review"
)

// load fetches a submission with what belongs to it, and checks that the actor may know of it, is not to look at it blind
// first, and has decided on the present version. Everything that shows a submission goes through here.
func (s *Service) load(ctx context.Context, actor review.Actor, id string, version int) (*review.Dossier, error) {
	now, err := s.loadBlind(ctx, actor, id, version)
	if err != nil {
		return nil, err
	}
	return now, s.hiddenSpecimen(ctx, actor, now.Specimen, now.Siblings)
}

// loadBlind is load for those who are to look blind and are shown no more than the question.
func (s *Service) loadBlind(ctx context.Context, actor review.Actor, id string, version int) (*review.Dossier, error) {
	submission, err := s.store.Submission(ctx, id)
	if err != nil {
		return nil, err
	}
	if !review.MayRead(actor, &submission) {
		return nil, review.Errorf(review.KindNotFound, "There is no submission %s.", id)
	}
	if version != AnyVersion && version != submission.Seq {
		return nil, review.Errorf(review.KindStale, "This submission has changed since you opened it (version %d, now %d). Nothing was stored: compare what you have with the present version and send it again.",
			version, submission.Seq)
	}
	specimen, err := s.store.Specimen(ctx, submission.Specimen)
	if err != nil {
		return nil, err
	}
	siblings, err := s.store.SubmissionsOf(ctx, submission.Specimen)
	if err != nil {
		return nil, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return nil, err
	}
	judge, err := s.Judge(ctx, submission.Group)
	if err != nil {
		return nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return nil, err
	}
	return &review.Dossier{Moment: s.moment(actor), Submission: &submission, Specimen: &specimen, Siblings: siblings, Policy: policy,
		People: &people, Seed: s.newSeed, Judge: judge}, nil
}

// act does one thing to one submission: load, decide, assess, settle, commit.
func (s *Service) act(ctx context.Context, actor review.Actor, id string, version int, decide func(*review.Dossier) (review.Decision, error)) (review.Submission, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return review.Submission{}, err
	}
	return s.carryOut(ctx, now, decide)
}

// carryOut decides, assesses, settles and commits.
func (s *Service) carryOut(ctx context.Context, now *review.Dossier, decide func(*review.Dossier) (review.Decision, error)) (review.Submission, error) {
	closedBefore := now.Submission.Closed()
	made, err := decide(now)
	if err != nil {
		return review.Submission{}, err
	}
	w := review.NewWriter(now.Moment)
	if err := now.Write(w, made); err != nil {
		return review.Submission{}, err
	}
	if err := s.commit(ctx, w); err != nil {
		return review.Submission{}, err
	}
	if !closedBefore {
		s.learn(ctx, now)
	}
	return *now.Submission, nil
}
