package service

import (
	"context"

	"revidit/review"
)

// Answer adds the owner's answer and new evidence; a returned submission comes before reviewers again.
func (s *Service) Answer(ctx context.Context, actor review.Actor, id string, version int, form review.AnswerForm) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		if _, err := review.Transition(actor, review.ActAnswer, now.Submission); err != nil {
			return review.Decision{}, err
		}
		uploads, err := s.uploads(ctx, actor, form.Photos, now.Specimen, nil)
		if err != nil {
			return review.Decision{}, err
		}
		return review.DecideAnswer(now.Moment, now.Submission, now.Specimen, form, uploads, now.Judge)
	})
}
