package modelstest

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var commits = map[string]func(fixture){
	"a batch is stored whole":                       storedWhole,
	"a batch with one bad part stores nothing":      badPartStoresNothing,
	"an older row never replaces a newer one":       olderNeverReplacesNewer,
	"an idempotency key is used once by one person": keyOnce,
	"a photo goes to one specimen":                  photoToOneSpecimen,
	"an erased label is absent":                     erasedLabelAbsent,
	"rebuilding restores the rows":                  rebuildRestores,
	"a request that has ended stores nothing":       endedRequestStoresNothing,
}

var commitsAtOnce = map[string]func(fixture){
	"one of many racing for an event wins": raceForAnEvent,
}

func upload(id string) review.Upload {
	return review.Upload{Photo: review.Photo{ID: id, SHA256: strings.Repeat("0a", 32), Type: "image/jpeg", Width: 4, Height: 3,
		By: "owner", At: noon}}
}

func storedWhole(f fixture) {
	f.add(entry{id: "b", owner: "owner", catalogue: "B-1", family: "Elateridae"})
	require.NoError(f, f.db.SaveUpload(f.Context(), upload("photo")))
	policy := review.DefaultPolicy()
	policy.Mix = map[string]float64{"world": 1}
	policy.Version, policy.By, policy.At = 1, "curator", noon
	batch := f.batch(
		event(review.SpecimenStream("b"), 2, "owner", noon, &review.PhotosAdded{Photos: []review.Photo{upload("photo").Photo}}),
		event(review.SubmissionStream("b"), 4, "reviewer", noon, &review.Held{Until: noon.Add(time.Hour)}))
	batch.Attach = map[string]string{"photo": "b"}
	batch.Withheld = []review.WithheldRecord{{ID: "w", Digest: "d", Salt: []byte{0, 1, 255}, Body: `{"locality":"Brünn"}`}}
	batch.People = []review.Person{{ID: "p", Name: "Ada Žížala"}}
	batch.Key = &review.IdempotencyKey{Person: "owner", Key: "k", Digest: "digest", Made: "b", At: noon}
	batch.Policy = &policy
	batch.Events = append(batch.Events, event(review.PolicyStream, 1, "curator", noon, &review.PolicySet{Policy: policy}))
	require.NoError(f, f.db.Commit(f.Context(), batch))

	for _, stream := range []string{review.SpecimenStream("b"), review.SubmissionStream("b"), review.PolicyStream} {
		events, err := f.db.Events(f.Context(), stream)
		require.NoError(f, err)
		for _, e := range batch.Events {
			if e.Stream == stream {
				require.Contains(f, events, e)
			}
		}
	}
	specimen, err := f.db.Specimen(f.Context(), "b")
	require.NoError(f, err)
	require.Equal(f, batch.Specimens[0], specimen)
	require.Equal(f, batch.Submissions[0], f.submission("b"))
	photo, err := f.db.Upload(f.Context(), "photo")
	require.NoError(f, err)
	require.Equal(f, "b", photo.Specimen)
	withheld, err := f.db.Withheld(f.Context(), []string{"w", "none"})
	require.NoError(f, err)
	require.Equal(f, map[string]review.WithheldRecord{"w": batch.Withheld[0]}, withheld)
	people, err := f.db.People(f.Context(), []string{"p", "none"})
	require.NoError(f, err)
	require.Equal(f, map[string]review.Person{"p": batch.People[0]}, people)
	stored, err := f.db.Policy(f.Context())
	require.NoError(f, err)
	require.Equal(f, policy, stored)
	submission, digest, err := f.db.Served(f.Context(), "owner", "k")
	require.NoError(f, err)
	require.Equal(f, []string{"b", "digest"}, []string{submission, digest})
}

// badPartStoresNothing spoils one part of a good batch at a time.
func badPartStoresNothing(f fixture) {
	f.add(entry{id: "old", owner: "owner", catalogue: "O-1", family: "Elateridae"})
	require.NoError(f, f.db.SaveUpload(f.Context(), upload("photo")))
	taken := review.WithheldRecord{ID: "taken", Digest: "d", Salt: []byte{1}, Body: "{}"}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Withheld: []review.WithheldRecord{taken}}))

	spoil := map[string]struct {
		kind review.Kind // "" for a fault of the program
		with func(*review.Batch)
	}{
		"an event that is there": {review.KindConflict, func(b *review.Batch) {
			b.Events = append(b.Events, event(review.SubmissionStream("old"), 3, "owner", noon, &review.Submitted{}))
		}},
		"an event twice":                     {review.KindConflict, func(b *review.Batch) { b.Events = append(b.Events, b.Events[0]) }},
		"a gap":                              {"", func(b *review.Batch) { b.Events[1].Seq = 7 }},
		"a sequence of 0":                    {"", func(b *review.Batch) { b.Events[1].Seq = 0 }},
		"an unknown role":                    {"", func(b *review.Batch) { b.Events[1].Role = "stranger" }},
		"an unknown status":                  {"", func(b *review.Batch) { b.Submissions[0].Status = "lost" }},
		"no such specimen":                   {"", func(b *review.Batch) { b.Submissions[0].Specimen = "none" }},
		"a withheld record whose id is used": {review.KindConflict, func(b *review.Batch) { b.Withheld = append(b.Withheld, taken) }},
		"no such photo":                      {review.KindConflict, func(b *review.Batch) { b.Attach["none"] = "new" }},
		"a key for nothing": {"", func(b *review.Batch) {
			b.Key = &review.IdempotencyKey{Person: "owner", Key: "k", Made: "", At: noon}
		}},
	}
	for name, spoilt := range spoil {
		batch := f.batch(
			event(review.SpecimenStream("new"), 1, "owner", noon, &review.SpecimenRegistered{ID: "new"}),
			event(review.SubmissionStream("new"), 1, "owner", noon, &review.Drafted{ID: "new", Proposal: review.Proposal{Specimen: "new"}}))
		batch.Attach = map[string]string{"photo": "new"}
		batch.Withheld = []review.WithheldRecord{{ID: "w", Digest: "d", Salt: []byte{1}, Body: "{}"}}
		batch.People = []review.Person{{ID: "p", Name: "Ada"}}
		spoilt.with(&batch)

		err := f.db.Commit(f.Context(), batch)
		require.Error(f, err, name)
		require.Equal(f, spoilt.kind, review.KindOf(err), "%s: %v", name, err)
		f.requireNothingOf("new", name)
	}
}

func (f fixture) requireNothingOf(id, why string) {
	f.Helper()
	for _, stream := range []string{review.SpecimenStream(id), review.SubmissionStream(id)} {
		events, err := f.db.Events(f.Context(), stream)
		require.NoError(f, err)
		require.Empty(f, events, why)
	}
	_, err := f.db.Specimen(f.Context(), id)
	requireKind(f.T, review.KindNotFound, err)
	_, err = f.db.Submission(f.Context(), id)
	requireKind(f.T, review.KindNotFound, err)
	photo, err := f.db.Upload(f.Context(), "photo")
	require.NoError(f, err)
	require.Empty(f, photo.Specimen, why)
	withheld, err := f.db.Withheld(f.Context(), []string{"w"})
	require.NoError(f, err)
	require.Empty(f, withheld, why)
	people, err := f.db.People(f.Context(), []string{"p"})
	require.NoError(f, err)
	require.Empty(f, people, why)
}

// raceForAnEvent: with more racers than connections, for one place in a stream.
func raceForAnEvent(f fixture) {
	const racers, rounds = 16, 5
	f.add(entry{id: "b", owner: "owner", family: "Elateridae"})
	for round := range rounds {
		seq := 4 + round
		batches := make([]review.Batch, racers)
		for i := range batches {
			batches[i] = f.batch(event(review.SubmissionStream("b"), seq, fmt.Sprint("reviewer-", i), noon,
				&review.Held{Until: noon.Add(time.Hour)}))
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
		winner := -1
		for i, err := range errs {
			if err == nil {
				require.Equal(f, -1, winner, "two have won")
				winner = i
				continue
			}
			requireKind(f.T, review.KindConflict, err)
		}
		require.NotEqual(f, -1, winner, "nobody has won")
		require.Equal(f, batches[winner].Submissions[0], f.submission("b"))
	}
}

func olderNeverReplacesNewer(f fixture) {
	f.add(entry{id: "b", owner: "owner", catalogue: "new", family: "Elateridae"})
	submission := f.submission("b")
	specimen, err := f.db.Specimen(f.Context(), "b")
	require.NoError(f, err)

	older, olderSpecimen := submission, specimen
	older.Seq, older.Remarks = submission.Seq-1, "older"
	olderSpecimen.Seq, olderSpecimen.Label.CatalogueNumber = 1, "older"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Submissions: []review.Submission{older}, Specimens: []review.Specimen{olderSpecimen}}))
	require.Equal(f, submission, f.submission("b"))
	stored, err := f.db.Specimen(f.Context(), "b")
	require.NoError(f, err)
	require.Equal(f, specimen, stored)
}

func keyOnce(f fixture) {
	f.add(entry{id: "a", owner: "owner", family: "Elateridae"})
	key := func(person, key, digest string) error {
		return f.db.Commit(f.Context(), review.Batch{Key: &review.IdempotencyKey{Person: person, Key: key, Digest: digest, Made: "a", At: noon}})
	}
	require.NoError(f, key("owner", "k", "first"))
	requireKind(f.T, review.KindConflict, key("owner", "k", "second"))
	require.NoError(f, key("other", "k", "third"))
	require.NoError(f, key("owner", "K", "fourth"), "keys are compared as they are")

	submission, digest, err := f.db.Served(f.Context(), "owner", "k")
	require.NoError(f, err)
	require.Equal(f, []string{"a", "first"}, []string{submission, digest})
	for _, unknown := range [][2]string{{"nobody", "k"}, {"owner", "none"}, {"owner", "k\x00"}} {
		_, _, err := f.db.Served(f.Context(), unknown[0], unknown[1])
		requireKind(f.T, review.KindNotFound, err)
	}
}

func photoToOneSpecimen(f fixture) {
	f.add(entry{id: "a", owner: "owner", family: "Elateridae"})
	f.add(entry{id: "b", owner: "owner", family: "Elateridae"})
	require.NoError(f, f.db.SaveUpload(f.Context(), upload("photo")))
	attach := func(specimen string) error {
		return f.db.Commit(f.Context(), review.Batch{Attach: map[string]string{"photo": specimen}})
	}
	require.NoError(f, attach("a"))
	require.NoError(f, attach("a"), "the same specimen may take it again, with another view")
	requireKind(f.T, review.KindConflict, attach("b"))
	stored, err := f.db.Upload(f.Context(), "photo")
	require.NoError(f, err)
	want := upload("photo")
	want.Specimen = "a"
	require.Equal(f, want, stored)

	known, err := f.db.KnownPhotos(f.Context(), []string{strings.Repeat("0b", 32), want.SHA256, "", "\x00"})
	require.NoError(f, err)
	require.Equal(f, map[string]bool{want.SHA256: true}, known)
}

func erasedLabelAbsent(f fixture) {
	records := []review.WithheldRecord{{ID: "a", Digest: "1", Salt: []byte{1}, Body: "{}"}, {ID: "b", Digest: "2", Salt: []byte{2}, Body: "{}"}}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Withheld: records}))
	erased, err := f.db.EraseWithheld(f.Context(), []string{"a", "none"})
	require.NoError(f, err)
	require.Equal(f, 1, erased)
	left, err := f.db.Withheld(f.Context(), []string{"a", "b"})
	require.NoError(f, err)
	require.Equal(f, map[string]review.WithheldRecord{"b": records[1]}, left)
	none, err := f.db.Withheld(f.Context(), nil)
	require.NoError(f, err)
	require.Empty(f, none)
	erased, err = f.db.EraseWithheld(f.Context(), nil)
	require.NoError(f, err)
	require.Zero(f, erased)
}

// rebuildRestores spoils rows as a fault of the program could, and has them made again.
func rebuildRestores(f fixture) {
	for i := range 3 {
		f.add(entry{id: fmt.Sprint("s", i), owner: "owner", catalogue: fmt.Sprint("C-", i), family: "Elateridae", gain: 0.5})
	}
	require.NoError(f, f.db.SaveUpload(f.Context(), upload("photo")))
	photo := upload("photo").Photo
	batch := f.batch(event(review.SpecimenStream("s0"), 2, "owner", noon, &review.PhotosAdded{Photos: []review.Photo{photo}}))
	batch.Attach = map[string]string{"photo": "s0"}
	require.NoError(f, f.db.Commit(f.Context(), batch))
	good := f.submission("s1")

	spoilt := good
	spoilt.Seq, spoilt.Determination.Family, spoilt.Status = 99, "Nonsense", review.StatusReturned
	unmade := good
	unmade.ID = "never-drafted"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Submissions: []review.Submission{spoilt, unmade}}))
	require.Equal(f, spoilt, f.submission("s1"))

	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, good, f.submission("s1"))
	_, err := f.db.Submission(f.Context(), "never-drafted")
	requireKind(f.T, review.KindNotFound, err)
	require.ElementsMatch(f, []string{"s0", "s1", "s2"}, f.find(service.SubmissionFilter{Family: "Elateridae"}, 10))
	stored, err := f.db.Upload(f.Context(), "photo")
	require.NoError(f, err)
	require.Equal(f, "s0", stored.Specimen)
}

func endedRequestStoresNothing(f fixture) {
	batch := f.batch(event(review.SpecimenStream("new"), 1, "owner", noon, &review.SpecimenRegistered{ID: "new"}))
	ctx, cancel := context.WithCancel(f.Context())
	cancel()
	require.ErrorIs(f, f.db.Commit(ctx, batch), context.Canceled)
	_, err := f.db.Specimen(f.Context(), "new")
	requireKind(f.T, review.KindNotFound, err)
}
