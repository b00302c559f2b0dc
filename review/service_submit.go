package review

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"slices"
	"strings"
)

// Draft stores a submission that its owner goes on writing. key is an idempotency key, or empty: the same key with the
// same form returns the submission that it made before.
func (s *Service) Draft(ctx context.Context, actor Actor, form SubmissionForm, key string) (Submission, error) {
	return s.begin(ctx, actor, form, key, false)
}

// SubmitNew stores a submission and puts it before reviewers, in one step. See Draft for key.
func (s *Service) SubmitNew(ctx context.Context, actor Actor, form SubmissionForm, key string) (Submission, error) {
	return s.begin(ctx, actor, form, key, true)
}

func (s *Service) begin(ctx context.Context, actor Actor, form SubmissionForm, key string, submit bool) (Submission, error) {
	if !May(actor, ActDraft, "") {
		return Submission{}, forbidden(actor, ActDraft, "")
	}
	digest, err := digestOf(form, submit)
	if err != nil {
		return Submission{}, err
	}
	if known, err := s.submissionOfKey(ctx, actor, key, digest); err != nil || known.ID != "" {
		return known, err
	}
	judge, err := s.Judge(ctx, form.Group)
	if KindOf(err) == KindNotFound {
		return Submission{}, Invalidf("group", "%q is not a group of tables here", form.Group)
	}
	if err != nil {
		return Submission{}, err
	}
	if err := checkForm(judge, form, submit); err != nil {
		return Submission{}, err
	}
	w := newWriter(s.moment(actor))
	now, err := s.draft(ctx, w, judge, form)
	if err != nil {
		return Submission{}, err
	}
	if submit {
		if err := now.write(w, decision{submission: []Change{&Submitted{}}}); err != nil {
			return Submission{}, err
		}
	}
	if key != "" {
		w.batch.Key = &IdempotencyKey{Person: actor.Person, Key: key, Digest: digest, Submission: now.submission.ID, At: w.moment.Now}
	}
	err = s.commit(ctx, w)
	if KindOf(err) == KindConflict && key != "" {
		// The same request arrived twice at once: the other one has made the submission.
		return s.submissionOfKey(ctx, actor, key, digest)
	}
	if err != nil {
		return Submission{}, err
	}
	return *now.submission, nil
}

func checkForm(judge *Judge, form SubmissionForm, submit bool) error {
	if submit {
		return form.checkSubmit(judge).Err()
	}
	return form.checkDraft(judge).Err()
}

func digestOf(form SubmissionForm, submit bool) (string, error) {
	text, err := json.Marshal(struct {
		Form   SubmissionForm
		Submit bool
	}{form, submit})
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:]), nil
}

func (s *Service) submissionOfKey(ctx context.Context, actor Actor, key, digest string) (Submission, error) {
	if key == "" {
		return Submission{}, nil
	}
	if len(key) > 120 {
		return Submission{}, Invalidf("Idempotency-Key", "must be at most 120 letters")
	}
	id, known, err := s.store.SubmissionOfKey(ctx, actor.Person, key)
	if KindOf(err) == KindNotFound {
		return Submission{}, nil
	}
	if err != nil {
		return Submission{}, err
	}
	if known != digest {
		return Submission{}, Errorf(KindConflict, "This idempotency key has been used for another submission (%s). Nothing was stored; send this one with a key of its own.", id)
	}
	return s.store.Submission(ctx, id)
}

// draft writes a new submission, of a new or a registered specimen.
func (s *Service) draft(ctx context.Context, w *writer, judge *Judge, form SubmissionForm) (*situation, error) {
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return nil, err
	}
	now := &situation{Moment: w.moment, submission: &Submission{}, specimen: &Specimen{}, policy: policy, people: &people, seed: s.newSeed, judge: judge}
	if err := s.specimenFor(ctx, w, now, form); err != nil {
		return nil, err
	}
	cites, err := s.writeEvidence(ctx, w, now, form)
	if err != nil {
		return nil, err
	}
	form.Specimen = now.specimen.ID
	determiner, err := s.determiner(ctx, w, now, form)
	if err != nil {
		return nil, err
	}
	proposal := form.proposal(judge.Tables(), determiner, w.moment.Now, cites)
	return now, w.submission(now.submission, &Drafted{ID: w.moment.NewID(), Proposal: proposal})
}

// specimenFor registers a new specimen, or loads the one that the form names.
func (s *Service) specimenFor(ctx context.Context, w *writer, now *situation, form SubmissionForm) error {
	if form.Specimen == "" {
		sealed, mark, err := seal(w.moment.NewID(), newSalt(), form.Withheld)
		if err != nil {
			return err
		}
		w.batch.Withheld = append(w.batch.Withheld, sealed)
		return w.specimen(now.specimen, &SpecimenRegistered{ID: w.moment.NewID(), Label: form.Label, Seal: mark})
	}
	specimen, err := s.store.Specimen(ctx, form.Specimen)
	if KindOf(err) == KindNotFound {
		return Invalidf("specimen", "there is no specimen with this id")
	}
	if err != nil {
		return err
	}
	if now.siblings, err = s.store.SubmissionsOf(ctx, form.Specimen); err != nil {
		return err
	}
	if !slices.ContainsFunc(now.siblings, func(sub Submission) bool { return mayRead(w.moment.Actor, &sub) }) {
		return Invalidf("specimen", "there is no specimen with this id")
	}
	now.specimen = &specimen
	return nil
}

// writeEvidence adds the photos and observations of a form to the specimen, and returns the ids to cite. What a draft
// had before and the form repeats keeps its id; what the form no longer has is withdrawn.
func (s *Service) writeEvidence(ctx context.Context, w *writer, now *situation, form SubmissionForm) ([]string, error) {
	uploads, err := s.uploads(ctx, w.moment.Actor, form.Photos, now.specimen)
	if err != nil {
		return nil, err
	}
	if added := newPhotos(photosOf(uploads, form.Photos), now.specimen); len(added) > 0 {
		if err := w.specimen(now.specimen, &PhotosAdded{Photos: added}); err != nil {
			return nil, err
		}
	}
	kept, fresh := now.split(form.Observations)
	for _, id := range now.submission.Cites {
		if slices.Contains(kept, id) {
			continue
		}
		if err := w.specimen(now.specimen, &ObservationWithdrawn{Observation: id, Reason: "changed in the draft"}); err != nil {
			return nil, err
		}
	}
	recorded := observations(fresh, w.moment)
	if len(recorded) > 0 {
		if err := w.specimen(now.specimen, &ObservationsRecorded{Observations: recorded}); err != nil {
			return nil, err
		}
	}
	return append(nonNil(kept), observationIDs(recorded)...), nil
}

// split tells the form's observations that the draft has already from those that are new.
func (now *situation) split(forms []ObservationForm) (kept []string, fresh []ObservationForm) {
	for _, form := range forms {
		id := now.recorded(form)
		if id == "" {
			fresh = append(fresh, form)
			continue
		}
		kept = append(kept, id)
	}
	return kept, fresh
}

func (now *situation) recorded(form ObservationForm) string {
	for _, id := range now.submission.Cites {
		o, ok := now.specimen.Observation(id)
		if ok && o.Withdrawn == "" && o.sameAs(form) {
			return id
		}
	}
	return ""
}

func (o Observation) sameAs(form ObservationForm) bool {
	sureness := form.Sureness
	if sureness == "" {
		sureness = Sure
	}
	return o.Character == form.Character && o.State == form.State && o.Sureness == sureness && o.Photo == form.Photo &&
		sameRegion(o.Region, form.Region)
}

func sameRegion(a, b *Region) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}

// newPhotos are those that the specimen lacks or shows under another view.
func newPhotos(photos []Photo, spec *Specimen) []Photo {
	var added []Photo
	for _, p := range photos {
		known, ok := spec.Photo(p.ID)
		if !ok || known.View != p.View {
			added = append(added, p)
		}
	}
	return added
}

// uploads fetches the photos that a form names: the actor's own uploads, or photos of the specimen itself.
func (s *Service) uploads(ctx context.Context, actor Actor, forms []PhotoForm, spec *Specimen) ([]Upload, error) {
	var found []Upload
	var problems Problems
	for i, form := range forms {
		if photo, ok := spec.Photo(form.Photo); ok {
			found = append(found, Upload{Photo: photo, Specimen: spec.ID})
			continue
		}
		upload, err := s.store.Upload(ctx, form.Photo)
		if KindOf(err) == KindNotFound || (err == nil && (upload.By != actor.Person || upload.Specimen != "")) {
			problems.Addf(fieldOf("photos", i)+".photo", "is not a photo that you have uploaded for this specimen; upload it again")
			continue
		}
		if err != nil {
			return nil, err
		}
		found = append(found, upload)
	}
	return found, problems.Err()
}

// determiner returns the person who gave the name; a name written by hand becomes a person without an account.
func (s *Service) determiner(ctx context.Context, w *writer, now *situation, form SubmissionForm) (string, error) {
	name := strings.TrimSpace(form.DeterminerName)
	if name == "" || name == w.moment.Actor.Name {
		return w.moment.Actor.Person, nil
	}
	if known := now.submission.Determination.Determiner; known != "" {
		people, err := s.store.People(ctx, []string{known})
		if err != nil {
			return "", err
		}
		if people[known].Name == name {
			return known, nil
		}
	}
	person := Person{ID: w.moment.NewID(), Name: name}
	w.batch.People = append(w.batch.People, person)
	return person.ID, nil
}

// Revise replaces the content of a draft. Photos and observations that the form repeats are kept as they are.
func (s *Service) Revise(ctx context.Context, actor Actor, id string, version int, form SubmissionForm) (Submission, error) {
	return s.revise(ctx, actor, id, version, form, false)
}

// ReviseAndSubmit replaces the content of a draft and puts it before reviewers, in one step.
func (s *Service) ReviseAndSubmit(ctx context.Context, actor Actor, id string, version int, form SubmissionForm) (Submission, error) {
	return s.revise(ctx, actor, id, version, form, true)
}

func (s *Service) revise(ctx context.Context, actor Actor, id string, version int, form SubmissionForm, submit bool) (Submission, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Submission{}, err
	}
	if _, err := Transition(actor, ActRevise, now.submission); err != nil {
		return Submission{}, err
	}
	form.Specimen = "" // the draft's own specimen: its label is checked as well
	if form.Group != "" && form.Group != now.submission.Group {
		return Submission{}, Invalidf("group", "a draft stays in its group; begin another submission for another one")
	}
	if err := checkForm(now.judge, form, submit); err != nil {
		return Submission{}, err
	}
	w := newWriter(now.Moment)
	if err := s.relabel(w, now, form.Label, form.Withheld, "changed in the draft"); err != nil {
		return Submission{}, err
	}
	cites, err := s.writeEvidence(ctx, w, now, form)
	if err != nil {
		return Submission{}, err
	}
	form.Specimen = now.specimen.ID
	determiner, err := s.determiner(ctx, w, now, form)
	if err != nil {
		return Submission{}, err
	}
	made := decision{submission: []Change{&Revised{Proposal: form.proposal(now.judge.Tables(), determiner, now.Now, cites)}}}
	if submit {
		made.submission = append(made.submission, &Submitted{})
	}
	if err := now.write(w, made); err != nil {
		return Submission{}, err
	}
	if err := s.commit(ctx, w); err != nil {
		return Submission{}, err
	}
	return *now.submission, nil
}
