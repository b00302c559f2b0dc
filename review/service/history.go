package service

import (
	"context"

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
	Position int64         `json:"position,omitempty" doc:"Among all events; left out where it has none yet. As-of takes it"`
	At       string        `json:"at"` // RFC 3339, UTC, microseconds
	Actor    string        `json:"actor"`
	Role     review.Role   `json:"role"`
	Kind     string        `json:"kind"`
	Change   review.Change `json:"change,omitempty"`
	Hidden   bool          `json:"hidden,omitempty"`
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
		h.Entries = append(h.Entries, historyEntry(e, sealed && e.Actor != actor.Person))
		persons = append(persons, e.Actor, review.DeterminerIn(e.Change))
	}
	h.Names, err = s.names(ctx, persons)
	return h, err
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
		Role: e.Role, Kind: e.Change.EventKind(), Change: e.Change}
	if sealed && review.TellsOpinion(e.Change) {
		entry.Change, entry.Hidden = nil, true
	}
	return entry
}
