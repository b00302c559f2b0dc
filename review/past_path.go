package review

import (
	"cmp"
	"slices"
	"time"

	"revidit/review/judgement"
)

// PathPoint is how sure a name was from one assessment on, with what had moved it.
type PathPoint struct {
	Submission string    `json:"submission"`
	Position   int64     `json:"position"`
	Moment     int64     `json:"moment" doc:"Position at which the act was done that it is of: as-of takes it"`
	At         time.Time `json:"at"`
	Family     string    `json:"family"`
	Confidence float64   `json:"confidence"`
	Leads      string    `json:"leads" doc:"The most probable family"`
	// Causes are what had come in since the assessment before.
	Causes []Mover `json:"causes" nullable:"false"`
}

// Mover is something by which an assessment became another one: an event of the specimen or of a submission of it, by its kind, or a
// version that had moved.
type Mover struct {
	Kind string `json:"kind" doc:"Kind of an event of the specimen or of its submissions; or tables, reliability, policy or method, of which there was another version"`
	// Actor is the person, empty for a version; Count is of how many things it was.
	Actor string `json:"actor,omitempty"`
	Count int    `json:"count,omitempty"`
}

// Causes that are no events.
const (
	MoverTables      = "tables"
	MoverReliability = "reliability"
	MoverPolicy      = "policy"
	MoverMethod      = "method"
)

// PathOf is how sure the name of a submission was over time: each assessment that changed the number or came with something that
// might have. until bounds it: what was assessed from that position on is left out; 0 bounds nothing.
func (p Past) PathOf(submission string, until int64) []PathPoint {
	path := []PathPoint{}
	var before *judgement.Assessment
	var since int64
	for _, e := range p.AssessmentsOf(submission) {
		if until > 0 && e.Position >= until {
			break
		}
		a := e.Change.(*Assessed).Assessment
		causes := append(p.causesBetween(since, e.Position), versionsMoved(before, &a)...)
		point := PathPoint{Submission: submission, Position: e.Position, Moment: p.endOfAct(e), At: e.At, Family: a.Family, Confidence: a.Confidence, Leads: a.Leads(), Causes: causes}
		if before == nil || len(causes) > 0 || a.Confidence != before.Confidence {
			path = append(path, point)
		}
		before, since = &a, e.Position
	}
	return path
}

// causesBetween are the events of evidence behind one position and no later than another: of one kind and person together.
func (p Past) causesBetween(after, upto int64) []Mover {
	causes := []Mover{}
	for _, e := range p.Until(upto) {
		n := evidenceIn(e.Change)
		if e.Position <= after || n == 0 {
			continue
		}
		i := slices.IndexFunc(causes, func(c Mover) bool { return c.Kind == e.Change.EventKind() && c.Actor == e.Actor })
		if i < 0 {
			causes = append(causes, Mover{Kind: e.Change.EventKind(), Actor: e.Actor, Count: n})
			continue
		}
		causes[i].Count += n
	}
	return causes
}

// evidenceIn is of how much evidence a change is, 0 where a confidence does not rest on it.
func evidenceIn(c Change) int {
	switch c := c.(type) {
	case *ObservationsRecorded:
		return len(c.Observations)
	case *VerdictsGiven:
		return len(c.Verdicts)
	case *ObservationWithdrawn, *LabelCorrected, *BlindChecked, *Answered, *Reopened, *Submitted:
		return 1
	}
	return 0
}

// versionsMoved are the versions that two assessments have not in common.
func versionsMoved(before, after *judgement.Assessment) (moved []Mover) {
	if before == nil {
		return nil
	}
	for _, v := range []struct {
		kind  string
		moved bool
	}{{MoverTables, before.TablesHash != after.TablesHash}, {MoverReliability, before.Reliability != after.Reliability},
		{MoverPolicy, before.Policy != after.Policy}, {MoverMethod, before.MadeBy() != after.MadeBy()}} {
		if v.moved {
			moved = append(moved, Mover{Kind: v.kind})
		}
	}
	return moved
}

// PathsSeenBy are the paths of all submissions of a specimen that an actor may see, the oldest submission first, and by today's
// permission: an assessment that may count what is sealed from the actor is left out, and so is every number of a series of the
// actor's own.
func (p Past) PathsSeenBy(actor Actor, submissions []Submission) []PathPoint {
	until := p.SealedSince(actor, submissions)
	path := []PathPoint{}
	for i := range submissions {
		if MayRead(actor, &submissions[i]) && !Unscored(actor, &submissions[i]) {
			path = append(path, p.PathOf(submissions[i].ID, until)...)
		}
	}
	return path
}

// InPinOrder are submissions as their slips stand on the pin: the oldest name uppermost, as new slips go on from below. A slip goes by
// its date, a year before the days of that year; one without a date by when it came in.
func InPinOrder(submissions []Submission) []Submission {
	pile := slices.Clone(submissions)
	on := func(s Submission) string {
		return cmp.Or(s.Determination.DeterminedOn, s.DraftedAt.UTC().Format(time.DateOnly))
	}
	slices.SortStableFunc(pile, func(a, b Submission) int { return cmp.Or(cmp.Compare(on(a), on(b)), a.DraftedAt.Compare(b.DraftedAt)) })
	return pile
}
