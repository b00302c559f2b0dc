package review

import (
	"fmt"
	"slices"
)

// A draft is known to its owner alone, and so is what stands in it and in no submission that has come before reviewers.

// Limits on the drafts that one person has of one specimen: those that stand, and those that were begun and never submitted,
// discarded ones included. Whoever reads the specimen reads them all.
const (
	mostDrafts = 3
	mostBegun  = 20
)

// CheckDrafts is an error where a person has as many drafts of a specimen as may be. submissions are all of the specimen.
func CheckDrafts(person string, submissions []Submission) error {
	standing, begun := 0, 0
	for i := range submissions {
		s := &submissions[i]
		if s.Owner != person || s.OpenedAt != nil {
			continue
		}
		begun++
		if s.Status == StatusDraft {
			standing++
		}
	}
	switch {
	case standing >= mostDrafts:
		return Errorf(KindConflict, "You have %d drafts of this specimen already, and that is the most. Nothing was stored: go on with one of them, or withdraw one.", standing)
	case begun >= mostBegun:
		return Errorf(KindConflict, "You have begun %d drafts of this specimen without submitting one, and that is the most. Nothing was stored: submit a determination at once.", begun)
	}
	return nil
}

// checkViews is what is wrong with the views that a form gives to photos of the specimen: only who took a photo says what it
// shows.
func checkViews(person string, forms []PhotoForm, spec *Specimen) Problems {
	var p Problems
	for i, form := range forms {
		if known, ok := spec.Photo(form.Photo); ok && known.View != form.View && known.By != person {
			p.Addf(fmt.Sprintf("photos[%d].view", i), "is not yours to change: only who stored this photo says what it shows, and says %s", known.View)
		}
	}
	return p
}

// CheckViews is checkViews as a KindInvalid error.
func CheckViews(person string, forms []PhotoForm, spec *Specimen) error {
	return checkViews(person, forms, spec).Err()
}

// SpecimenSeenBy is a specimen as an actor may see it: without photos and observations that stand in nothing that the actor
// may read, and without photos that show what is withheld from the actor. submissions are all of the specimen.
func SpecimenSeenBy(actor Actor, spec Specimen, submissions []Submission) Specimen {
	photos, cites := map[string]bool{}, map[string]bool{}
	for i := range submissions {
		if !MayRead(actor, &submissions[i]) {
			continue
		}
		for _, id := range submissions[i].Photos {
			photos[id] = true
		}
		for _, id := range submissions[i].Cites {
			cites[id] = true
		}
	}
	seen := spec
	seen.Photos = slices.DeleteFunc(slices.Clone(spec.Photos), func(p Photo) bool {
		return p.By != actor.Person && (!photos[p.ID] || !MaySeePhoto(actor, p, spec.Owner))
	})
	seen.Observations = slices.DeleteFunc(slices.Clone(spec.Observations), func(o Observation) bool { return !cites[o.ID] })
	for i, o := range seen.Observations {
		if _, shown := seen.Photo(o.Photo); o.Photo != "" && !shown {
			seen.Observations[i].Photo, seen.Observations[i].Region = "", nil
		}
	}
	return seen
}

// ViewOfLabels is the view, in the tables of any group, of a photo that shows the labels on the pin: it tells what is withheld
// of the label.
const ViewOfLabels = "label"

// MaySeePhoto says whether an actor may see a photo of a specimen as far as its view goes: one of the labels is withheld like
// the text of the labels, but for who took it.
func MaySeePhoto(actor Actor, p Photo, specimenOwner string) bool {
	return p.View != ViewOfLabels || p.By == actor.Person || May(actor, ActReadWithheld, specimenOwner)
}

// PhotosSeenIn are those of some photo ids that a specimen, as somebody sees it, has.
func PhotosSeenIn(seen *Specimen, ids []string) []string {
	return slices.DeleteFunc(slices.Clone(NonNil(ids)), func(id string) bool {
		_, ok := seen.Photo(id)
		return !ok
	})
}

// EventSeenIn is an event of a specimen without what somebody who sees the specimen so may not see, and false where nothing
// is left of it. Who has made it sees it whole.
func EventSeenIn(seen *Specimen, person string, e Event) (Event, bool) {
	if e.Actor == person {
		return e, true
	}
	switch c := e.Change.(type) {
	case *PhotosAdded:
		left := slices.DeleteFunc(slices.Clone(c.Photos), func(p Photo) bool {
			now, ok := seen.Photo(p.ID)
			return !ok || p.View == ViewOfLabels && now.View != ViewOfLabels
		})
		e.Change = &PhotosAdded{Photos: left}
		return e, len(left) > 0
	case *ObservationsRecorded:
		left := []Observation{}
		for _, o := range c.Observations {
			if shown, ok := seen.Observation(o.ID); ok {
				o.Photo, o.Region = shown.Photo, shown.Region
				left = append(left, o)
			}
		}
		e.Change = &ObservationsRecorded{Observations: left}
		return e, len(left) > 0
	case *ObservationWithdrawn:
		_, ok := seen.Observation(c.Observation)
		return e, ok
	}
	return e, true
}

// discarded takes what a draft has observed, and nobody else has cited, off its specimen: it was never before anybody.
func (now *Dossier) discarded(ids []string, reason string) []Change {
	var changes []Change
	for _, id := range ids {
		cited := func(s Submission) bool { return s.ID != now.Submission.ID && slices.Contains(s.Cites, id) }
		if o, ok := now.Specimen.Observation(id); ok && !slices.ContainsFunc(now.Siblings, cited) && o.By == now.Submission.Owner {
			changes = append(changes, &ObservationWithdrawn{Observation: id, Reason: reason, Discard: true})
		}
	}
	return changes
}

// Discarded are the changes of the specimen that follow where a draft no longer has some of its observations.
func (now *Dossier) Discarded(kept []string, reason string) []Change {
	var gone []string
	for _, id := range now.Submission.Cites {
		if !slices.Contains(kept, id) {
			gone = append(gone, id)
		}
	}
	return now.discarded(gone, reason)
}
