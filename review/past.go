package review

import (
	"cmp"
	"maps"
	"slices"
	"strings"
	"time"

	"revidit/review/judgement"
)

// Placed is an event with its position among all: they count from 1 without a gap, are in order within each stream, and none is
// ever changed. 0 is one that has none yet: it is later than all that have one.
type Placed struct {
	Position int64
	Event
}

// Past is what has happened to a specimen and its submissions, to be read as of any moment. A moment is a position in the order of
// all events: what stands there and before has happened.
type Past struct{ events []Placed }

// PastOf is the past that events make, which are in order. What has no position yet is part of no moment.
func PastOf(events []Placed) Past {
	return Past{slices.DeleteFunc(slices.Clone(events), func(e Placed) bool { return e.Position == 0 })}
}

// Record is a specimen with its submissions, the oldest first.
type Record struct {
	Last        Placed // the last event that it is made of; of position 0 where there is none
	Specimen    Specimen
	Submissions []Submission
}

// Submission is one of the record, nil where that had not begun.
func (r *Record) Submission(id string) *Submission {
	for i := range r.Submissions {
		if r.Submissions[i].ID == id {
			return &r.Submissions[i]
		}
	}
	return nil
}

// Until are the events until a moment, in order.
func (p Past) Until(position int64) []Placed {
	end := len(p.events)
	for end > 0 && p.events[end-1].Position > position {
		end--
	}
	return p.events[:end]
}

// At is the record as it stood at a moment.
func (p Past) At(position int64) (Record, error) {
	var r Record
	submissions := map[string]*Submission{}
	for _, e := range p.Until(position) {
		r.Last = e
		if !strings.HasPrefix(e.Stream, SubmissionStream("")) {
			if err := r.Specimen.apply(e.Event); err != nil {
				return Record{}, err
			}
			continue
		}
		if submissions[e.Stream] == nil {
			submissions[e.Stream] = &Submission{}
		}
		if err := submissions[e.Stream].apply(e.Event); err != nil {
			return Record{}, err
		}
	}
	for _, stream := range slices.Sorted(maps.Keys(submissions)) {
		r.Submissions = append(r.Submissions, *submissions[stream])
	}
	InOrder(r.Submissions)
	return r, nil
}

// Beside are the moments before the last act and after the next one; 0 where the submission had not begun, or nothing follows.
func (p Past) Beside(submission string, position int64) (earlier, later int64) {
	first := p.First(submission)
	for _, e := range p.events {
		end := p.endOfAct(e)
		switch {
		case later == 0 && e.Position > position:
			later = end
		case end < position && end >= first && end < p.lastUntil(position):
			earlier = end
		}
	}
	return earlier, later
}

// lastUntil is the position of the last event until a moment, 0 where there is none.
func (p Past) lastUntil(position int64) int64 {
	until := p.Until(position)
	if len(until) == 0 {
		return 0
	}
	return until[len(until)-1].Position
}

// First is the position of the first event of a submission, 0 where none has one.
func (p Past) First(submission string) int64 {
	for _, e := range p.events {
		if e.Stream == SubmissionStream(submission) {
			return e.Position
		}
	}
	return 0
}

// AssessmentsOf are the stored assessments of a submission, in order.
func (p Past) AssessmentsOf(submission string) (assessed []Placed) {
	for _, e := range p.events {
		if _, ok := e.Change.(*Assessed); ok && e.Stream == SubmissionStream(submission) {
			assessed = append(assessed, e)
		}
	}
	return assessed
}

// Assessed is the last assessment of a submission that was stored until a moment; false where there was none.
func (p Past) Assessed(submission string, position int64) (Placed, bool) {
	var last Placed
	for _, e := range p.AssessmentsOf(submission) {
		if e.Position <= position {
			last = e
		}
	}
	return last, last.Position > 0
}

// StoredWhy says why a stored assessment is not made again.
type StoredWhy string

// The reasons why the number that was stored is shown, and not one that was computed again.
const (
	StoredMethod  StoredWhy = "method"  // another method than this program has
	StoredTables  StoredWhy = "tables"  // tables that are not here any more
	StoredMachine StoredWhy = "machine" // another type of machine, whose last digits are others
	StoredDiffers StoredWhy = "differs" // it could be, and is another one: something is wrong
)

// Remade says how an assessment of the past came about.
type Remade struct {
	Position int64     `json:"position" doc:"Of the event that stored it"`
	At       time.Time `json:"at"`
	// Again: everything was computed again from what is stored, and is equal to twelve digits to what was stored then. Else it is
	// what was stored, which leaves out the ends of its lists, and Why says why.
	Again bool      `json:"again"`
	Why   StoredWhy `json:"why,omitempty" enum:",method,tables,machine,differs"`
}

// Remake makes the assessment of an event of the past again, from the record as it stood then. lacks is why it cannot be, where the
// caller knows already.
func (p Past) Remake(e Placed, by Scales, lacks StoredWhy) (judgement.Assessment, Remade, error) {
	stored := e.Change.(*Assessed)
	made := Remade{Position: e.Position, At: e.At, Why: cmp.Or(lacks, stored.lacks())}
	if made.Why != "" && made.Why != StoredMachine {
		return stored.Assessment, made, nil
	}
	rounds := false
	for _, position := range []int64{e.Position, p.endOfAct(e)} {
		r, err := p.At(position)
		if err != nil {
			return judgement.Assessment{}, made, err
		}
		again := by.Assess(&r, r.Submission(strings.TrimPrefix(e.Stream, SubmissionStream(""))))
		if stored.Assessment.Repeats(again) {
			made.Again, made.Why = true, ""
			return again, made, nil
		}
		rounds = rounds || stored.Assessment.Rounds(again)
	}
	if made.Why == "" || !rounds {
		made.Why = StoredDiffers
	}
	return stored.Assessment, made, nil
}

// endOfAct is the position of the last event of the act that an event is of. An act knows all of its own events, while their
// positions go by the names of streams: after a clock was set back, another submission of the same act may come later.
func (p Past) endOfAct(e Placed) int64 {
	last := e.Position
	for _, next := range p.events {
		if next.Position == last+1 && next.At.Equal(e.At) && next.Actor == e.Actor {
			last = next.Position
		}
	}
	return last
}

// lacks is why the arithmetic of a stored assessment is not that of this program.
func (c *Assessed) lacks() StoredWhy {
	if c.Assessment.MadeBy() != judgement.Method {
		return StoredMethod
	}
	if c.Machine != machine {
		return StoredMachine
	}
	return ""
}

// SealedSince is the position of the first event of a submission that is sealed from an actor today, 0 where none is: what was assessed
// before counts nothing that is sealed.
func (p Past) SealedSince(actor Actor, now []Submission) (since int64) {
	for i := range now {
		if now[i].OpenedAt == nil || !SealedFrom(actor, &now[i]) {
			continue
		}
		if first := p.First(now[i].ID); first > 0 && (since == 0 || first < since) {
			since = first
		}
	}
	return since
}

// CountsSealed says whether an assessment of the past may count what is sealed from an actor today, by the submissions as they are now.
func (p Past) CountsSealed(e Placed, actor Actor, now []Submission) bool {
	since := p.SealedSince(actor, now)
	return since > 0 && since < e.Position
}

// unsealed is the record without what is sealed from an actor today, by the submissions as they are now: a look at the past tells
// nothing that the present does not.
func (r *Record) unsealed(actor Actor, now []Submission) Record {
	open := Record{Last: r.Last, Specimen: r.Specimen}
	for _, s := range r.Submissions {
		if i := slices.IndexFunc(now, func(n Submission) bool { return n.ID == s.ID }); i < 0 || now[i].OpenedAt == nil || !SealedFrom(actor, &now[i]) {
			open.Submissions = append(open.Submissions, s)
		}
	}
	return open
}

// PastView is a submission of the past, as far as an actor may see it today.
type PastView struct {
	Submission Submission
	Specimen   Specimen
	Open       Record // what is not sealed from the actor, to be weighed: with all photos and observations
	Sealed     bool   // the submission is
	Unscored   bool
}

// SeenThen is a submission of the record as an actor may see it by today's permission: now is the specimen as the actor sees it
// today, and the submissions are those of today. The submission is one of both.
func (r *Record) SeenThen(actor Actor, id string, now Specimen, submissions []Submission) PastView {
	today := submissions[slices.IndexFunc(submissions, func(s Submission) bool { return s.ID == id })]
	v := PastView{Submission: *r.Submission(id), Sealed: SealedFrom(actor, &today), Unscored: Unscored(actor, &today), Open: r.unsealed(actor, submissions)}
	v.Submission.Draw = nil
	switch {
	case v.Unscored:
		v.Submission = withoutScores(v.Submission)
	case v.Sealed:
		own := slices.DeleteFunc(slices.Clone(v.Submission.Blind), func(b BlindCheck) bool { return b.By != actor.Person })
		v.Submission = UnseenOf(v.Submission)
		v.Submission.Blind = own
	}
	v.Specimen = r.Specimen.asFarAs(&now)
	v.Submission.Photos = PhotosSeenIn(&v.Specimen, v.Submission.Photos)
	return v
}

// asFarAs is a specimen of the past with no more photos and observations than somebody sees of it today, and with none but the same
// view of each photo.
func (s Specimen) asFarAs(now *Specimen) Specimen {
	s.Photos = slices.DeleteFunc(slices.Clone(s.Photos), func(p Photo) bool {
		today, ok := now.Photo(p.ID)
		return !ok || p.View == ViewOfLabels && today.View != ViewOfLabels
	})
	s.Observations = slices.DeleteFunc(slices.Clone(s.Observations), func(o Observation) bool {
		_, ok := now.Observation(o.ID)
		return !ok
	})
	for i, o := range s.Observations {
		if _, shown := s.Photo(o.Photo); o.Photo != "" && !shown {
			s.Observations[i].Photo, s.Observations[i].Region = "", nil
		}
	}
	return s
}

// InHistory puts events of several streams into the order in which they were stored: by position, what has none yet last.
func InHistory(events []Placed) []Placed {
	slices.SortStableFunc(events, func(a, b Placed) int {
		if (a.Position == 0) != (b.Position == 0) {
			return cmp.Compare(b.Position, a.Position)
		}
		return cmp.Or(cmp.Compare(a.Position, b.Position), a.At.Compare(b.At))
	})
	return events
}
