package review

import (
	"strconv"
	"time"

	"revidit/review/jobs"
)

// Batch is what one act changes.
type Batch struct {
	Events      []Event
	Specimens   []Specimen   // as they are after Events
	Submissions []Submission // as they are after Events
	Policy      *Policy
	Proposals   []CellProposal // of cells, as they are after Events
	Series      []Series       // as they are after Events
	Sheet       *Sheet         // of labels, that was printed
	Release     *Release       // with its files
	Reliability *Reliability   // whole, as it is after Events
	Withheld    []WithheldRecord
	People      []Person
	// Attach are uploads that a specimen has taken: photo id to specimen id.
	Attach map[string]string
	Upload *Upload // a photo that no specimen has yet
	Looks  []PhotoLook
	// Draft is one that is saved, and Submitted one that has become events and whose row goes.
	Draft     *DraftSaved
	Submitted *Draft
	// Openings are what persons have been shown of specimens, as they are after Events.
	Openings []Opening
	Key      *IdempotencyKey
	// Found are put in place of what was found before.
	Found []Found
	// Touched is what a walk has found that weighs determinations anew.
	Touched *TouchedBatch
	// News are told beside those of the events (NewsOf). Curators are whom it tells what is for all of them.
	News     []News
	Curators []string
	// Mailbox is one that its person has changed, as it is afterwards: a store refuses it, as a lost race, unless the stored one
	// has the version before. Looked are those that were looked through for letters, as they are after it, and Letters new ones.
	Mailbox *Mailbox
	Looked  []LookedThrough
	Letters []Letter
	// Growth is what the tree of all events has grown by.
	Growth *LogGrowth
	// Intake is one that the act has planned, or moved on with.
	Intake *IntakeBatch
	// Rests is what the act was decided on; nil where it rests on no more than the streams it writes.
	Rests *Rests
	// Jobs that follow from this, at most one of a kind and key.
	Jobs []jobs.Job
}

// Rests names the versions of everything that a decision rests on. A store refuses a batch, as a lost race, where any of
// it has moved. The reliability of people is named by assessments and not asserted: learning would stop everybody.
type Rests struct {
	Versions map[string]int // RecordVersion of registered specimens, by id
	Policy   int            // version
	Group    string         // of tables
	Release  string         // hash of the one in force for the group; empty: the built-in tables
	Holds    *MostHeld      // what the actor may hold after it; nil where it is no hold
}

// RecordVersion is the version of a specimen with all of its submissions: the number of events they are made of.
func RecordVersion(spec *Specimen, submissions []Submission) int {
	version := spec.Seq
	for i := range submissions {
		version += submissions[i].Seq
	}
	return version
}

// DraftSaved is a draft as it is after an act that saves it. A store refuses it, as a lost race, unless the stored one has the
// version before, or there is none where it is the first; and a first one of a registered specimen unless its owner has as
// many others of that specimen as Beside says.
type DraftSaved struct {
	Draft
	Beside       int
	Taken, LetGo []string // uploads that it has from now on, and no longer
}

// LookedThrough says up to which news a mailbox was looked through for a letter, and from which it began: where somebody else was
// quicker, a store refuses it as a lost race.
type LookedThrough struct {
	Person     string
	From, Upto time.Time
	At         time.Time
}

// IdempotencyKey lets a client send a request twice and be served once.
type IdempotencyKey struct {
	Person, Key string
	Digest      string // SHA-256 of the request, in hex
	Made        string // what it has made, as Batch.Made has it
	At          time.Time
}

// Made names what a batch has made, or changed: the id of a submission or draft, a specimen, a photo or a proposal, the hash of a
// release, a sheet of labels, or the version of a policy. Of several submissions it is the one that the act has begun with. Empty: nothing of
// these.
func (b *Batch) Made() string {
	switch {
	case b.Release != nil:
		return b.Release.Hash
	case b.Policy != nil:
		return strconv.Itoa(b.Policy.Version)
	case len(b.Submissions) > 0:
		return b.Submissions[0].ID
	case b.Draft != nil:
		return b.Draft.ID
	case len(b.Specimens) > 0:
		return b.Specimens[0].ID
	case len(b.Proposals) > 0:
		return b.Proposals[0].ID
	case len(b.Series) > 0:
		return b.Series[0].ID
	case b.Sheet != nil:
		return b.Sheet.ID
	case b.Upload != nil:
		return b.Upload.ID
	case b.Intake != nil:
		return b.Intake.ID
	}
	return ""
}

// Writer collects the events of one act and the values that they lead to.
type Writer struct {
	Moment      Moment
	Batch       Batch
	specimens   []*Specimen
	submissions []*Submission
	proposals   []*CellProposal
}

// NewWriter collects the events of one act of that moment.
func NewWriter(m Moment) *Writer {
	return &Writer{Moment: m, Batch: Batch{Attach: map[string]string{}}}
}

// Event is a change as an event of this act. It is not collected by that.
func (w *Writer) Event(stream string, seq int, c Change) Event {
	return Event{Stream: stream, Seq: seq, At: w.Moment.Now, Actor: w.Moment.Actor.Person, Role: w.Moment.Actor.Role, Change: c}
}

// Specimen changes a specimen and collects the event; the first event registers it.
func (w *Writer) Specimen(spec *Specimen, c Change) error {
	id := spec.ID
	if registered, ok := c.(*SpecimenRegistered); ok {
		id = registered.ID
	}
	if added, ok := c.(*PhotosAdded); ok {
		for _, p := range added.Photos {
			w.Batch.Attach[p.ID] = id
		}
	}
	e := w.Event(SpecimenStream(id), spec.Seq+1, c)
	if err := spec.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.specimens = appendOnce(w.specimens, spec)
	return nil
}

// Submission changes a submission and collects the event; the first event drafts it.
func (w *Writer) Submission(sub *Submission, c Change) error {
	id := sub.ID
	if drafted, ok := c.(*Drafted); ok {
		id = drafted.ID
	}
	e := w.Event(SubmissionStream(id), sub.Seq+1, c)
	if err := sub.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.submissions = appendOnce(w.submissions, sub)
	return nil
}

// Proposal changes a proposed cell and collects the event; the first event proposes it.
func (w *Writer) Proposal(p *CellProposal, c Change) error {
	id := p.ID
	if proposed, ok := c.(*CellProposed); ok {
		id = proposed.ID
	}
	e := w.Event(ProposalStream(id), p.Seq+1, c)
	if err := p.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.proposals = appendOnce(w.proposals, p)
	return nil
}

// Finished is the batch with the values as they are after all events.
func (w *Writer) Finished() Batch {
	for _, p := range w.proposals {
		w.Batch.Proposals = append(w.Batch.Proposals, *p)
	}
	for _, s := range w.specimens {
		w.Batch.Specimens = append(w.Batch.Specimens, *s)
	}
	for _, s := range w.submissions {
		w.Batch.Submissions = append(w.Batch.Submissions, *s)
	}
	return w.Batch
}

// Reliability writes a change of a snapshot.
func (w *Writer) Reliability(r *Reliability, c Change) error {
	e := w.Event(ReliabilityStream(r.Group), r.Version+1, c)
	if err := r.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.Batch.Reliability = r
	return nil
}

func appendOnce[T any](list []*T, item *T) []*T {
	for _, known := range list {
		if known == item {
			return list
		}
	}
	return append(list, item)
}
