package service

import (
	"context"

	"revidit/review"
)

// PanelOpinion saves the family that the actor names on the panel of a closed determination.
func (s *Service) PanelOpinion(ctx context.Context, actor review.Actor, id string, version int, form review.PanelForm) (Done, error) {
	return s.panel(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecidePanel(now.Moment, now.Submission, form, now.Judge.Tables())
	})
}

// LeavePanel shows the determination to the actor, who then no longer sits on its panel.
func (s *Service) LeavePanel(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return s.panel(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		return review.DecideLeave(now.Moment, now.Submission)
	})
}

func (s *Service) panel(ctx context.Context, actor review.Actor, id string, version int, decide func(*review.Dossier) (review.Decision, error)) (Done, error) {
	return again(ctx, func() (Done, error) {
		now, _, err := s.loadBlind(ctx, actor, id, version)
		if err != nil {
			return Done{}, err
		}
		if !now.OnPanel() {
			return Done{}, review.Errorf(review.KindConflict, "You do not sit on the panel of this determination: it is not being rechecked, or you have had to do with it. Nothing was stored.")
		}
		return s.carryOut(ctx, now, decide)
	})
}
