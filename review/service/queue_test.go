package service

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheQueueSaysWhy(t *testing.T) {
	line := QueueLine{DaysWaited: 2, Gain: 0.5, Region: "antenna"}
	require.Equal(t, "one more look by you (antenna) is expected to tell 0.50 bits about the family", queueReason(line))
	line.LongestWaiting = true
	require.Equal(t, "has waited longest of those left: 2 days", queueReason(line))
	line.Recheck = true
	require.Contains(t, queueReason(line), "drawn for a blind recheck 2 days ago")
}
