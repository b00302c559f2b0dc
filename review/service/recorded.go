package service

import (
	"context"
	"strings"

	"revidit/review"
)

// Drafts that were begun when drafts were events (before there was review.Draft) go on as events, until they are submitted or
// withdrawn: their photos and observations stand in the history of their specimens already, and nothing takes them out of it.

// reviseRecorded changes such a draft, and may put it before reviewers. Where nothing changes, nothing is stored.
func (s *Service) reviseRecorded(ctx context.Context, now *review.Dossier, revision review.Revision, form review.SubmissionForm, submit bool) (Done, error) {
	if err := review.CheckForm(now.Judge, form, submit); err != nil {
		return Done{}, err
	}
	w := review.NewWriter(now.Moment)
	if err := s.relabel(ctx, w, now, revision.Label, revision.Withheld, review.ReasonDraftChanged); err != nil {
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

// writeEvidence adds the photos and observations of a form to the specimen, and returns the ids to cite. What the draft
// had before and the form repeats keeps its id; what the form no longer has is withdrawn.
func (s *Service) writeEvidence(ctx context.Context, w *review.Writer, now *review.Dossier, form review.SubmissionForm) ([]string, error) {
	uploads, err := s.uploads(ctx, w.Moment.Actor, form.Photos, now.Specimen, nil)
	if err != nil {
		return nil, err
	}
	if added := review.NewPhotos(review.PhotosOf(uploads, form.Photos), now.Specimen); len(added) > 0 {
		if err := w.Specimen(now.Specimen, &review.PhotosAdded{Photos: added}); err != nil {
			return nil, err
		}
	}
	kept, fresh := now.Split(form.Observations)
	for _, change := range now.Discarded(kept, review.ReasonDraftChanged) {
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
