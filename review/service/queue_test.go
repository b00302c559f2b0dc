package service

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestTheQueueSaysWhy(t *testing.T) {
	now := time.Date(2026, 5, 11, 12, 0, 0, 0, time.UTC)
	f := QueueFilter{AsOf: now}
	line := QueueLine{WaitsSince: now.Add(-49 * time.Hour), Gain: 0.5, Priority: 0.5, Region: "antenna"}
	require.Equal(t, "one more look by you (antenna) is expected to tell 0.50 bits about the family", queueReason(line, f))
	line.Priority = 0.6
	require.Equal(t, "has waited 2 days", queueReason(line, f))
	line.Recheck = true
	require.Contains(t, queueReason(line, f), "drawn for a blind recheck 2 days ago")
}
