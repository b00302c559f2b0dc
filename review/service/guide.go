package service

import (
	"context"
	"maps"
	"slices"

	"revidit/review"
	"revidit/review/judgement"
)

// Guide is where the owner of a draft stands who is asked one question after another. It rests on what the draft itself states,
// never on what others said of its specimen, and nothing of it is stored.
type Guide struct {
	View SubmissionView
	// Alone is the assessment of the draft by itself.
	Alone judgement.Assessment
	// First are the questions of the wider group that are still to be asked, Next the characters, in the order in which they tell
	// most for what they take: none of either is answered.
	First, Next []judgement.Next
	// Wider are all questions of the wider group.
	Wider []judgement.Next
	// New is a draft of somebody of whom nothing is known yet.
	New bool
	// Told is what its owner was told before that does not fit.
	Told []judgement.Selected
}

// Guide tells the owner of a draft what to look at next.
func (s *Service) Guide(ctx context.Context, actor review.Actor, id string) (Guide, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return Guide{}, err
	}
	if _, err := review.Transition(actor, review.ActRevise, now.Submission); err != nil {
		return Guide{}, err
	}
	view, err := s.view(ctx, actor, now)
	if err != nil {
		return Guide{}, err
	}
	g := Guide{View: view, Alone: now.Alone(), New: now.People.New(actor.Person, actor.Role),
		Wider: now.Judge.WiderQuestions()}
	if now.Draft != nil {
		g.Told = now.Draft.Told
	}
	answered := now.Answered()
	open := func(asked []judgement.Next, wider bool) []judgement.Next {
		return slices.DeleteFunc(slices.Clone(asked), func(n judgement.Next) bool {
			return (n.Group != "") != wider || slices.Contains(answered, review.Asked{Group: n.Group, Character: n.Character})
		})
	}
	if g.New || len(now.Submission.Wider) > 0 {
		g.First = open(g.Wider, true)
	} else {
		g.First = open(g.Alone.Next, true) // where what is stated fits nothing
	}
	g.Next = open(g.Alone.Next, false)
	return g, nil
}

// Rename gives a draft another name, in place of whatever was typed that is none.
func (s *Service) Rename(ctx context.Context, actor review.Actor, id, family string) error {
	_, err := s.revise(ctx, actor, id, AnyVersion, func(now *review.Dossier) review.Revision {
		loose := review.Loose{}
		if now.Draft != nil {
			maps.Copy(loose, now.Draft.Loose)
		}
		delete(loose, "family")
		return review.Revision{Family: &family, Loose: &loose}
	}, justSave)
	return err
}

// BeginAgain changes of a draft what the page has on which it was begun: name, photos and number. What else it holds stays.
func (s *Service) BeginAgain(ctx context.Context, actor review.Actor, id string, form review.SubmissionForm, number string) error {
	_, err := s.revise(ctx, actor, id, AnyVersion, func(now *review.Dossier) review.Revision {
		loose := review.Loose{}
		if now.Draft != nil {
			maps.Copy(loose, now.Draft.Loose)
		}
		for _, field := range []string{"family", "label.catalogue_number"} {
			delete(loose, field)
			if text := form.Loose[field]; text != "" {
				loose[field] = text
			}
		}
		r := review.Revision{Family: &form.Family, Photos: append([]review.PhotoForm{}, form.Photos...), Loose: &loose}
		r.Observations = now.WithoutPhotos(form.Photos)
		if now.Draft != nil && !now.Draft.Registered && loose["label.catalogue_number"] == "" {
			label := now.Specimen.Label
			label.CatalogueNumber = number
			r.Label = &label
		}
		return r
	}, justSave)
	return err
}

// Tell takes one answer of the owner of a draft, on whatever version of it: it replaces the answer about this one character
// and leaves everything else as it is.
func (s *Service) Tell(ctx context.Context, actor review.Actor, id string, step review.Step) (Done, error) {
	return s.revise(ctx, actor, id, AnyVersion, func(now *review.Dossier) review.Revision { return step.On(now) }, justSave)
}
