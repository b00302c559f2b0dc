package modelstest

import (
	"fmt"
	"strings"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

var releases = map[string]func(fixture){
	"a release comes back byte for byte":             releaseComesBack,
	"the release that was published last is current": currentRelease,
	"a place, version or hash is published once":     publishedOnce,
	"a release that is no text is refused":           textlessRelease,
	"rebuilding compares releases with their events": releasesCompared,
}

// release is a made-up one: its hash is not that of its files, which is for the service to check, not for the store.
func release(group string, seq int, version string) review.Release {
	return review.Release{Group: group, Version: version, Hash: fmt.Sprintf("hash of %s, %s", group, version), Notes: "more ventrites",
		Seq: seq, By: "curator", At: noon, Proposals: []string{"p1", "p2"}, Files: map[string]string{"group.yaml": "release: " + version}}
}

func (f fixture) published(r review.Release) review.Batch {
	return f.batch(event(review.TablesStream(r.Group), r.Seq, r.By, r.At, &review.TablesReleased{Release: r}))
}

func (f fixture) publish(r review.Release) {
	f.Helper()
	require.NoError(f, f.db.Commit(f.Context(), f.published(r)))
}

func listed(r review.Release) review.Release {
	r.Files = nil
	return r
}

func releaseComesBack(f fixture) {
	r := release("adults", 1, "2026.1")
	r.Notes = "Žížala & <b>\n"
	r.Files = map[string]string{
		"group.yaml": "a: \"b\"\r\n\r\n\ttab  \n", "empty.yaml": "", "no end.yaml": "a", "families/Žížala \"'\\.yaml": "é e\u0301 🪲 \u2028\u2029\ufeff",
		"pictures/a.svg": "<svg>&amp;\\u0041</svg>", "odd.yaml": "\x00\x01\x7f\u0085\ufffd", "large.yaml": strings.Repeat("0123456789abcde\n", 1<<16),
	}
	f.publish(r)
	stored, err := f.db.Release(f.Context(), r.Hash)
	require.NoError(f, err)
	require.Equal(f, r, stored)
	all, err := f.db.Releases(f.Context(), "adults")
	require.NoError(f, err)
	require.Equal(f, []review.Release{listed(r)}, all)
	events, err := f.db.Events(f.Context(), review.TablesStream("adults"))
	require.NoError(f, err)
	require.Equal(f, []review.Event{event(review.TablesStream("adults"), 1, "curator", noon, &review.TablesReleased{Release: listed(r)})}, events)
	for _, unknown := range []string{"", "none", "%", "a\x00b"} {
		_, err := f.db.Release(f.Context(), unknown)
		requireKind(f.T, review.KindNotFound, err)
		none, err := f.db.Releases(f.Context(), unknown)
		require.NoError(f, err)
		require.Empty(f, none)
	}
}

func currentRelease(f fixture) {
	for _, group := range []string{"", "adults", "a\x00b"} {
		current, err := f.db.CurrentRelease(f.Context(), group)
		require.NoError(f, err)
		require.Empty(f, current)
	}
	var latestFirst []review.Release
	for seq := 1; seq <= 11; seq++ { // 11 comes after 9, and versions are in no order
		r := release("adults", seq, fmt.Sprint("v", 20-seq))
		f.publish(r)
		latestFirst = append([]review.Release{listed(r)}, latestFirst...)
		f.requireCurrent("adults", r.Hash)
	}
	f.publish(release("larvae", 1, "v9"))
	f.requireCurrent("larvae", release("larvae", 1, "v9").Hash)
	f.requireCurrent("adults", latestFirst[0].Hash)
	f.requireCurrent("Adults", "")
	all, err := f.db.Releases(f.Context(), "adults")
	require.NoError(f, err)
	require.Equal(f, latestFirst, all)
}

func (f fixture) requireCurrent(group, hash string) {
	f.Helper()
	current, err := f.db.CurrentRelease(f.Context(), group)
	require.NoError(f, err)
	require.Equal(f, hash, current)
}

func publishedOnce(f fixture) {
	first := release("adults", 1, "1")
	f.publish(first)
	for name, spoil := range map[string]func(*review.Release){
		"the place, without its event": func(r *review.Release) { r.Seq = 1 },
		"the version":                  func(r *review.Release) { r.Version = "1" },
		"the hash":                     func(r *review.Release) { r.Hash = first.Hash },
		"the hash, by another group":   func(r *review.Release) { r.Group, r.Seq, r.Hash = "larvae", 1, first.Hash },
	} {
		r := release("adults", 2, "2")
		spoil(&r)
		batch := f.published(r)
		if r.Seq == 1 && r.Group == "adults" {
			batch.Events = nil
		}
		batch.People = []review.Person{{ID: "new", Name: "Ada"}}
		requireKind(f.T, review.KindConflict, f.db.Commit(f.Context(), batch))
		f.requireCurrent("adults", first.Hash)
		f.requireCurrent("larvae", "")
		events, err := f.db.Events(f.Context(), review.TablesStream("adults"))
		require.NoError(f, err)
		require.Len(f, events, 1, name)
		people, err := f.db.People(f.Context(), []string{"new"})
		require.NoError(f, err)
		require.Empty(f, people, name)
	}
	second := release("adults", 2, "2")
	raced := []review.Batch{f.published(second), f.published(release("adults", 2, "other"))}
	require.NoError(f, f.db.Commit(f.Context(), raced[0]))
	requireKind(f.T, review.KindConflict, f.db.Commit(f.Context(), raced[1]))
	f.requireCurrent("adults", second.Hash)
	f.publish(release("larvae", 1, "1")) // each group has its own versions
	stored, err := f.db.Release(f.Context(), first.Hash)
	require.NoError(f, err)
	require.Equal(f, first, stored)
}

// textlessRelease: JSON would store another text without a word.
func textlessRelease(f fixture) {
	for name, files := range map[string]map[string]string{
		"a text": {"group.yaml": "\xff"}, "a name": {"group\xff.yaml": ""}, "no files": {}, "nil files": nil,
	} {
		r := release("adults", 1, "1")
		r.Files = files
		err := f.db.Commit(f.Context(), f.published(r))
		require.ErrorContains(f, err, r.Hash, name)
		require.Empty(f, review.KindOf(err), "a fault of the program: %s", name)
		f.requireCurrent("adults", "")
	}
}

// releasesCompared spoils a proposal as well: where releases are damaged, Rebuild must leave everything as it is.
func releasesCompared(f fixture) {
	first, second := release("adults", 1, "1"), release("adults", 2, "2")
	f.publish(first)
	require.NoError(f, f.db.Rebuild(f.Context()))
	stored, err := f.db.Release(f.Context(), first.Hash)
	require.NoError(f, err)
	require.Equal(f, first, stored)

	f.propose("p", "adults", "curator", noon)
	good := f.proposal("p")
	spoilt := good
	spoilt.Seq, spoilt.Reason = 99, "nonsense"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Proposals: []review.CellProposal{spoilt}}))

	unstored := f.published(second)
	unstored.Release = nil
	require.NoError(f, f.db.Commit(f.Context(), unstored))
	require.ErrorContains(f, f.db.Rebuild(f.Context()), "its files are missing")
	require.Equal(f, spoilt, f.proposal("p"))
	changed := second
	changed.Notes = "other notes than the event's"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Release: &changed}))
	require.ErrorContains(f, f.db.Rebuild(f.Context()), "differ")
	require.Equal(f, spoilt, f.proposal("p"))
}
