package modelstest

import (
	"context"
	"sync"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var bases = map[string]func(fixture){
	"basis holds what a decision rests on":        basisHolds,
	"basis of what is not there":                  basisOfNothing,
	"basis knows nobody who has nothing to do":    basisKnowsFew,
	"a batch on what has moved is refused":        restsAreAsserted,
	"a new sibling is no phantom":                 newSibling,
	"versions count events and survive a rebuild": versionsCount,
}

var basesAtOnce = map[string]func(fixture){
	"one of those who decided on the same wins": raceOnABasis,
}

func (f fixture) basis(asked service.Asked) service.Basis {
	f.Helper()
	b, err := f.db.Basis(f.Context(), asked)
	require.NoError(f, err)
	return b
}

// rests is what a decision about the submission with this id would rest on.
func (f fixture) rests(id string) *review.Rests {
	f.Helper()
	b := f.basis(service.Asked{Submission: id})
	return &review.Rests{Versions: map[string]int{b.Specimen.ID: review.RecordVersion(&b.Specimen, b.Submissions)}, Policy: b.Policy.Version,
		Group: "adults", Release: b.Releases["adults"]}
}

// another is a further submission of the specimen a.
func another(id string) []review.Event {
	stream := review.SubmissionStream(id)
	return []review.Event{event(stream, 1, "ada", noon, &review.Drafted{ID: id, Proposal: review.Proposal{Group: "adults", Specimen: "a"}}),
		event(stream, 2, "ada", noon, &review.Submitted{})}
}

// held is a change of a submission that asks for nothing.
func held(id string, seq int) review.Event {
	return event(review.SubmissionStream(id), seq, "rex", noon, &review.Held{Until: noon})
}

func basisHolds(f fixture) {
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	f.commit(another("b")...)
	require.NoError(f, f.db.Commit(f.Context(), policyBatch(1)))
	for _, asked := range []service.Asked{{Submission: "a"}, {Submission: "b"}, {Specimen: "a"}} {
		b := f.basis(asked)
		require.Equal(f, "A-1", b.Specimen.Label.CatalogueNumber)
		require.Equal(f, []review.Submission{f.submission("a"), f.submission("b")}, b.Submissions, "the oldest first")
		require.Equal(f, 1, b.Policy.Version)
		require.Empty(f, b.Releases)
	}
	fresh := f.basis(service.Asked{Person: "ada"})
	require.Equal(f, review.Specimen{}, fresh.Specimen)
	require.Equal(f, 1, fresh.Policy.Version)
}

func policyBatch(version int) review.Batch {
	policy := review.DefaultPolicy()
	policy.Version = version
	return review.Batch{Events: []review.Event{event(review.PolicyStream, version, "odile", noon, &review.PolicySet{Policy: policy})}, Policy: &policy}
}

func basisOfNothing(f fixture) {
	for _, asked := range []service.Asked{{Submission: "a"}, {Specimen: "a"}, {Submission: "a\x00"}, {Specimen: "\xff"}} {
		_, err := f.db.Basis(f.Context(), asked)
		requireKind(f.T, review.KindNotFound, err)
	}
}

func basisKnowsFew(f fixture) {
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	f.commit(event(review.ReliabilityStream("adults"), 1, "rex", noon, learned("s", map[string]review.PersonKnown{
		"ada": known(1), "rex": known(2), "uma": known(3)})))
	f.commit(event(review.SpecimenStream("a"), 2, "ada", noon, &review.ObservationsRecorded{Observations: []review.Observation{{ID: "o", Character: "ventrites", State: "5", By: "ada"}}}))
	people := f.basis(service.Asked{Submission: "a", Person: "rex"}).People["adults"]
	require.Equal(f, 1, people.Version)
	require.Equal(f, map[string]review.PersonKnown{"ada": known(1), "rex": known(2)}, people.People)
}

func restsAreAsserted(f fixture) {
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	refused := func(change func(*review.Rests)) {
		f.Helper()
		batch := f.batch(held("a", 4))
		batch.Rests = f.rests("a")
		change(batch.Rests)
		require.ErrorIs(f, f.db.Commit(f.Context(), batch), service.ErrRace)
		require.Equal(f, 3, f.submission("a").Seq, "nothing is stored")
	}
	refused(func(r *review.Rests) { r.Versions["a"]-- })
	refused(func(r *review.Rests) { r.Versions["a"]++ })
	refused(func(r *review.Rests) { r.Policy++ })
	refused(func(r *review.Rests) { r.Release = "other" })
	batch := f.batch(held("a", 4))
	batch.Rests = f.rests("a")
	require.NoError(f, f.db.Commit(f.Context(), batch))

	// A specimen that is not registered yet rests on policy and release alone.
	fresh := f.batch(event(review.SpecimenStream("n"), 1, "ada", noon, &review.SpecimenRegistered{ID: "n"}))
	fresh.Rests = &review.Rests{Policy: 1, Group: "adults"}
	require.ErrorIs(f, f.db.Commit(f.Context(), fresh), service.ErrRace)
	fresh.Rests.Policy = 0
	require.NoError(f, f.db.Commit(f.Context(), fresh))
}

func newSibling(f fixture) {
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	batch := f.batch(held("a", 4))
	batch.Rests = f.rests("a")
	f.commit(another("b")...)
	require.ErrorIs(f, f.db.Commit(f.Context(), batch), service.ErrRace, "b came in between and was not looked at")
}

// raceOnABasis: each decided on the same specimen, all about another submission of it, so that no stream is written twice.
func raceOnABasis(f fixture) {
	const racers = 8
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	for i := range racers {
		f.commit(another(string(rune('b' + i)))...)
	}
	batches := make([]review.Batch, racers)
	for i := range batches {
		id := string(rune('b' + i))
		batches[i] = f.batch(held(id, 3))
		batches[i].Rests = f.rests(id)
	}
	errs := make([]error, racers)
	start := make(chan struct{})
	var group sync.WaitGroup
	for i := range racers {
		group.Go(func() {
			<-start
			errs[i] = f.db.Commit(context.Background(), batches[i])
		})
	}
	close(start)
	group.Wait()
	won := 0
	for _, err := range errs {
		if err == nil {
			won++
			continue
		}
		require.ErrorIs(f, err, service.ErrRace)
	}
	require.Equal(f, 1, won)
}

func versionsCount(f fixture) {
	f.add(entry{id: "a", owner: "ada", catalogue: "A-1", family: "Elateridae", group: "adults"})
	f.commit(another("b")...)
	f.commit(held("b", 3), event(review.SpecimenStream("a"), 2, "ada", noon, &review.LabelCorrected{Label: review.Label{CatalogueNumber: "A-2"}, Reason: "x"}))
	rests := f.rests("a")
	require.Equal(f, 2+3+3, rests.Versions["a"])
	require.NoError(f, f.db.Rebuild(f.Context()))
	batch := f.batch(held("a", 4))
	batch.Rests = rests
	require.NoError(f, f.db.Commit(f.Context(), batch), "the column says what the events say")
}
