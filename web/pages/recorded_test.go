package pages

import (
	"bufio"
	"encoding/json"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// recordedAssessments are those of review/testdata/golden, of a time that stored words.
func recordedAssessments(t *testing.T) (all []judgement.Assessment) {
	file, err := os.Open("../../review/testdata/golden/streams.jsonl")
	require.NoError(t, err)
	defer file.Close()
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, 1<<22)
	for lines.Scan() {
		var stream struct {
			Events []struct {
				Kind string
				Data json.RawMessage
			}
		}
		require.NoError(t, json.Unmarshal(lines.Bytes(), &stream))
		for _, e := range stream.Events {
			if e.Kind == "assessed" {
				change, err := review.DecodeChange(e.Kind, string(e.Data))
				require.NoError(t, err)
				all = append(all, change.(*review.Assessed).Assessment)
			}
		}
	}
	require.NoError(t, lines.Err())
	return all
}

// Assessments that were stored with words are shown in English as they were, but for labels in place of ids in caveats, and told in
// German; what is stored again is what was stored.
func TestRecordedAssessmentsAreShownAsTheyWere(t *testing.T) {
	contradictions, warnings, expected := 0, 0, 0
	for _, a := range recordedAssessments(t) {
		before, err := json.Marshal(a)
		require.NoError(t, err)
		english, inGerman := InWords(t.Context(), siteBy(t.Context(), beetles()), a, ""), InWords(german(t), siteBy(german(t), beetles()), a, "")
		for i, c := range a.Contradictions {
			contradictions++
			require.Equal(t, c, english.Contradictions[i])
			require.NotEqual(t, c.Reason, inGerman.Contradictions[i].Reason)
			require.NotEqual(t, c.Resolve, inGerman.Contradictions[i].Resolve)
		}
		require.Len(t, english.Warnings, len(a.Warnings))
		for i, w := range a.Warnings {
			warnings++
			require.NotEmpty(t, english.Warnings[i])
			require.NotEqual(t, w, inGerman.Warnings[i])
			require.NotEqual(t, english.Warnings[i], inGerman.Warnings[i])
		}
		for i, n := range a.Next {
			require.Equal(t, n, english.Next[i])
			if n.Expect != "" {
				expected++
				require.NotEqual(t, n.Expect, inGerman.Next[i].Expect)
			}
		}
		require.Equal(t, len(a.Forms), len(english.Forms))
		after, err := json.Marshal(a)
		require.NoError(t, err)
		require.Equal(t, string(before), string(after))
	}
	require.Positive(t, contradictions)
	require.Positive(t, warnings)
	t.Logf("%d contradictions, %d warnings, %d expectations of a wider group", contradictions, warnings, expected)
	require.Equal(t, "tortoise beetles", Book{&diagnosis.Tables{}}.form(judgement.Likeness{Family: "Gonidae", Form: "x", Name: "tortoise beetles"}), "a form that nobody knows any more keeps its name")
}
