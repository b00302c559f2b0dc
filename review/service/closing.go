package service

import (
	"context"

	"revidit/review"
)

// Undetermine closes a submission as one that cannot be named (review.Indet)
func (s *Service) Undetermine(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideUndetermine(now.Moment, now.Submission, reason)
	})
}

// Withdraw closes a submission, or discards a draft, for its owner.
func (s *Service) Withdraw(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		made, err := review.DecideWithdraw(now.Moment, now.Submission, reason)
		switch {
		case err != nil || now.Submission.OpenedAt != nil:
			return made, err
		case now.Draft != nil:
			gone := now.Draft.Discarded(now.Moment)
			return review.Decision{Draft: &gone}, nil
		}
		made.Specimen = now.Discarded(nil, review.ReasonDraftWithdrawn)
		return made, nil
	})
}

// Reopen puts a closed submission before reviewers again.
func (s *Service) Reopen(ctx context.Context, actor review.Actor, id string, version int, reason string) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideReopen(now.Moment, now.Submission, reason)
	})
}
