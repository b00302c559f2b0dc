package audit

import (
	"math/rand/v2"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// TestRefitInParts: weighing specimens in parts, each with what those before have told, comes near to weighing all
// together: to 0.02 where there are two hundred reports for each person, as confidence.Reliability.Add promises.
func TestRefitInParts(t *testing.T) {
	p := newPanelOfPlates(t)
	dice := rand.New(rand.NewPCG(1, 2))
	plates := func(truth int, accuracy float64) string {
		if dice.Float64() < accuracy {
			return strconv.Itoa(truth)
		}
		return strconv.Itoa(truth + 1 - 2*dice.IntN(2))
	}
	const n = 900
	for range n {
		truth := 4 + dice.IntN(3)
		shown := plates(truth, 0.85)
		s := p.specimen("ada", shown)
		for i, by := range []string{"bob", "cyd", "dan", "eve"} {
			seen := plates(truth, 0.95-0.05*float64(i))
			if dice.IntN(3) == 0 {
				blindly(s, by, seen)
			} else {
				verdict(s, by, shown, seen)
			}
		}
	}
	none := review.NewReliability("small-test-group")
	whole, err := Refit(p.judge, none, p.specimens, nil, time.Now())
	require.NoError(t, err)
	var parts review.Reliability
	for from := 0; from < n; from += n / 3 {
		parts, err = RefitFurther(p.judge, none, parts, p.specimens[from:from+n/3], nil)
		require.NoError(t, err)
	}
	require.Equal(t, whole.Specimens, parts.Specimens)
	require.Equal(t, whole.Items, parts.Items)
	require.Len(t, parts.People, len(whole.People))
	for id, known := range whole.People {
		for region, k := range known.Regions {
			other := parts.People[id].Regions[region]
			require.Equal(t, k.Verdicts, other.Verdicts)
			require.InDelta(t, k.Value(), other.Value(), 0.02, "%s, %s", id, region)
		}
	}
}
