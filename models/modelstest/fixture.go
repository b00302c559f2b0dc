package modelstest

import (
	"cmp"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

// noon is when the fixtures begin, with microseconds that must survive.
var noon = time.Date(2026, 5, 14, 12, 0, 0, 123_456_000, time.UTC)

// fixture records events in a database, without the rules of the service: the store has none of its own.
type fixture struct {
	*testing.T
	db *models.DB
}

// batch is the batch of events that follow those stored, with the values that they lead to.
func (f fixture) batch(events ...review.Event) review.Batch {
	f.Helper()
	batch := review.Batch{Events: events}
	added := map[string][]review.Event{}
	var order []string
	for _, e := range events {
		if added[e.Stream] == nil {
			order = append(order, e.Stream)
		}
		added[e.Stream] = append(added[e.Stream], e)
	}
	for _, stream := range order {
		stored, err := f.db.Events(f.Context(), stream)
		require.NoError(f, err)
		f.replay(&batch, stream, append(stored, added[stream]...))
	}
	return batch
}

// replay adds the value of a stream to a batch.
func (f fixture) replay(batch *review.Batch, stream string, events []review.Event) {
	f.Helper()
	switch kind, _, _ := strings.Cut(stream, "/"); kind {
	case "specimen":
		specimen, err := review.ReplaySpecimen(events)
		require.NoError(f, err)
		batch.Specimens = append(batch.Specimens, specimen)
	case "submission":
		submission, err := review.ReplaySubmission(events)
		require.NoError(f, err)
		batch.Submissions = append(batch.Submissions, submission)
	case "cell-proposal":
		proposal, err := review.ReplayCellProposal(events)
		require.NoError(f, err)
		batch.Proposals = append(batch.Proposals, proposal)
	case "reliability":
		reliability, err := review.ReplayReliability(strings.TrimPrefix(stream, review.ReliabilityStream("")), events)
		require.NoError(f, err)
		batch.Reliability = &reliability
	case "tables":
		batch.Release = &events[len(events)-1].Change.(*review.TablesReleased).Release
	default:
		require.Fail(f, "unknown stream", stream)
	}
}

func (f fixture) commit(events ...review.Event) {
	f.Helper()
	require.NoError(f, f.db.Commit(service.Unhurried(f.Context()), f.batch(events...)))
}

func event(stream string, seq int, actor string, at time.Time, change review.Change) review.Event {
	return review.Event{Stream: stream, Seq: seq, At: at, Actor: actor, Role: review.RoleReviewer, Change: change}
}

// entry is a submission of a specimen with the same id.
type entry struct {
	id, owner, catalogue, family, name string
	trip, drawer, group                string
	determiner                         string // empty: the owner
	at                                 time.Time
	gain                               float64 // bits; with confidence it makes the assessment
	gains                              []review.RegionGain
	confidence                         float64
	contradictions                     int
	draft                              bool
}

// add stores an entry: registered, drafted, and unless it stays a draft submitted and assessed.
func (f fixture) add(e entry) {
	f.Helper()
	if e.at.IsZero() {
		e.at = noon
	}
	specimen, submission := review.SpecimenStream(e.id), review.SubmissionStream(e.id)
	label := review.Label{CatalogueNumber: e.catalogue, Trip: e.trip, StoragePlace: e.drawer}
	events := []review.Event{
		event(specimen, 1, e.owner, e.at, &review.SpecimenRegistered{ID: e.id, Label: label}),
		event(submission, 1, e.owner, e.at, &review.Drafted{ID: e.id, Proposal: review.Proposal{Group: e.group, Specimen: e.id,
			Determination: review.Determination{Family: e.family, ScientificName: e.name, Determiner: cmp.Or(e.determiner, e.owner)}}}),
	}
	if !e.draft {
		events = append(events, event(submission, 2, e.owner, e.at, &review.Submitted{}),
			event(submission, 3, e.owner, e.at, &review.Assessed{Assessment: e.assessment(), Gain: min(1, e.gain), Gains: e.gains}))
	}
	f.commit(events...)
}

func (e entry) assessment() judgement.Assessment {
	a := judgement.Assessment{Family: e.family, Confidence: e.confidence,
		Ranking: []judgement.Ranked{{Family: e.family, P: e.confidence}},
		Next:    []judgement.Next{{Character: "ventrites", Bits: e.gain}}}
	for i := range e.contradictions {
		a.Contradictions = append(a.Contradictions, judgement.Contradiction{Kind: judgement.Unusual, Character: fmt.Sprintf("character-%d", i)})
	}
	return a
}

func (f fixture) submission(id string) review.Submission {
	f.Helper()
	s, err := f.db.Submission(f.Context(), id)
	require.NoError(f, err)
	return s
}

// find returns the ids of all pages of a list, in order, and refuses a repeated one.
func (f fixture) find(filter service.SubmissionFilter, size int) []string {
	f.Helper()
	return f.pages(func(page service.Page) ([]string, string, error) {
		lines, next, err := f.db.FindSubmissions(f.Context(), filter, page)
		ids := []string{}
		for _, l := range lines {
			ids = append(ids, l.ID)
		}
		return ids, next, err
	}, size)
}

// queue returns the ids of all pages of the queue, in order. Each page is asked for a minute later, as people do.
func (f fixture) queue(filter service.QueueFilter, size int) []string {
	f.Helper()
	return f.pages(func(page service.Page) ([]string, string, error) {
		lines, next, err := f.db.FindQueue(f.Context(), filter, page)
		filter.AsOf = filter.AsOf.Add(time.Minute)
		ids := []string{}
		for _, l := range lines {
			ids = append(ids, l.ID)
		}
		return ids, next, err
	}, size)
}

func (f fixture) pages(read func(service.Page) ([]string, string, error), size int) []string {
	f.Helper()
	all, seen := []string{}, map[string]bool{}
	page := service.Page{Size: size}
	for {
		ids, next, err := read(page)
		require.NoError(f, err)
		require.LessOrEqual(f, len(ids), size)
		for _, id := range ids {
			require.False(f, seen[id], "%s is on two pages", id)
			seen[id] = true
		}
		all = append(all, ids...)
		if next == "" {
			return all
		}
		require.Len(f, ids, size, "only the last page is short")
		require.LessOrEqual(f, len(next), 500, "the service refuses longer cursors")
		page.Cursor = next
	}
}

func requireKind(t *testing.T, kind review.Kind, err error) {
	t.Helper()
	require.Equal(t, kind, review.KindOf(err), "%v", err)
}
