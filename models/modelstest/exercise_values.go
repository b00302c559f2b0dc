package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var values = map[string]func(fixture){
	"what is not there is not found":             notFound,
	"times come back equal and in order":         timesComeBack,
	"texts come back equal":                      textsComeBack,
	"the default policy is in force at first":    defaultPolicy,
	"the newest policy is in force":              newestPolicy,
	"determinations of a specimen, oldest first": oldestFirst,
}

func notFound(f fixture) {
	for _, id := range []string{"", "none", "a\x00b", "\xff", "%", "x' OR '1'='1"} {
		_, err := f.db.Submission(f.Context(), id)
		requireKind(f.T, review.KindNotFound, err)
		_, err = f.db.Specimen(f.Context(), id)
		requireKind(f.T, review.KindNotFound, err)
		_, err = f.db.Upload(f.Context(), id)
		requireKind(f.T, review.KindNotFound, err)
		events, err := f.db.Events(f.Context(), id)
		require.NoError(f, err)
		require.Empty(f, events)
		submissions, err := f.db.SubmissionsOf(f.Context(), id)
		require.NoError(f, err)
		require.Empty(f, submissions)
		people, err := f.db.People(f.Context(), []string{id})
		require.NoError(f, err)
		require.Empty(f, people)
		withheld, err := f.db.Withheld(f.Context(), []string{id})
		require.NoError(f, err)
		require.Empty(f, withheld)
	}
}

func timesComeBack(f fixture) {
	zone := time.FixedZone("east", 5*3600+1800)
	// In the order of time. Fractions of every length: a text without trailing zeros would sort wrongly.
	times := []time.Time{
		time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC),
		time.Date(2026, 3, 29, 0, 59, 59, 999_999_000, time.UTC),
		time.Date(2026, 3, 29, 1, 0, 0, 0, time.UTC),
		time.Date(2026, 3, 29, 1, 0, 0, 1_000, time.UTC),
		time.Date(2026, 3, 29, 1, 0, 0, 100_000_000, time.UTC),
		time.Date(2026, 3, 29, 6, 30, 0, 120_000_000, zone), // 01:00:00.12 UTC
		time.Date(2026, 3, 29, 1, 0, 1, 0, time.UTC),
		time.Date(2999, 12, 31, 23, 59, 59, 999_999_000, time.UTC),
	}
	var newestFirst []string
	for i, at := range times {
		id := string(rune('h' - i)) // ids run against the times
		f.add(entry{id: id, owner: "owner", family: "Elateridae", at: at})
		newestFirst = append([]string{id}, newestFirst...)
		events, err := f.db.Events(f.Context(), review.SubmissionStream(id))
		require.NoError(f, err)
		require.Equal(f, at.UTC(), events[0].At)
		lines, _, err := f.db.FindSubmissions(f.Context(), service.SubmissionFilter{Specimen: id}, service.Page{Size: 1})
		require.NoError(f, err)
		require.Equal(f, at.UTC(), lines[0].ChangedAt)
		require.Equal(f, at.UTC(), *lines[0].OpenedAt)
	}
	require.Equal(f, newestFirst, f.find(service.SubmissionFilter{}, 3))
}

func textsComeBack(f fixture) {
	awkward := "quotes ' \" \\ \u2028 <b>&amp; \u0000 é e\u0301 🪲 \t\n"
	f.add(entry{id: "a", owner: "owner", family: "Elateridae"})
	change := &review.Undetermined{Reason: awkward}
	f.commit(event(review.SubmissionStream("a"), 4, "reviewer", noon, change))
	events, err := f.db.Events(f.Context(), review.SubmissionStream("a"))
	require.NoError(f, err)
	require.Equal(f, change, events[3].Change)
}

func defaultPolicy(f fixture) {
	policy, err := f.db.Policy(f.Context())
	require.NoError(f, err)
	require.Equal(f, review.DefaultPolicy(), policy)
}

func newestPolicy(f fixture) {
	set := func(version, reviewers int) error {
		p := review.DefaultPolicy()
		p.Version, p.Reviewers, p.At, p.By = version, reviewers, noon, "curator"
		p.Experts = map[string][]string{"Elateridae": {"a", "b"}}
		return f.db.Commit(f.Context(), review.Batch{Policy: &p,
			Events: []review.Event{event(review.PolicyStream, version, "curator", noon, &review.PolicySet{Policy: p})}})
	}
	for version := 1; version <= 11; version++ {
		require.NoError(f, set(version, version%10+1))
	}
	requireKind(f.T, review.KindConflict, set(11, 7))
	policy, err := f.db.Policy(f.Context())
	require.NoError(f, err)
	require.Equal(f, []int{11, 2}, []int{policy.Version, policy.Reviewers}, "11 is newer than 9")
	require.NoError(f, f.db.Rebuild(f.Context()))
	rebuilt, err := f.db.Policy(f.Context())
	require.NoError(f, err)
	require.Equal(f, policy, rebuilt)
}

func oldestFirst(f fixture) {
	f.add(entry{id: "m", owner: "owner", family: "Elateridae", at: noon})
	draft := func(id string, at time.Time) {
		f.commit(event(review.SubmissionStream(id), 1, "owner", at, &review.Drafted{ID: id, Proposal: review.Proposal{Specimen: "m"}}))
	}
	draft("z", noon.Add(-time.Second))
	draft("a", noon.Add(time.Microsecond))
	draft("b", noon.Add(time.Microsecond))
	submissions, err := f.db.SubmissionsOf(f.Context(), "m")
	require.NoError(f, err)
	var ids []string
	for _, s := range submissions {
		ids = append(ids, s.ID)
	}
	require.Equal(f, []string{"z", "m", "a", "b"}, ids)
}
