package service

import (
	"context"

	"revidit/review"
)

// Redetermine follows a determination with another one of the same specimen, before reviewers as a submission of its
// own, and returns that one. It cites the same observations and photos, so that no evidence counts twice; the former
// determination stays as it is, closed as redetermined.
func (s *Service) Redetermine(ctx context.Context, actor review.Actor, id string, version int, form review.RedetermineForm) (Done, error) {
	return again(ctx, func() (Done, error) { return s.redetermineOnce(ctx, actor, id, version, form) })
}

func (s *Service) redetermineOnce(ctx context.Context, actor review.Actor, id string, version int, form review.RedetermineForm) (Done, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Done{}, err
	}
	if _, err := review.Transition(actor, review.ActRedetermine, now.Submission); err != nil {
		return Done{}, err
	}
	if err := review.NotHeldByOther(now.Moment, now.Submission); err != nil {
		return Done{}, err
	}
	if err := now.ForMentor(review.Decision{Submission: []review.Change{&review.Redetermined{}}}); err != nil {
		return Done{}, err
	}
	w := review.NewWriter(now.Moment)
	next, err := s.follow(w, now, form)
	if err != nil {
		return Done{}, err
	}
	return s.done(ctx, w, next)
}

// follow closes a determination with another one of the actor's, and returns that one.
func (s *Service) follow(w *review.Writer, now *review.Dossier, form review.RedetermineForm) (*review.Dossier, error) {
	proposal, err := s.redetermination(now, form)
	if err != nil {
		return nil, err
	}
	next := &review.Dossier{Moment: now.Moment, Submission: &review.Submission{}, Specimen: now.Specimen, Siblings: withSubmission(now.Siblings, *now.Submission), Policy: now.Policy,
		People: now.People, Seed: now.Seed, Judge: now.Judge, Rests: now.Rests}
	if err := w.Submission(next.Submission, &review.Drafted{ID: now.NewID(), Proposal: proposal, Follows: now.Submission.ID}); err != nil {
		return nil, err
	}
	if err := next.Write(w, review.Decision{Submission: []review.Change{&review.Submitted{}}}); err != nil {
		return nil, err
	}
	followed := &review.Redetermined{FollowedBy: next.Submission.ID, Family: proposal.Determination.Family, Reason: form.Reason}
	if err := now.Write(w, review.Decision{Submission: []review.Change{followed}}); err != nil {
		return nil, err
	}
	next.Siblings = withSubmission(next.Siblings, *now.Submission)
	return next, nil
}

func (s *Service) redetermination(now *review.Dossier, form review.RedetermineForm) (review.Proposal, error) {
	asForm := review.SubmissionForm{Group: now.Submission.Group, Specimen: now.Specimen.ID, Family: form.Family, ScientificName: form.ScientificName, Qualifier: form.Qualifier, Doubted: form.Doubted}
	var p review.Problems
	asForm.CheckName(&p, now.Judge.Tables())
	if form.Family == "" {
		p.Addf("family", "name the family")
	}
	review.CheckText(&p, "reason", form.Reason, 1, review.MaxNote)
	proposal := asForm.Proposal(now.Judge.Tables(), now.Actor.Person, now.Moment, now.Standing())
	proposal.Photos, proposal.Remarks, proposal.Wider = now.Submission.Photos, form.Reason, now.Submission.Wider
	old := now.Submission.Determination
	if old.Family == proposal.Determination.Family && old.ScientificName == proposal.Determination.ScientificName {
		p.Addf("family", "this is the name that the specimen has; give your opinion on it instead")
	}
	return proposal, p.Err()
}
