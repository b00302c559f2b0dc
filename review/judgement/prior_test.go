package judgement

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// The made-up families have 100, 400 and 100 species: 10, 20 and 10 parts of what "none of them" (2 %) leaves.
func TestPriors(t *testing.T) {
	priors := func(list map[string]float64) map[string]float64 {
		found, sum := map[string]float64{}, 0.0
		for _, r := range madeUp().Priors(list) {
			found[r.Family] = r.P
			sum += r.P
		}
		require.InDelta(t, 1, sum, 1e-6)
		return found
	}
	bare := priors(nil)
	require.InDelta(t, 0.02, bare[NoneOfThese], 1e-9)
	require.InDelta(t, 0.98/4, bare["Aidae"], 1e-6)
	require.InDelta(t, 0.98/2, bare["Bidae"], 1e-6)
	require.Equal(t, bare, priors(map[string]float64{"Elsewheridae": 5}), "a list that names none of these leaves them as they are")
	// 30 and 10 parts; Cidae, alone not on the list, a fiftieth of these: 0.8 of 40.8.
	mine := priors(map[string]float64{"Aidae": 30, "Bidae": 10})
	require.InDelta(t, 0.98*30/40.8, mine["Aidae"], 1e-6)
	require.InDelta(t, 0.98*0.8/40.8, mine["Cidae"], 1e-6)
}
