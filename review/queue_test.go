package review

import (
	"testing"
	"time"

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
	require.Equal(t, 1.0, lookWeight(reviewerAccuracy))
	require.Less(t, lookWeight(0.8), 0.5)
	require.Zero(t, lookWeight(0.5), "a coin tells nothing")
}

func TestTheQueueSaysWhy(t *testing.T) {
	now := time.Date(2026, 5, 11, 12, 0, 0, 0, time.UTC)
	f := QueueFilter{AsOf: now}
	line := QueueLine{WaitsSince: now.Add(-49 * time.Hour), Gain: 0.5, Region: "antenna"}
	require.Equal(t, "one more look by you (antenna) is expected to tell 0.50 bits about the family", queueReason(line, f))
	line.LongestWaiting = true
	require.Equal(t, "has waited longest of those left: 2 days", queueReason(line, f))
	line.Recheck = true
	require.Contains(t, queueReason(line, f), "drawn for a blind recheck 2 days ago")
}
