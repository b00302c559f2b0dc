package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheQueueIsWeighedByWhoAsks(t *testing.T) {
	gains := []RegionGain{{"antenna", 0.5}, {"tarsus", 0.4}}
	gain, region := weighedGain(gains, nil)
	require.Equal(t, "antenna", region)
	require.Equal(t, 0.5, gain)
	gain, region = weighedGain(gains, map[string]float64{"antenna": 0.25, "tarsus": 1.5})
	require.Equal(t, "tarsus", region)
	require.InDelta(t, 0.6, gain, 1e-12)
	require.Equal(t, 1.0, lookWeight(ReviewerAccuracy))
	require.Less(t, lookWeight(0.8), 0.5)
	require.Zero(t, lookWeight(0.5), "a coin tells nothing")
}
