package modelstest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/service"
)

var reliabilities = map[string]func(fixture){
	"nothing learnt is the roles":                    nothingLearnt,
	"what is learnt is stored beside what was known": learntStored,
	"a refit replaces everybody":                     refitReplaces,
	"an older snapshot never replaces a newer one":   olderSnapshot,
	"rebuilding restores what people are like":       rebuildReliability,
	"what lists mention is kept with the snapshot":   mentionsKept,
	"many people fit into one snapshot":              manyPeople,
}

var reliabilitiesAtOnce = map[string]func(fixture){
	"one of many who learn at once wins":                raceToLearn,
	"a snapshot is read whole while others are written": snapshotWhole,
}

// known is what could be known of somebody, another for each number.
func known(n int) review.PersonKnown {
	return review.PersonKnown{Role: review.RoleReviewer,
		Regions:   map[string]confidence.KnownAccuracy{"head": {Right: 19 + float64(n)/3, Wrong: 1.000001, Verdicts: n, Blind: 1}},
		Anchoring: confidence.KnownAnchoring{Unlooked: 4.25, Looked: 16 + float64(n), Shown: n, Blind: 2}}
}

func learned(specimen string, people map[string]review.PersonKnown) *review.ReliabilityLearned {
	return &review.ReliabilityLearned{Specimens: []string{specimen}, Items: 3, People: people}
}

func refitted(group string, people map[string]review.PersonKnown) *review.ReliabilityRefitted {
	return &review.ReliabilityRefitted{Reliability: review.Reliability{Group: group, Specimens: 7, Items: 20, Added: []string{},
		Refitted: noon.Add(time.Hour), People: people, Warnings: []confidence.Warning{}}}
}

func (f fixture) reliability(group string) review.Reliability {
	f.Helper()
	r, err := f.db.Reliability(f.Context(), group)
	require.NoError(f, err)
	return r
}

func nothingLearnt(f fixture) {
	for _, group := range []string{"adults", "", "%", "\xff", "a\x00b"} {
		require.Equal(f, review.NewReliability(group), f.reliability(group))
	}
}

func learntStored(f fixture) {
	stream := review.ReliabilityStream("adults")
	first := f.batch(event(stream, 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(1), "bob": known(2)})))
	require.NoError(f, f.db.Commit(f.Context(), first))
	require.Equal(f, *first.Reliability, f.reliability("adults"))
	second := f.batch(event(stream, 2, "rex", noon.Add(time.Minute), learned("s2", map[string]review.PersonKnown{"bob": known(5), "cyd": known(3)})))
	require.NoError(f, f.db.Commit(f.Context(), second))

	got := f.reliability("adults")
	require.Equal(f, *second.Reliability, got)
	require.Equal(f, map[string]review.PersonKnown{"ada": known(1), "bob": known(5), "cyd": known(3)}, got.People)
	require.Equal(f, []string{"s1", "s2"}, got.Added)
	require.Equal(f, []int{2, 2, 6}, []int{got.Version, got.Specimens, got.Items})
	some := got
	some.People = map[string]review.PersonKnown{"cyd": known(3)}
	of := func(group string, persons ...string) review.Reliability {
		r, err := f.db.ReliabilityOf(f.Context(), group, persons)
		require.NoError(f, err)
		return r
	}
	require.Equal(f, some, of("adults", "cyd", "nobody", "", "\xff"))
	some.People = map[string]review.PersonKnown{}
	require.Equal(f, some, of("adults"), "nobody is not everybody")
	require.Equal(f, review.NewReliability("\xff"), of("\xff", "cyd"))
	require.Equal(f, review.NewReliability("Adults"), f.reliability("Adults"), "of another group nothing is known")
	require.Equal(f, review.NewReliability("larvae"), f.reliability("larvae"), "of another group nothing is known")
}

func mentionsKept(f fixture) {
	stream := review.ReliabilityStream("adults")
	first := learned("s1", map[string]review.PersonKnown{})
	first.Mentions = map[string]review.Mentions{"rostrum": {Lists: review.Told{With: 1}, States: map[string]review.Told{"long": {With: 1}}},
		"claws": {Lists: review.Told{Without: 2}, States: map[string]review.Told{}}}
	second := learned("s2", map[string]review.PersonKnown{"ada": known(1)})
	second.Mentions = map[string]review.Mentions{"rostrum": {Lists: review.Told{With: 1, Without: 1}, States: map[string]review.Told{"long": {With: 1}}}}
	f.commit(event(stream, 1, "rex", noon, first))
	f.commit(event(stream, 2, "rex", noon, second))
	want := map[string]review.Mentions{"rostrum": second.Mentions["rostrum"], "claws": first.Mentions["claws"]}
	require.Equal(f, want, f.reliability("adults").Mentions)
	some, err := f.db.ReliabilityOf(f.Context(), "adults", nil)
	require.NoError(f, err)
	require.Equal(f, want, some.Mentions)
	f.add(entry{id: "a", owner: "o", group: "adults"})
	require.Equal(f, want, f.basis(service.Asked{Submission: "a", Person: "rex"}).People["adults"].Mentions)
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, want, f.reliability("adults").Mentions)
}

func refitReplaces(f fixture) {
	adults, larvae := review.ReliabilityStream("adults"), review.ReliabilityStream("larvae")
	f.commit(event(adults, 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(1), "bob": known(2)})))
	f.commit(event(larvae, 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(7)})))
	f.commit(event(adults, 2, "rex", noon.Add(time.Hour), refitted("adults", map[string]review.PersonKnown{"bob": known(3), "cyd": known(4)})))

	got := f.reliability("adults")
	require.Equal(f, map[string]review.PersonKnown{"bob": known(3), "cyd": known(4)}, got.People)
	require.Equal(f, []string{}, got.Added)
	require.Equal(f, 2, got.Version)
	require.Equal(f, noon.Add(time.Hour), got.At)
	require.Equal(f, map[string]review.PersonKnown{"ada": known(7)}, f.reliability("larvae").People, "of another group")

	// Learnt and refitted in one act: everybody is replaced.
	f.commit(event(adults, 3, "rex", noon, learned("s2", map[string]review.PersonKnown{"dan": known(1)})),
		event(adults, 4, "rex", noon, refitted("adults", map[string]review.PersonKnown{"eve": known(9)})))
	require.Equal(f, map[string]review.PersonKnown{"eve": known(9)}, f.reliability("adults").People)
	f.commit(event(adults, 5, "rex", noon, refitted("adults", map[string]review.PersonKnown{})))
	require.Empty(f, f.reliability("adults").People)
}

// raceToLearn: all have read the same snapshot, and each has learnt about somebody else.
func raceToLearn(f fixture) {
	const racers = 12
	stream := review.ReliabilityStream("adults")
	for seq := 1; seq <= 3; seq++ {
		batches := make([]review.Batch, racers)
		for i := range batches {
			person := fmt.Sprintf("person-%d-%d", seq, i)
			batches[i] = f.batch(event(stream, seq, "rex", noon, learned(person, map[string]review.PersonKnown{person: known(i)})))
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
		winner := slices.Index(errs, nil)
		require.NotEqual(f, -1, winner, "nobody has won")
		for i, err := range errs {
			if i != winner {
				requireKind(f.T, review.KindConflict, err)
			}
		}
		require.Equal(f, *batches[winner].Reliability, f.reliability("adults"))
	}
}

func olderSnapshot(f fixture) {
	stream := review.ReliabilityStream("adults")
	f.commit(event(stream, 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(1)})))
	older := f.reliability("adults")
	f.commit(event(stream, 2, "rex", noon, learned("s2", map[string]review.PersonKnown{"ada": known(2)})))
	newer := f.reliability("adults")
	older.People = map[string]review.PersonKnown{"ada": known(8), "eve": known(9)}
	for _, version := range []int{1, 2} {
		older.Version = version
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Reliability: &older}))
		require.Equal(f, newer, f.reliability("adults"), "version %d", version)
	}
}

// snapshotWhole: every version says its number of each person, so that a snapshot put together from two would show.
func snapshotWhole(f fixture) {
	const versions = 60
	stream, people := review.ReliabilityStream("adults"), []string{"ada", "bob", "cyd"}
	all := func(n int) map[string]review.PersonKnown {
		of := map[string]review.PersonKnown{}
		for _, p := range people {
			of[p] = known(n)
		}
		return of
	}
	written := make(chan error, 1)
	go func() {
		r := review.NewReliability("adults")
		var errs []error
		for version := 1; version <= versions; version++ {
			e := event(stream, version, "rex", noon, refitted("adults", all(version)))
			r = e.Change.(*review.ReliabilityRefitted).Reliability
			r.Version, r.At = version, noon
			errs = append(errs, f.db.Commit(context.Background(), review.Batch{Events: []review.Event{e}, Reliability: &r}))
		}
		written <- errors.Join(errs...)
	}()
	for done := false; !done; {
		select {
		case err := <-written:
			require.NoError(f, err)
			done = true
		default:
		}
		r := f.reliability("adults")
		if r.Version == 0 {
			require.Empty(f, r.People)
			continue
		}
		require.Equal(f, all(r.Version), r.People, "version %d", r.Version)
	}
	require.Equal(f, versions, f.reliability("adults").Version)
}

func rebuildReliability(f fixture) {
	stream := review.ReliabilityStream("adults")
	f.commit(event(stream, 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(1), "bob": known(2)})))
	f.commit(event(stream, 2, "rex", noon, refitted("adults", map[string]review.PersonKnown{"bob": known(3)})))
	f.commit(event(stream, 3, "rex", noon, learned("s2", map[string]review.PersonKnown{"cyd": known(4)})))
	f.commit(event(review.ReliabilityStream("larvae"), 1, "rex", noon, learned("s1", map[string]review.PersonKnown{"ada": known(5)})))
	adults, larvae := f.reliability("adults"), f.reliability("larvae")

	spoilt, unlearnt := adults, adults
	spoilt.Version, spoilt.Items, spoilt.People = 99, 1, map[string]review.PersonKnown{"eve": known(8)}
	unlearnt.Group = "eggs"
	for _, wrong := range []review.Reliability{spoilt, unlearnt} {
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Reliability: &wrong}))
		require.Equal(f, wrong, f.reliability(wrong.Group))
	}
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, adults, f.reliability("adults"))
	require.Equal(f, larvae, f.reliability("larvae"))
	require.Equal(f, review.NewReliability("eggs"), f.reliability("eggs"))
}

// manyPeople are more than a statement of either database may hold values of.
func manyPeople(f fixture) {
	people := map[string]review.PersonKnown{}
	for i := range 25_000 {
		people[fmt.Sprintf("person-%05d", i)] = review.PersonKnown{Role: review.RoleMember, Regions: map[string]confidence.KnownAccuracy{}}
	}
	f.commit(event(review.ReliabilityStream("adults"), 1, "rex", noon, refitted("adults", people)))
	require.Equal(f, people, f.reliability("adults").People)
}
