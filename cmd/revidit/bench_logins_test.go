package main

import (
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestBenchLogins: all guesses are answered, and the line of figures says what was measured.
func TestBenchLogins(t *testing.T) {
	t.Parallel()
	got := runHere(t, "", "bench", "logins", "--rows", "60", "--each", "1s", "--rounds", "1")
	require.Equal(t, 0, got.code, got.err)
	lines := strings.Split(strings.TrimSpace(got.out), "\n")
	figures := map[string]float64{}
	for _, figure := range strings.Fields(lines[len(lines)-1]) {
		name, value, _ := strings.Cut(figure, "=")
		number, err := strconv.ParseFloat(value, 64)
		require.NoError(t, err, figure)
		figures[name] = number
	}
	require.InDelta(t, figures["beside_ms"]/figures["queue_p95_ms"], figures["ratio"], 0.2)
	require.GreaterOrEqual(t, figures["logins"], 3.0, "ten a second were sent")
	require.Positive(t, figures["login_p95_ms"])
	require.Equal(t, 1, strings.Count(runHere(t, "", "bench", "logins", "--rate", "0").err, "must be above 0"))
}
