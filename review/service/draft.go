package service

import (
	"context"
	"reflect"
	"slices"
	"strings"

	"revidit/review"
)

// fillIn puts what a form says into a draft; determiner is who gave the name. What the draft had before and the form repeats
// keeps its id.
func (s *Service) fillIn(ctx context.Context, now *review.Dossier, d *review.Draft, form review.SubmissionForm, determiner string) error {
	uploads, err := s.uploads(ctx, now.Actor, form.Photos, &now.Registered, d.Photos)
	if err != nil {
		return err
	}
	d.Photos, d.Observations = review.PhotosOf(uploads, form.Photos), d.Observed(form.Observations, now.Moment)
	d.Proposal = form.Proposal(now.Judge.Tables(), determiner, now.Moment, review.NonNil(review.ObservationIDs(d.Observations)))
	return nil
}

// named is who gave the name of a draft. A name that is written by hand is that of somebody without an account.
func named(d *review.Draft, name string, m review.Moment) string {
	name = strings.TrimSpace(name)
	if name == "" || name == m.Actor.Name {
		d.Named = nil
		return m.Actor.Person
	}
	if d.Named == nil || d.Named.Name != name {
		d.Named = &review.Person{ID: m.NewID(), Name: name}
	}
	return d.Named.ID
}

// carryOutDraft saves a draft, or puts it before reviewers.
func (s *Service) carryOutDraft(ctx context.Context, now *review.Dossier, d review.Draft, end ending) (Done, error) {
	told := now.Told(d)
	if end == justSave || end == submitTold && len(told.Told) > len(d.Told) {
		w := review.NewWriter(now.Moment)
		d = told
		if now.Draft == nil || now.Draft.SavesAs(d) {
			now.Save(w, d)
		}
		return s.done(ctx, w, now)
	}
	now.Take(d, now.Registered)
	return s.carryOut(ctx, now, func(*review.Dossier) (review.Decision, error) {
		return review.Decision{Submission: []review.Change{&review.Submitted{}}}, nil
	})
}

// uploads fetches the photos that a form names: the actor's own uploads that stand in no draft, photos of the specimen itself, or
// those that the draft had when it was read: whether it has been submitted since is for the commit to find out.
func (s *Service) uploads(ctx context.Context, actor review.Actor, forms []review.PhotoForm, spec *review.Specimen, had []review.Photo) ([]review.Upload, error) {
	known := *spec
	known.Photos = slices.Concat(spec.Photos, had)
	var wanted []string
	for _, form := range forms {
		if _, ok := known.Photo(form.Photo); !ok {
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
		if photo, own := known.Photo(form.Photo); own {
			upload = review.Upload{Photo: photo}
		} else if !ok || upload.By != actor.Person || upload.Specimen != "" || upload.Draft != "" {
			problems.Addf(review.FieldOf("photos", i)+".photo", "is not a photo that you have uploaded for this specimen; upload it again")
			continue
		}
		found = append(found, upload)
	}
	return found, problems.Err()
}

// Revise saves a draft. What is repeated is kept as it is; where nothing changes, nothing is stored.
func (s *Service) Revise(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision) (Done, error) {
	return s.revise(ctx, actor, id, version, fixed(revision), justSave)
}

// ReviseAndSubmit changes a draft and puts it before reviewers, in one step.
func (s *Service) ReviseAndSubmit(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision) (Done, error) {
	return s.revise(ctx, actor, id, version, fixed(revision), submitAtOnce)
}

// ReviseAndSubmitTold is ReviseAndSubmit for somebody who is to see first what does not fit: see SubmitNewTold.
func (s *Service) ReviseAndSubmitTold(ctx context.Context, actor review.Actor, id string, version int, revision review.Revision) (Done, error) {
	return s.revise(ctx, actor, id, version, fixed(revision), submitTold)
}

// fixed is a revision that is the same whatever the draft is.
func fixed(r review.Revision) func(*review.Dossier) review.Revision {
	return func(*review.Dossier) review.Revision { return r }
}

func (s *Service) revise(ctx context.Context, actor review.Actor, id string, version int, of func(*review.Dossier) review.Revision, end ending) (Done, error) {
	return again(ctx, func() (Done, error) {
		now, err := s.load(ctx, actor, id, version)
		if err != nil {
			return Done{}, err
		}
		if _, err := review.Transition(actor, review.ActRevise, now.Submission); err != nil {
			return Done{}, err
		}
		revision := of(now)
		form, err := revision.Of(now)
		if err != nil {
			return Done{}, err
		}
		if now.Draft == nil {
			return s.reviseRecorded(ctx, now, revision, form, end.submits())
		}
		return s.reviseOnce(ctx, now, revision, form, end)
	})
}

func (s *Service) reviseOnce(ctx context.Context, now *review.Dossier, revision review.Revision, form review.SubmissionForm, end ending) (Done, error) {
	d := *now.Draft
	if d.Registered {
		if err := s.labelStays(ctx, now, revision); err != nil {
			return Done{}, err
		}
	} else {
		d.Label = form.Label
		if revision.Withheld != nil {
			d.Withheld = *revision.Withheld
		}
	}
	if err := review.CheckForm(now.Judge, form, end.submits()); err != nil {
		return Done{}, err
	}
	determiner := d.Proposal.Determination.Determiner
	if revision.DeterminerName != nil {
		determiner = named(&d, *revision.DeterminerName, now.Moment)
	}
	form.Specimen = d.Proposal.Specimen
	d.Loose = form.Loose.Kept()
	if err := s.fillIn(ctx, now, &d, form, determiner); err != nil {
		return Done{}, err
	}
	return s.carryOutDraft(ctx, now, d, end)
}

// labelStays refuses another label in a draft of a registered specimen: it stands with the specimen, for everybody at once.
func (s *Service) labelStays(ctx context.Context, now *review.Dossier, revision review.Revision) error {
	const elsewhere = "stands with the specimen, which is registered already, and is not changed by a draft; correct it there"
	var p review.Problems
	if revision.Label != nil && *revision.Label != now.Registered.Label {
		p.Addf("label", elsewhere)
	}
	if revision.Withheld != nil {
		seen, _, _, err := s.withheld(ctx, now.Actor, &now.Registered)
		if err != nil {
			return err
		}
		if given := *revision.Withheld; !reflect.DeepEqual(given, seen) && !reflect.DeepEqual(given, review.Withheld{}) {
			p.Addf("withheld", elsewhere)
		}
	}
	return p.Err()
}
