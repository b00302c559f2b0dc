package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

func TestDeciding(t *testing.T) {
	why := func(weights ...judgement.Weight) judgement.Assessment { return judgement.Assessment{Why: weights} }
	w := func(character string, decibans float64) judgement.Weight {
		return judgement.Weight{Character: character, Decibans: decibans}
	}
	all := []string{"a", "b", "c", "d"}
	require.Empty(t, Deciding(why(w(judgement.WhyPrior, 30), w(judgement.WhyTogether, -9)), all))
	require.Equal(t, []string{"c", "a", "d"}, Deciding(why(w("a", 5), w("b", 3.5), w("c", -12), w("d", 4)), all), "what speaks against it decides as well")
	require.Equal(t, []string{"b"}, Deciding(why(w("a", 1), w("b", 2)), all), "one decides even where none tells much")
	require.Equal(t, []string{"a"}, Deciding(why(w("a", 20), w("b", 2.9)), all))
	require.Equal(t, []string{"b"}, Deciding(why(w("a", 20), w("b", 8)), []string{"b"}), "nothing but what is asked about")
	silent := w("a", -8)
	silent.Silent = true
	require.Equal(t, []string{"b"}, Deciding(why(silent, w("b", 1)), all))
	silent.Silent, silent.Silence = false, "nobody mentions it" // of a time that stored words
	require.Equal(t, []string{"b"}, Deciding(why(silent, w("b", 1)), all))
}
