package modelstest

import (
	"encoding/json"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

var found = map[string]func(fixture){
	"what was found is kept until it is found anew": foundKept,
	"old previews go, other findings stay":          oldPreviewsGo,
}

func (f fixture) wasFound(kind review.FoundKind, group, key string) review.Found {
	f.Helper()
	got, err := f.db.Found(f.Context(), kind, group, key)
	require.NoError(f, err)
	return got
}

func foundKept(f fixture) {
	for _, key := range []string{"", "a\x00b", "\xff"} {
		require.Equal(f, review.Found{Kind: review.FoundAgreement, Group: "adults", Key: key}, f.wasFound(review.FoundAgreement, "adults", key))
	}
	walk := review.Found{Kind: review.FoundAgreement, Group: "adults", TouchedAt: noon, Partial: json.RawMessage(`{"n": 1}`)}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Found: []review.Found{walk}}))
	require.Equal(f, walk, f.wasFound(review.FoundAgreement, "adults", ""))
	var body any
	requireKind(f.T, review.KindNotFound, walk.Decode(&body))

	made := walk
	made.Partial, made.Body, made.TouchedAt = nil, json.RawMessage(`[0.1, "é"]`), noon.Add(time.Minute)
	made.Made = &review.Making{At: noon.Add(time.Minute), Took: 1234 * time.Microsecond, Peak: 5 << 30}
	other := made
	other.Group = "larvae"
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Found: []review.Found{made, other}}))
	got := f.wasFound(review.FoundAgreement, "adults", "")
	require.Equal(f, made, got)
	require.NoError(f, got.Decode(&body))
	require.Equal(f, []any{0.1, "é"}, body)
	require.Equal(f, other, f.wasFound(review.FoundAgreement, "larvae", ""))
	require.Nil(f, f.wasFound(review.FoundCalibration, "adults", "").Made)

	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, made, f.wasFound(review.FoundAgreement, "adults", ""), "events have nothing to do with it")
}

func oldPreviewsGo(f fixture) {
	at := func(kind review.FoundKind, key string, at time.Time) review.Found {
		return review.Found{Kind: kind, Group: "adults", Key: key, TouchedAt: at, Made: &review.Making{At: at}, Body: json.RawMessage("1")}
	}
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Found: []review.Found{at(review.FoundPreview, "old", noon), at(review.FoundDoubts, "old", noon),
		at(review.FoundPreview, "new", noon.Add(20*day))}}))
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Found: []review.Found{at(review.FoundPreview, "newer", noon.Add(31*day))}}))
	require.Nil(f, f.wasFound(review.FoundPreview, "adults", "old").Made)
	require.NotNil(f, f.wasFound(review.FoundPreview, "adults", "new").Made)
	require.NotNil(f, f.wasFound(review.FoundDoubts, "adults", "old").Made)
}
