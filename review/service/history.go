package service

import (
	"context"
	"slices"

	"revidit/review"
)

// History is what has happened to a submission and its specimen, the oldest first.
type History struct {
	Entries []HistoryEntry    `json:"entries"`
	Names   map[string]string `json:"names"`
}

// HistoryEntry is one event. Hidden events are those that the actor may not read yet: their change is left out.
type HistoryEntry struct {
	Stream string `json:"stream"`
	Seq    int    `json:"seq"`
	// Position among all events; left out where it has none yet, for some milliseconds.
	Position int64       `json:"position,omitempty" doc:"Among all events; left out where it has none yet. As-of takes it"`
	At       string      `json:"at" format:"date-time"` // UTC, microseconds
	Actor    string      `json:"actor"`
	Role     review.Role `json:"role"`
	// Machine: nobody did it, but the program, by itself or by the command line of whoever keeps the server.
	Machine bool          `json:"machine,omitempty" doc:"No person did it, but the program, by itself or by the command line of whoever keeps the server"`
	Kind    string        `json:"kind"`
	Change  review.Change `json:"change,omitempty"`
	Hidden  bool          `json:"hidden,omitempty"`
}

// HistoryOf returns the events of a submission and of its specimen in the order in which they were stored.
func (s *Service) HistoryOf(ctx context.Context, actor review.Actor, id string) (History, error) {
	now, err := s.load(ctx, actor, id, AnyVersion)
	if err != nil {
		return History{}, err
	}
	if err := s.openedSubmission(ctx, actor, now); err != nil {
		return History{}, err
	}
	sealed := review.SealedFrom(actor, now.Submission)
	streams := []string{review.SubmissionStream(id), review.SpecimenStream(now.Specimen.ID)}
	if !sealed {
		openings, err := s.store.Openings(ctx, now.Specimen.ID)
		if err != nil {
			return History{}, err
		}
		for _, e := range openings {
			streams = append(streams, e.Stream)
		}
	}
	events, err := s.store.History(ctx, streams...)
	if err != nil {
		return History{}, err
	}
	events = s.seenEvents(actor, now, events)
	since, err := s.sealedSince(ctx, actor, now)
	if err != nil {
		return History{}, err
	}
	printed, err := s.printedOf(ctx, actor, now.Specimen.ID, sealed)
	if err != nil {
		return History{}, err
	}
	events = review.InHistory(append(events, printed...))
	h := History{Entries: []HistoryEntry{}}
	persons := []string{now.Submission.Determination.Determiner}
	for _, e := range events {
		if submitted, ok := e.Change.(*review.Submitted); ok && !now.Submission.Closed() {
			e.Change = submitted.WithoutDraw()
		}
		if audited, ok := e.Change.(*review.Audited); ok && sealed {
			e.Change = audited.WithoutReason()
		}
		if review.Unscored(actor, now.Submission) {
			e.Change = review.WithoutScores(e.Change)
		}
		entry := historyEntry(e, sealed && e.Actor != actor.Person)
		if since.counted(e) {
			entry.withoutNumbers()
		}
		h.Entries = append(h.Entries, entry)
		persons = append(persons, e.Actor, review.DeterminerIn(e.Change))
		if passed, ok := e.Change.(*review.HoldPassedOn); ok {
			persons = append(persons, passed.To)
		}
	}
	h.Names, err = s.names(ctx, persons)
	return h, err
}

// sealedMoment is the position of the first event of a submission that is sealed from somebody, 0 where none is.
type sealedMoment int64

// sealedSince looks among the submissions of the specimen.
func (s *Service) sealedSince(ctx context.Context, actor review.Actor, now *review.Dossier) (sealedMoment, error) {
	sealed := func(o review.Submission) bool { return o.OpenedAt != nil && review.SealedFrom(actor, &o) }
	if !slices.ContainsFunc(now.Siblings, sealed) {
		return 0, nil
	}
	past, err := s.past(ctx, now.Specimen, now.Siblings)
	return sealedMoment(past.SealedSince(actor, now.Siblings)), err
}

// counted says whether an event may count what is sealed. One without a position is later than all that have one.
func (m sealedMoment) counted(e review.Placed) bool {
	return m > 0 && (e.Position == 0 || e.Position > int64(m))
}

// withoutNumbers hides what was computed.
func (e *HistoryEntry) withoutNumbers() {
	switch e.Change.(type) {
	case *review.Assessed:
		e.Change, e.Hidden = nil, true
	case *review.Confirmed:
		e.Change = review.WithoutScores(e.Change)
	}
}

// seenEvents leaves out those events of the specimen that the actor may see nothing of.
func (s *Service) seenEvents(actor review.Actor, now *review.Dossier, events []review.Placed) []review.Placed {
	seen := review.SpecimenSeenBy(actor, *now.Specimen, now.Siblings)
	var shown []review.Placed
	for _, e := range events {
		if e.Stream != review.SpecimenStream(seen.ID) {
			shown = append(shown, e)
			continue
		}
		if left, ok := review.EventSeenIn(&seen, actor.Person, e.Event); ok {
			shown = append(shown, review.Placed{Position: e.Position, Event: left})
		}
	}
	return shown
}

func historyEntry(e review.Placed, sealed bool) HistoryEntry {
	entry := HistoryEntry{Stream: e.Stream, Seq: e.Seq, Position: e.Position, At: e.At.UTC().Format("2006-01-02T15:04:05.000000Z"), Actor: e.Actor,
		Role: e.Role, Machine: e.Actor == review.ProgramActor, Kind: e.Change.EventKind(), Change: e.Change}
	if sealed && review.TellsOpinion(e.Change) {
		entry.Change, entry.Hidden = nil, true
	}
	return entry
}
