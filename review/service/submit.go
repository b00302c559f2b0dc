package service

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
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

func (s *Service) begin(ctx context.Context, actor review.Actor, form review.SubmissionForm, key string, submit bool) (Done, error) {
	if !review.May(actor, review.ActDraft, "") {
		return Done{}, review.Forbidden(actor, review.ActDraft, "")
	}
	digest, err := digestOf(form, submit)
	if err != nil {
		return Done{}, err
	}
	if known, err := s.doneBefore(ctx, actor, key, digest); err != nil || known.ID != "" {
		return known, err
	}
	return again(ctx, func() (Done, error) {
		made, err := s.beginOnce(ctx, actor, form, key, digest, submit)
		if err == nil || key == "" {
			return made, err
		}
		// The same request may have arrived twice at once: then the other one has made the submission, and taken the photos.
		if known, lookup := s.doneBefore(ctx, actor, key, digest); lookup != nil || known.ID != "" {
			return known, lookup
		}
		return Done{}, err
	})
}

func (s *Service) beginOnce(ctx context.Context, actor review.Actor, form review.SubmissionForm, key, digest string, submit bool) (Done, error) {
	now, err := s.loadNew(ctx, actor, form)
	if err != nil {
		return Done{}, err
	}
	if err := review.CheckForm(now.Judge, form, submit); err != nil {
		return Done{}, err
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
	if key != "" {
		w.Batch.Key = &review.IdempotencyKey{Person: actor.Person, Key: key, Digest: digest, Submission: now.Submission.ID, At: w.Moment.Now}
	}
	return s.done(ctx, w, now)
}

func digestOf(form review.SubmissionForm, submit bool) (string, error) {
	text, err := json.Marshal(struct {
		Form   review.SubmissionForm
		Submit bool
	}{form, submit})
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

// doneBefore is what a person's idempotency key has made before; without an id where it has made nothing yet.
func (s *Service) doneBefore(ctx context.Context, actor review.Actor, key, digest string) (Done, error) {
	if key == "" {
		return Done{}, nil
	}
	if len(key) > 120 {
		return Done{}, review.Invalidf("Idempotency-Key", "must be at most 120 letters")
	}
	id, known, err := s.store.SubmissionOfKey(ctx, actor.Person, key)
	if review.KindOf(err) == review.KindNotFound {
		return Done{}, nil
	}
	if err != nil {
		return Done{}, err
	}
	if known != digest {
		return Done{}, review.Errorf(review.KindConflict, "This idempotency key has been used for another submission (%s). Nothing was stored; send this one with a key of its own.", id)
	}
	made, err := s.store.Submission(ctx, id)
	return Done{Submission: made}, err
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
	for _, id := range now.Submission.Cites {
		if slices.Contains(kept, id) {
			continue
		}
		if err := w.Specimen(now.Specimen, &review.ObservationWithdrawn{Observation: id, Reason: "changed in the draft"}); err != nil {
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

// Revise replaces the content of a draft. Photos and observations that the form repeats are kept as they are.
func (s *Service) Revise(ctx context.Context, actor review.Actor, id string, version int, form review.SubmissionForm) (Done, error) {
	return s.revise(ctx, actor, id, version, form, false)
}

// ReviseAndSubmit replaces the content of a draft and puts it before reviewers, in one step.
func (s *Service) ReviseAndSubmit(ctx context.Context, actor review.Actor, id string, version int, form review.SubmissionForm) (Done, error) {
	return s.revise(ctx, actor, id, version, form, true)
}

func (s *Service) revise(ctx context.Context, actor review.Actor, id string, version int, form review.SubmissionForm, submit bool) (Done, error) {
	return again(ctx, func() (Done, error) { return s.reviseOnce(ctx, actor, id, version, form, submit) })
}

func (s *Service) reviseOnce(ctx context.Context, actor review.Actor, id string, version int, form review.SubmissionForm, submit bool) (Done, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Done{}, err
	}
	if _, err := review.Transition(actor, review.ActRevise, now.Submission); err != nil {
		return Done{}, err
	}
	form.Specimen = "" // the draft's own specimen: its label is checked as well
	if form.Group != "" && form.Group != now.Submission.Group {
		return Done{}, review.Invalidf("group", "a draft stays in its group; begin another submission for another one")
	}
	if err := review.CheckForm(now.Judge, form, submit); err != nil {
		return Done{}, err
	}
	w := review.NewWriter(now.Moment)
	if err := s.relabel(w, now, form.Label, form.Withheld, "changed in the draft"); err != nil {
		return Done{}, err
	}
	cites, err := s.writeEvidence(ctx, w, now, form)
	if err != nil {
		return Done{}, err
	}
	form.Specimen = now.Specimen.ID
	determiner, err := s.determiner(ctx, w, now, form)
	if err != nil {
		return Done{}, err
	}
	made := review.Decision{Submission: []review.Change{&review.Revised{Proposal: form.Proposal(now.Judge.Tables(), determiner, now.Moment, cites)}}}
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
