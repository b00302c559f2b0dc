package service

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestTheQueueSaysWhy(t *testing.T) {
	line := QueueLine{DaysWaited: 2, Gain: 0.5, Region: "antenna"}
	require.Equal(t, QueueGain, line.why())
	line.LongestWaiting = true
	require.Equal(t, QueueLongest, line.why())
	line.Reviewers, line.Region = 1, ""
	require.Equal(t, QueueOthers, line.why())
	line.Blind = true
	require.Equal(t, QueueBlind, line.why())
	line.Recheck = true
	require.Equal(t, QueueRecheck, line.why())
	require.Equal(t, QueueWaited, QueueLine{}.why())
}
