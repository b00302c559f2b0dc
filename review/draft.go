package review

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"revidit/review/judgement"
)

// Draft is a row of its owner, overwritten at each save: what a form holds, known to nobody else and outside events. When it
// is submitted, what its specimen lacks and the submission become events at once (Dossier.Enter) and the row goes; its id is
// that of the submission. A draft of a time when drafts were events is none: it stays a Submission until it is submitted.
type Draft struct {
	ID        string    `json:"id"`
	Owner     string    `json:"owner"`
	Version   int       `json:"-"` // how often it was saved, from 1; 0: it is not stored
	BegunAt   time.Time `json:"begun_at"`
	ChangedAt time.Time `json:"changed_at"`
	// Registered: there is the specimen already, and its label stands with it. Otherwise the draft has the label, and
	// Proposal.Specimen is the id that the specimen will have.
	Registered bool     `json:"registered"`
	Label      Label    `json:"label"`
	Withheld   Withheld `json:"withheld"`
	Proposal   Proposal `json:"proposal"` // cites Observations and Photos
	// Named is the determiner whose name was written by hand, and who becomes a person when it is submitted.
	Named        *Person       `json:"named,omitempty"`
	Photos       []Photo       `json:"photos"` // with the views that the form gives
	Observations []Observation `json:"observations"`
	// Told is what its owner was told that does not fit, whenever it was saved; what is stated otherwise afterwards is AfterHint.
	Told []judgement.Selected `json:"told,omitempty"`
	// Loose is what was typed and cannot be taken as it is.
	Loose Loose `json:"loose,omitempty"`
	// DiscardedAt: its owner has no more use for it. It has let go of its photos and observations, and stays as it is.
	DiscardedAt *time.Time `json:"discarded_at,omitempty"`
}

// Submission is a draft as the submission that it would become; without a Seq, since it has no events.
func (d *Draft) Submission() Submission {
	s := Submission{ID: d.ID, Owner: d.Owner, Status: StatusDraft, DraftedAt: d.BegunAt, ChangedAt: d.ChangedAt, Saves: d.Version,
		Verdicts: []Verdict{}, Opinions: []Opinion{}, Returns: []Return{}, Replies: []Reply{}}
	s.propose(d.Proposal)
	if d.DiscardedAt != nil {
		s.Status, s.ClosedAt = StatusWithdrawn, d.DiscardedAt
	}
	return s
}

// Over is a specimen as a draft shows it to its owner: with what the draft adds. Where the specimen is not registered, it is
// what the draft holds of it.
func (d *Draft) Over(registered Specimen) Specimen {
	spec := registered
	if !d.Registered {
		spec = Specimen{ID: d.Proposal.Specimen, Owner: d.Owner, RegisteredAt: d.BegunAt, Label: d.Label, Photos: []Photo{}, Observations: []Observation{}}
	}
	spec.Photos = mergePhotos(spec.Photos, d.adds(&spec))
	spec.Observations = append(slices.Clone(spec.Observations), d.Observations...)
	return spec
}

// adds are the photos of a draft that the specimen lacks, or that its owner shows under another view.
func (d *Draft) adds(spec *Specimen) []Photo {
	return slices.DeleteFunc(NewPhotos(d.Photos, spec), func(p Photo) bool {
		known, ok := spec.Photo(p.ID)
		return ok && known.By != d.Owner
	})
}

// Uploads are the photos of a draft that a specimen, as events make it, does not have: those that the draft keeps from
// being removed.
func (d *Draft) Uploads(registered *Specimen) []string {
	var ids []string
	for _, p := range d.Photos {
		if _, ok := registered.Photo(p.ID); !ok {
			ids = append(ids, p.ID)
		}
	}
	return ids
}

// Observed are the rows of a form as observations. What the draft has already keeps its id.
func (d *Draft) Observed(forms []ObservationForm, m Moment) []Observation {
	observed := Observations(forms, m)
	for i, form := range forms {
		if at := slices.IndexFunc(d.Observations, func(o Observation) bool { return o.sameAs(form) }); at >= 0 {
			observed[i] = d.Observations[at]
			continue
		}
		observed[i].AfterHint = afterHint(d.Told, form.Character, form.State)
	}
	return observed
}

// SavesAs says whether a draft that is saved as another one changes at all.
func (d *Draft) SavesAs(other Draft) bool {
	other.Version, other.ChangedAt = d.Version, d.ChangedAt
	return !reflect.DeepEqual(*d, other)
}

// Discarded is a draft without photos and observations, for its owner to read alone.
func (d *Draft) Discarded(m Moment) Draft {
	gone := *d
	gone.DiscardedAt, gone.Photos, gone.Observations = &m.Now, []Photo{}, []Observation{}
	gone.Proposal.Photos, gone.Proposal.Cites = []string{}, []string{}
	gone.Told = nil
	return gone
}

// Take makes a draft what a decision looks at, over its specimen as events make it.
func (now *Dossier) Take(d Draft, registered Specimen) {
	sub, spec := d.Submission(), d.Over(registered)
	now.Draft, now.Registered, now.Submission, now.Specimen = &d, registered, &sub, &spec
	now.Moment = now.NotBefore(d.ChangedAt)
}

// Save overwrites the draft that is looked at, or stores it for the first time.
func (now *Dossier) Save(w *Writer, d Draft) {
	d.Version, d.ChangedAt = d.Version+1, now.Now
	w.Batch.Draft = &DraftSaved{Draft: d}
	former := []string{}
	if now.Draft != nil {
		former = now.Draft.Uploads(&now.Registered)
	}
	kept := d.Uploads(&now.Registered)
	w.Batch.Draft.Taken = slices.DeleteFunc(slices.Clone(kept), func(id string) bool { return slices.Contains(former, id) })
	w.Batch.Draft.LetGo = slices.DeleteFunc(former, func(id string) bool { return slices.Contains(kept, id) })
	for i := range now.Siblings {
		if now.Siblings[i].Owner == d.Owner && now.Siblings[i].Saves > 0 {
			w.Batch.Draft.Beside++
		}
	}
	now.Take(d, now.Registered)
	if d.Named != nil {
		now.Named = append(slices.Clone(now.Named), *d.Named)
	}
}

// Enter makes events of the draft that is looked at: the specimen where it is not registered yet, what the draft adds to it,
// and the submission, still a draft. What is observed is of the time and the role in which it is submitted. salt is that of
// the withheld data.
func (now *Dossier) Enter(w *Writer, salt []byte) error {
	d := now.Draft
	now.Draft, now.Specimen, now.Submission = nil, &now.Registered, &Submission{}
	if d.Version > 0 {
		w.Batch.Submitted = d
	}
	if !d.Registered {
		record, mark, err := Withhold(w.Moment.NewID(), salt, d.Withheld)
		if err != nil {
			return err
		}
		w.Batch.Withheld = append(w.Batch.Withheld, record)
		if err := w.Specimen(now.Specimen, &SpecimenRegistered{ID: d.Proposal.Specimen, Label: withMissing(d.Label, d.Proposal.Unseen, now.Judge.Tables()), Withholding: mark}); err != nil {
			return err
		}
	}
	if added := d.adds(now.Specimen); len(added) > 0 {
		if err := w.Specimen(now.Specimen, &PhotosAdded{Photos: added}); err != nil {
			return err
		}
	}
	if observed := slices.Clone(d.Observations); len(observed) > 0 {
		for i := range observed {
			observed[i].At, observed[i].Role = w.Moment.Now, w.Moment.Actor.Role
		}
		if err := w.Specimen(now.Specimen, &ObservationsRecorded{Observations: observed}); err != nil {
			return err
		}
	}
	if d.Named != nil {
		w.Batch.People = append(w.Batch.People, *d.Named)
	}
	return w.Submission(now.Submission, &Drafted{ID: d.ID, Proposal: d.Proposal})
}

// What stands in a draft and in no submission that has come before reviewers is known to its owner alone.

// Limits on the drafts that one person has of one specimen: those that stand, and those that were begun and never submitted,
// discarded ones included. They stay stored.
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
