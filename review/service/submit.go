package service

import (
	"context"
	"slices"
	"strconv"

	"revidit/review"
)

// Draft stores a submission that its owner goes on writing. key is an idempotency key, or empty: the same key with the
// same form returns the submission that it made before.
func (s *Service) Draft(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string) (Done, error) {
	return s.begin(ctx, actor, form, key, justSave)
}

// SubmitNew stores a submission and puts it before reviewers, in one step. See Draft for key.
func (s *Service) SubmitNew(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string) (Done, error) {
	return s.begin(ctx, actor, form, key, submitAtOnce)
}

// SubmitNewTold is SubmitNew for somebody who is to see first what does not fit: where there is anything, it is stored as a
// draft, which says so, and is submitted from there.
func (s *Service) SubmitNewTold(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string) (Done, error) {
	return s.begin(ctx, actor, form, key, submitTold)
}

// ending is what becomes of a form once it is stored.
type ending int

const (
	justSave     ending = iota // as a draft
	submitAtOnce               // before reviewers
	submitTold                 // before reviewers, unless something does not fit of which its owner has not been told yet
)

// submits says whether it has to be fit to be put before reviewers.
func (e ending) submits() bool { return e != justSave }

func (s *Service) begin(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string, end ending) (made Done, err error) {
	if !review.May(actor, review.ActDraft, "") {
		return Done{}, review.Forbidden(actor, review.ActDraft, "")
	}
	asked, err := s.beginning(ctx, actor, form, key, end.submits())
	if err != nil {
		return Done{}, err
	}
	before, err := s.Once(ctx, actor, key, asked, func(ctx context.Context) (err error) {
		made, err = again(ctx, func() (Done, error) { return s.beginOnce(ctx, actor, form, end) })
		return err
	})
	if err != nil || before == "" {
		return made, err
	}
	known, err := s.begun(ctx, actor, before)
	return Done{Submission: known}, err
}

// begun is a submission of an actor, or a draft, that is known to have been there.
func (s *Service) begun(ctx context.Context, actor review.Actor, id string) (review.Submission, error) {
	d, err := s.store.Draft(ctx, actor.Person, id) // before submissions: it may become one meanwhile
	if review.KindOf(err) == review.KindNotFound {
		return s.store.Submission(ctx, id)
	}
	return d.Submission(), err
}

// beginning is what is asked for when a submission is begun. A photo stands for its bytes: a form that brings its files along
// stores them anew each time that it is sent.
func (s *Service) beginning(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string, submit bool) (any, error) {
	asked := struct {
		Form   review.SubmissionForm
		Photos map[string]string // SHA-256 by the id that the form has been given in its place
		Submit bool
	}{form, map[string]string{}, submit}
	if key == "" || len(form.Photos) == 0 {
		return asked, nil
	}
	uploads, err := s.store.Uploads(ctx, photosIn(form))
	if err != nil {
		return nil, err
	}
	place := map[string]string{} // of a photo in the form
	asked.Form.Photos = slices.Clone(form.Photos)
	for i, p := range form.Photos {
		if u, ok := uploads[p.Photo]; ok && u.By == actor.Person {
			place[p.Photo] = strconv.Itoa(i)
			asked.Form.Photos[i].Photo, asked.Photos[strconv.Itoa(i)] = place[p.Photo], u.SHA256
		}
	}
	asked.Form.Observations = slices.Clone(form.Observations)
	for i, o := range form.Observations {
		if at, ok := place[o.Photo]; ok {
			asked.Form.Observations[i].Photo = at
		}
	}
	return asked, nil
}

func photosIn(form review.SubmissionForm) []string {
	var ids []string
	for _, p := range form.Photos {
		ids = append(ids, p.Photo)
	}
	return ids
}

func (s *Service) beginOnce(ctx context.Context, actor review.Actor, form review.SubmissionForm, end ending) (Done, error) {
	now, err := s.loadNew(ctx, actor, form)
	if err != nil {
		return Done{}, err
	}
	if err := review.CheckForm(now.Judge, form, end.submits()); err != nil {
		return Done{}, err
	}
	if end == justSave {
		if err := review.CheckDrafts(actor.Person, now.Siblings); err != nil {
			return Done{}, err
		}
	}
	d := review.Draft{ID: now.NewID(), Owner: actor.Person, BegunAt: now.Now, Registered: form.Specimen != "", Loose: form.Loose.Kept()}
	if !d.Registered {
		form.Specimen, d.Label, d.Withheld = now.NewID(), form.Label, form.Withheld
	}
	now.Registered = *now.Specimen
	if err := s.fillIn(ctx, now, &d, form, named(&d, form.DeterminerName, now.Moment)); err != nil {
		return Done{}, err
	}
	return s.carryOutDraft(ctx, now, d, end)
}

// loadNew reads what a new submission rests on: of a new specimen, or of the registered one that the form names.
func (s *Service) loadNew(ctx context.Context, actor review.Actor, form review.SubmissionForm) (*review.Dossier, error) {
	b, err := s.store.Basis(ctx, Asked{Specimen: form.Specimen, Person: actor.Person})
	if form.Specimen != "" && review.KindOf(err) == review.KindNotFound {
		return nil, review.Invalidf("specimen", "there is no specimen with this id")
	}
	if err != nil {
		return nil, err
	}
	known := func(sub review.Submission) bool { return review.MayRead(actor, &sub) }
	if form.Specimen != "" && !slices.ContainsFunc(b.Submissions, known) {
		return nil, review.Invalidf("specimen", "there is no specimen with this id")
	}
	if err := s.hiddenSpecimen(ctx, actor, &b); err != nil {
		return nil, err
	}
	now, err := s.dossier(ctx, actor, &b, "", form.Group)
	if review.KindOf(err) == review.KindNotFound {
		return nil, review.Invalidf("group", "%q is not a group of tables here", form.Group)
	}
	return now, err
}

// Submit puts a stored draft before reviewers.
func (s *Service) Submit(ctx context.Context, actor review.Actor, id string, version int) (Done, error) {
	return s.act(ctx, actor, id, version, func(now *review.Dossier) (review.Decision, error) {
		if _, err := review.Transition(actor, review.ActSubmit, now.Submission); err != nil {
			return review.Decision{}, err
		}
		if err := now.Complete(); err != nil {
			return review.Decision{}, err
		}
		return review.Decision{Submission: []review.Change{&review.Submitted{}}}, nil
	})
}
