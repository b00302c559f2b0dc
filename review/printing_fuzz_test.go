package review_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// FuzzPinLabel: what is read of a label is what it is written as.
func FuzzPinLabel(f *testing.F) {
	for _, text := range []string{"locality/s1", "catalogue/s1", "determination/s1/u1", "opinion/s1/u1/p1", "indet/s1/u1/p1", "locality/s1/u1", "opinion/s1//p1", "locality", "///", "other/s1", "locality/s1/"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		l, ok := review.ParsePinLabel(text)
		if !ok {
			return
		}
		require.Equal(t, text, l.String())
		require.Equal(t, l.Kind.OfAct(), l.Submission != "")
	})
}
