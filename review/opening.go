package review

import (
	"fmt"
	"slices"
	"time"
)

// Opening is what somebody who reviews has been shown of a specimen: its names, and with Verdicts what others have said of it.
// Who has been shown the former looks blind at it no more; what is said after the latter is told and weighed as such. The zero
// value has been shown nothing.
type Opening struct {
	Specimen string
	Person   string
	Seq      int // of the last event; 0: shown nothing
	Verdicts bool
}

// Opened: a reviewer or a curator was shown a specimen with the names that it has been given for the first time, or, with
// Verdicts, what others had said of it. It stands in a stream of its own: that somebody has looked makes nobody's decision stale.
type Opened struct {
	Specimen string `json:"specimen"`
	Verdicts bool   `json:"verdicts,omitempty"`
}

// EventKind implements Change.
func (*Opened) EventKind() string { return "opened" }

func init() { newChange["opened"] = func() Change { return &Opened{} } }

// OpeningStream is the stream of what one person has been shown of a specimen; without a person it is what the streams of all
// persons begin with.
func OpeningStream(specimen, person string) string { return "opening/" + specimen + "/" + person }

// ReplayOpening returns the opening that its events make, in order from the first.
func ReplayOpening(events []Event) (Opening, error) {
	var o Opening
	for _, e := range events {
		if err := o.apply(e); err != nil {
			return Opening{}, err
		}
	}
	return o, nil
}

func (o *Opening) apply(e Event) error {
	c, ok := e.Change.(*Opened)
	if !ok || e.Seq != o.Seq+1 {
		return fmt.Errorf("%s: event %d is %T after event %d", e.Stream, e.Seq, e.Change, o.Seq)
	}
	*o = Opening{Specimen: c.Specimen, Person: e.Actor, Seq: e.Seq, Verdicts: o.Verdicts || c.Verdicts}
	return nil
}

// Opening writes that the actor is shown a specimen, and perhaps what others said of it.
func (w *Writer) Opening(o *Opening, c *Opened) error {
	e := w.Event(OpeningStream(c.Specimen, w.Moment.Actor.Person), o.Seq+1, c)
	if err := o.apply(e); err != nil {
		return err
	}
	w.Batch.Events = append(w.Batch.Events, e)
	w.Batch.Openings = append(w.Batch.Openings, *o)
	return nil
}

// RecordsOpening says whether it is recorded what an actor is shown: of those alone who may be asked what they see.
func RecordsOpening(actor Actor) bool { return May(actor, ActReadQueue, "") }

// ShowsOthers says whether what an actor may see of a submission holds what somebody else has said of it.
func ShowsOthers(actor Actor, s *Submission) bool {
	if SealedFrom(actor, s) {
		return false
	}
	return slices.ContainsFunc(s.Verdicts, func(v Verdict) bool { return v.By != actor.Person }) ||
		slices.ContainsFunc(s.Opinions, func(o Opinion) bool { return o.By != actor.Person }) ||
		slices.ContainsFunc(s.Blind, func(b BlindCheck) bool { return b.By != actor.Person })
}

// MarkOpened marks the verdicts and the opinion of a decision that are given after the actor has been shown what others said, or
// has opened the specimen in an audit, whatever stood there then.
// What says no more than the actor had said before that is no other one.
func (now *Dossier) MarkOpened(made Decision) Decision {
	if !now.Opened.Verdicts && !now.audited() {
		return made
	}
	for _, c := range made.Submission {
		switch given := c.(type) {
		case *VerdictsGiven:
			for i := range given.Verdicts {
				given.Verdicts[i].AfterOpening = !now.saidBefore(given.Verdicts[i])
			}
		case *OpinionGiven:
			given.Opinion.AfterOpening = !now.thoughtBefore(given.Opinion)
		}
	}
	return made
}

// thoughtBefore says whether somebody repeats an opinion on the family that was given before others' were shown. Down to which
// rank it agrees is not asked: no quorum rests on that.
func (now *Dossier) thoughtBefore(o Opinion) bool {
	return slices.ContainsFunc(now.Submission.Opinions, func(former Opinion) bool {
		return former.By == o.By && former.Kind == o.Kind && former.Family == o.Family && !former.AfterOpening
	})
}

// saidBefore says whether somebody repeats a verdict that was given before others' were shown.
func (now *Dossier) saidBefore(v Verdict) bool {
	same := func(former Verdict) bool {
		return former.By == v.By && former.Observation == v.Observation && former.Kind == v.Kind && former.Better == v.Better && !former.AfterOpening
	}
	if slices.ContainsFunc(now.Submission.Verdicts, same) {
		return true
	}
	return slices.ContainsFunc(now.Siblings, func(s Submission) bool { return slices.ContainsFunc(s.Verdicts, same) })
}

// repeats says whether a verdict that was given after opening says what somebody else had said: it is then a word on what was
// shown, and no second look.
func (v *Verdict) repeats(verdicts []Verdict, blind []BlindCheck) bool {
	if !v.AfterOpening {
		return false
	}
	earlier := func(by string, at time.Time) bool { return by != v.By && !at.After(v.At) }
	if slices.ContainsFunc(blind, func(b BlindCheck) bool {
		return b.Observation == v.Observation && earlier(b.By, b.At) && v.Kind == VerdictDispute && b.State != "" && b.State == v.Better
	}) {
		return true
	}
	return slices.ContainsFunc(verdicts, func(o Verdict) bool {
		if o.Observation != v.Observation || o.Kind != v.Kind || !earlier(o.By, o.At) {
			return false
		}
		return o.Better == v.Better || v.Better == "" // who disputes without a better state says no more than others who dispute
	})
}
