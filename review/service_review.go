package review

import "context"

// Submit puts a stored draft before reviewers.
func (s *Service) Submit(ctx context.Context, actor Actor, id string, version int) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		if _, err := Transition(actor, ActSubmit, now.submission); err != nil {
			return decision{}, err
		}
		if err := now.complete(); err != nil {
			return decision{}, err
		}
		return decision{submission: []Change{&Submitted{}}}, nil
	})
}

// complete says what a draft still lacks before reviewers can look at it.
func (now *situation) complete() error {
	var p Problems
	if now.specimen.Label.CatalogueNumber == "" {
		p.Addf("label.catalogue_number", "give the number under which the specimen can be found")
	}
	if now.submission.Determination.Family == "" {
		p.Addf("family", "propose a family, so that reviewers have something to look at")
	}
	if len(now.submission.Photos) == 0 {
		p.Addf("photos", "add at least one photo: reviewers judge what they can see")
	}
	if len(now.submission.Cites) == 0 {
		p.Addf("observations", "state at least one character that you observed")
	}
	return p.Err()
}

// Hold keeps an open submission for the actor until the policy's time has run out. Holding again extends it.
func (s *Service) Hold(ctx context.Context, actor Actor, id string, version int) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideHold(now.Moment, now.submission, now.policy)
	})
}

// Release ends the actor's own hold early.
func (s *Service) Release(ctx context.Context, actor Actor, id string, version int) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideRelease(now.Moment, now.submission)
	})
}

// Review saves a reviewer's verdicts and opinion of one sitting. The submission settles when the policy is satisfied.
func (s *Service) Review(ctx context.Context, actor Actor, id string, version int, form ReviewForm) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideReview(now.Moment, now.submission, now.specimen, form, now.judge)
	})
}

// Reply gives a written reason why a contradiction does not stand. The submission settles when the policy is satisfied.
func (s *Service) Reply(ctx context.Context, actor Actor, id string, version int, form ReplyForm) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideReply(now.Moment, now.submission, form)
	})
}

// Return sends a submission back to its owner with a request.
func (s *Service) Return(ctx context.Context, actor Actor, id string, version int, form ReturnForm) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideReturn(now.Moment, now.submission, form, now.judge.Tables())
	})
}

// Answer adds the owner's answer and new evidence; a returned submission comes before reviewers again.
func (s *Service) Answer(ctx context.Context, actor Actor, id string, version int, form AnswerForm) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		if _, err := Transition(actor, ActAnswer, now.submission); err != nil {
			return decision{}, err
		}
		uploads, err := s.uploads(ctx, actor, form.Photos, now.specimen)
		if err != nil {
			return decision{}, err
		}
		return decideAnswer(now.Moment, now.submission, now.specimen, form, uploads, now.judge)
	})
}

// Settle confirms a submission on the authority of a reviewer whom the policy names for its family. The confidence
// stays what it is.
func (s *Service) Settle(ctx context.Context, actor Actor, id string, version int, reason string) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideSettle(now.Moment, now.submission, now.policy, reason)
	})
}

// Undetermine closes a submission as indet.
func (s *Service) Undetermine(ctx context.Context, actor Actor, id string, version int, reason string) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideUndetermine(now.Moment, now.submission, reason)
	})
}

// Withdraw closes a submission, or discards a draft, for its owner.
func (s *Service) Withdraw(ctx context.Context, actor Actor, id string, version int, reason string) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideWithdraw(now.Moment, now.submission, reason)
	})
}

// Reopen puts a closed submission before reviewers again.
func (s *Service) Reopen(ctx context.Context, actor Actor, id string, version int, reason string) (Submission, error) {
	return s.act(ctx, actor, id, version, func(now *situation) (decision, error) {
		return decideReopen(now.Moment, now.submission, reason)
	})
}

// Redetermine follows a determination with another one of the same specimen, before reviewers as a submission of its
// own, and returns that one. It cites the same observations and photos, so that no evidence counts twice; the former
// determination stays as it is, closed as redetermined.
func (s *Service) Redetermine(ctx context.Context, actor Actor, id string, version int, form RedetermineForm) (Submission, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Submission{}, err
	}
	if _, err := Transition(actor, ActRedetermine, now.submission); err != nil {
		return Submission{}, err
	}
	if err := notHeldByOther(now.Moment, now.submission); err != nil {
		return Submission{}, err
	}
	proposal, err := s.redetermination(now, form)
	if err != nil {
		return Submission{}, err
	}
	w := newWriter(now.Moment)
	next := &situation{Moment: now.Moment, submission: &Submission{}, specimen: now.specimen, siblings: now.siblings, policy: now.policy,
		people: now.people, seed: now.seed, judge: now.judge}
	if err := w.submission(next.submission, &Drafted{ID: now.NewID(), Proposal: proposal, Follows: id}); err != nil {
		return Submission{}, err
	}
	if err := next.write(w, decision{submission: []Change{&Submitted{}}}); err != nil {
		return Submission{}, err
	}
	followed := &Redetermined{FollowedBy: next.submission.ID, Family: proposal.Determination.Family, Reason: form.Reason}
	if err := w.submission(now.submission, followed); err != nil {
		return Submission{}, err
	}
	if err := s.commit(ctx, w); err != nil {
		return Submission{}, err
	}
	return *next.submission, nil
}

func (s *Service) redetermination(now *situation, form RedetermineForm) (Proposal, error) {
	asForm := SubmissionForm{Group: now.submission.Group, Specimen: now.specimen.ID, Family: form.Family, ScientificName: form.ScientificName, Qualifier: form.Qualifier}
	var p Problems
	asForm.checkName(&p, now.judge.Tables())
	if form.Family == "" {
		p.Addf("family", "name the family")
	}
	checkText(&p, "reason", form.Reason, 1, maxNote)
	proposal := asForm.proposal(now.judge.Tables(), now.Actor.Person, now.Now, now.standing())
	proposal.Photos, proposal.Remarks = now.submission.Photos, form.Reason
	old := now.submission.Determination
	if old.Family == proposal.Determination.Family && old.ScientificName == proposal.Determination.ScientificName {
		p.Addf("family", "this is the name that the specimen has; give your opinion on it instead")
	}
	return proposal, p.Err()
}

// standing are the cited observations that nobody has taken back.
func (now *situation) standing() []string {
	ids := []string{}
	for _, id := range now.submission.Cites {
		if o, ok := now.specimen.Observation(id); ok && o.Withdrawn == "" {
			ids = append(ids, id)
		}
	}
	return ids
}
