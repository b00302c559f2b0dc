package service

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
)

// Draft stores a submission that its owner goes on writing. key is an idempotency key, or empty: the same key with the
// same form returns the submission that it made before.
func (s *Service) Draft(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string) (Done, error) {
	return s.begin(ctx, actor, form, key, false)
}

// SubmitNew stores a submission and puts it before reviewers, in one step. See Draft for key.
func (s *Service) SubmitNew(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string) (Done, error) {
	return s.begin(ctx, actor, form, key, true)
}

func (s *Service) begin(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string, submit bool) (made Done, err error) {
	if !review.May(actor, review.ActDraft, "") {
		return Done{}, review.Forbidden(actor, review.ActDraft, "")
	}
	asked, err := s.beginning(ctx, actor, form, key, submit)
	if err != nil {
		return Done{}, err
	}
	before, err := s.Once(ctx, actor, key, asked, func(ctx context.Context) (err error) {
		made, err = again(ctx, func() (Done, error) { return s.beginOnce(ctx, actor, form, submit) })
		return err
	})
	if err != nil || before == "" {
		return made, err
	}
	known, err := s.store.Submission(ctx, before)
	return Done{Submission: known}, err
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

func (s *Service) beginOnce(ctx context.Context, actor review.Actor, form review.SubmissionForm, submit bool) (Done, error) {
	now, err := s.loadNew(ctx, actor, form)
	if err != nil {
		return Done{}, err
	}
	if err := review.CheckForm(now.Judge, form, submit); err != nil {
		return Done{}, err
	}
	if !submit {
		if err := review.CheckDrafts(actor.Person, now.Siblings); err != nil {
			return Done{}, err
		}
	}
	w := review.NewWriter(now.Moment)
	if err := s.draft(ctx, w, now, form); err != nil {
		return Done{}, err
	}
	if submit {
		if err := now.Write(w, review.Decision{Submission: []review.Change{&review.Submitted{}}}); err != nil {
			return Done{}, err
		}
	}
	return s.done(ctx, w, now)
}

// draft writes a new submission, of a new or a registered specimen.
func (s *Service) draft(ctx context.Context, w *review.Writer, now *review.Dossier, form review.SubmissionForm) error {
	if form.Specimen == "" {
		if err := register(w, now, form); err != nil {
			return err
		}
	}
	cites, err := s.writeEvidence(ctx, w, now, form)
	if err != nil {
		return err
	}
	form.Specimen = now.Specimen.ID
	determiner, err := s.determiner(ctx, w, now, form)
	if err != nil {
		return err
	}
	w.Batch.Rests = now.Rests
	proposal := form.Proposal(now.Judge.Tables(), determiner, w.Moment, cites)
	return w.Submission(now.Submission, &review.Drafted{ID: w.Moment.NewID(), Proposal: proposal})
}

// register writes a new specimen.
func register(w *review.Writer, now *review.Dossier, form review.SubmissionForm) error {
	record, mark, err := review.Withhold(w.Moment.NewID(), newSalt(), form.Withheld)
	if err != nil {
		return err
	}
	w.Batch.Withheld = append(w.Batch.Withheld, record)
	return w.Specimen(now.Specimen, &review.SpecimenRegistered{ID: w.Moment.NewID(), Label: form.Label, Withholding: mark})
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

// writeEvidence adds the photos and observations of a form to the specimen, and returns the ids to cite. What a draft
// had before and the form repeats keeps its id; what the form no longer has is withdrawn.
func (s *Service) writeEvidence(ctx context.Context, w *review.Writer, now *review.Dossier, form review.SubmissionForm) ([]string, error) {
	uploads, err := s.uploads(ctx, w.Moment.Actor, form.Photos, now.Specimen)
	if err != nil {
		return nil, err
	}
	if added := review.NewPhotos(review.PhotosOf(uploads, form.Photos), now.Specimen); len(added) > 0 {
		if err := w.Specimen(now.Specimen, &review.PhotosAdded{Photos: added}); err != nil {
			return nil, err
		}
	}
	kept, fresh := now.Split(form.Observations)
	for _, change := range now.Discarded(kept, "changed in the draft") {
		if err := w.Specimen(now.Specimen, change); err != nil {
			return nil, err
		}
	}
	recorded := review.Observations(fresh, w.Moment)
	if len(recorded) > 0 {
		if err := w.Specimen(now.Specimen, &review.ObservationsRecorded{Observations: recorded}); err != nil {
			return nil, err
		}
	}
	return append(review.NonNil(kept), review.ObservationIDs(recorded)...), nil
}

// uploads fetches the photos that a form names: the actor's own uploads, or photos of the specimen itself.
func (s *Service) uploads(ctx context.Context, actor review.Actor, forms []review.PhotoForm, spec *review.Specimen) ([]review.Upload, error) {
	var wanted []string
	for _, form := range forms {
		if _, ok := spec.Photo(form.Photo); !ok {
			wanted = append(wanted, form.Photo)
		}
	}
	stored, err := s.store.Uploads(ctx, wanted)
	if err != nil {
		return nil, err
	}
	if err := review.CheckViews(actor.Person, forms, spec); err != nil {
		return nil, err
	}
	var found []review.Upload
	var problems review.Problems
	for i, form := range forms {
		upload, ok := stored[form.Photo]
		if photo, own := spec.Photo(form.Photo); own {
			upload = review.Upload{Photo: photo, Specimen: spec.ID}
		} else if !ok || upload.By != actor.Person || upload.Specimen != "" {
			problems.Addf(review.FieldOf("photos", i)+".photo", "is not a photo that you have uploaded for this specimen; upload it again")
			continue
		}
		found = append(found, upload)
	}
	return found, problems.Err()
}

// determiner returns the person who gave the name; a name written by hand becomes a person without an account.
func (s *Service) determiner(ctx context.Context, w *review.Writer, now *review.Dossier, form review.SubmissionForm) (string, error) {
	name := strings.TrimSpace(form.DeterminerName)
	if name == "" || name == w.Moment.Actor.Name {
		return w.Moment.Actor.Person, nil
	}
	if known := now.Submission.Determination.Determiner; known != "" {
		people, err := s.store.People(ctx, []string{known})
		if err != nil {
			return "", err
		}
		if people[known].Name == name {
			return known, nil
		}
	}
	person := review.Person{ID: w.Moment.NewID(), Name: name}
	w.Batch.People = append(w.Batch.People, person)
	return person.ID, nil
}

// Revise changes a draft. Photos and observations that are repeated are kept as they are; where nothing changes, nothing is
// stored.
func (s *Service) Revise(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision) (Done, error) {
	return s.revise(ctx, actor, id, version, revision, false)
}

// ReviseAndSubmit changes a draft and puts it before reviewers, in one step.
func (s *Service) ReviseAndSubmit(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision) (Done, error) {
	return s.revise(ctx, actor, id, version, revision, true)
}

func (s *Service) revise(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision, submit bool) (Done, error) {
	return again(ctx, func() (Done, error) { return s.reviseOnce(ctx, actor, id, version, revision, submit) })
}

func (s *Service) reviseOnce(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision, submit bool) (Done, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Done{}, err
	}
	if _, err := review.Transition(actor, review.ActRevise, now.Submission); err != nil {
		return Done{}, err
	}
	form, err := revision.Of(now)
	if err != nil {
		return Done{}, err
	}
	if err := review.CheckForm(now.Judge, form, submit); err != nil {
		return Done{}, err
	}
	w := review.NewWriter(now.Moment)
	if err := s.relabel(ctx, w, now, revision.Label, revision.Withheld, "changed in the draft"); err != nil {
		return Done{}, err
	}
	cites, err := s.writeEvidence(ctx, w, now, form)
	if err != nil {
		return Done{}, err
	}
	form.Specimen = now.Specimen.ID
	determiner := now.Submission.Determination.Determiner
	if revision.DeterminerName != nil {
		if determiner, err = s.determiner(ctx, w, now, form); err != nil {
			return Done{}, err
		}
	}
	made := review.Decision{Submission: now.Submission.Revised(form.Proposal(now.Judge.Tables(), determiner, now.Moment, cites))}
	if submit {
		made.Submission = append(made.Submission, &review.Submitted{})
	}
	if err := now.Write(w, made); err != nil {
		return Done{}, err
	}
	return s.done(ctx, w, now)
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
