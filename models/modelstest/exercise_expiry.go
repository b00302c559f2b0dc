package modelstest

import (
	"fmt"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/service"
)

var expiries = map[string]func(fixture){
	"photos are known by their digest":              photosKnown,
	"an upload that no specimen took expires":       uploadsExpire,
	"an idempotency key expires":                    keysExpire,
	"a job that has ended expires and may be asked": jobsExpire,
	"more than one transaction takes expire":        manyExpire,
}

func digestOf(n int) string { return fmt.Sprintf("%064x", n) }

// expire removes all that is older than a time, in as many transactions as it takes.
func (f fixture) expire(past service.Expiry) (gone int) {
	f.Helper()
	for {
		n, err := f.db.Expire(f.Context(), past)
		require.NoError(f, err)
		if n == 0 {
			return gone
		}
		gone += n
	}
}

func (f fixture) upload(id string, at time.Time) {
	f.Helper()
	u := upload(id)
	u.At = at
	require.NoError(f, f.db.SaveUpload(f.Context(), u))
}

func photosKnown(f fixture) {
	any, err := f.db.AnyPhoto(f.Context())
	require.NoError(f, err)
	require.False(f, any)
	for i := range 3 {
		u := upload(fmt.Sprint("u", i))
		u.SHA256 = digestOf(i / 2) // two of the same bytes
		require.NoError(f, f.db.SaveUpload(f.Context(), u))
	}
	any, err = f.db.AnyPhoto(f.Context())
	require.NoError(f, err)
	require.True(f, any)
	known, err := f.db.KnownPhotos(f.Context(), []string{digestOf(0), digestOf(1), digestOf(2), strings.ToUpper(digestOf(10))})
	require.NoError(f, err)
	require.Equal(f, map[string]bool{digestOf(0): true, digestOf(1): true}, known)
	known, err = f.db.KnownPhotos(f.Context(), nil)
	require.NoError(f, err)
	require.Empty(f, known)
}

func uploadsExpire(f fixture) {
	f.add(entry{id: "a", owner: "owner", family: "Elateridae", draft: true})
	for _, id := range []string{"taken", "old"} {
		f.upload(id, noon)
	}
	f.upload("fresh", noon.Add(time.Microsecond))
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Attach: map[string]string{"taken": "a"}}))
	past := service.Expiry{Uploads: noon.Add(time.Microsecond)}
	require.Equal(f, 1, f.expire(past))
	for _, id := range []string{"taken", "fresh"} {
		_, err := f.db.Upload(f.Context(), id)
		require.NoError(f, err, id)
	}
	_, err := f.db.Upload(f.Context(), "old")
	requireKind(f.T, review.KindNotFound, err)
	require.Zero(f, f.expire(past))

	requireKind(f.T, review.KindConflict, f.db.Commit(f.Context(), review.Batch{Attach: map[string]string{"old": "a"}}))
	require.NoError(f, f.db.Rebuild(f.Context()), "photos are attached by events; what nobody attached is no part of any")
}

func keysExpire(f fixture) {
	f.add(entry{id: "a", owner: "owner", family: "Elateridae"})
	for i, at := range []time.Time{noon, noon.Add(time.Hour)} {
		key := &review.IdempotencyKey{Person: "owner", Key: fmt.Sprint("k", i), Digest: "d", Made: "a", At: at}
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Key: key}))
	}
	require.Equal(f, 1, f.expire(service.Expiry{Keys: noon.Add(time.Hour)}))
	_, _, err := f.db.Served(f.Context(), "owner", "k0")
	requireKind(f.T, review.KindNotFound, err)
	_, _, err = f.db.Served(f.Context(), "owner", "k1")
	require.NoError(f, err)
	again := &review.IdempotencyKey{Person: "owner", Key: "k0", Digest: "other", Made: "a", At: noon}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Key: again}), "one that has expired can be used again")
}

func jobsExpire(f fixture) {
	done, waiting := jobs.Refit("done"), jobs.Refit("waiting")
	f.ask(done)
	stop := f.run(&registrar{slices: 1}, brisk())
	ended := f.becomes(done, jobs.Done)
	stop()
	f.ask(waiting)
	require.Zero(f, f.expire(service.Expiry{Jobs: *ended.FinishedAt}), "not older than that")
	require.Equal(f, 1, f.expire(service.Expiry{Jobs: ended.FinishedAt.Add(time.Hour)}))
	require.Equal(f, jobs.Waiting, f.job(waiting).Status)
	_, err := f.db.Job(f.Context(), done.Kind, done.Key)
	requireKind(f.T, review.KindNotFound, err)

	f.ask(done)
	require.Equal(f, jobs.Waiting, f.job(done).Status)
	f.run(&counter{f: f}, brisk())
	f.becomes(done, jobs.Done)
}

func manyExpire(f fixture) {
	const n = 1100 // more than two transactions take
	f.add(entry{id: "a", owner: "owner", family: "Elateridae"})
	for i := range n {
		f.upload(fmt.Sprint("u", i), noon)
	}
	f.upload("fresh", noon.Add(time.Hour))
	first, err := f.db.Expire(f.Context(), service.Expiry{Uploads: noon.Add(time.Minute)})
	require.NoError(f, err)
	require.Less(f, first, n, "a transaction is bounded")
	require.Equal(f, n, first+f.expire(service.Expiry{Uploads: noon.Add(time.Minute)}))
	any, err := f.db.AnyPhoto(f.Context())
	require.NoError(f, err)
	require.True(f, any)
}
