package main

import (
	"bytes"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestBenchUploads: what is printed at the end are the figures of the table, within the limits that the README gives for memory.
// The ratio is a time, and is no matter of a test. Nothing of this package runs beside it: what it sends keeps a machine so busy
// that tests of what is answered in time would fail. The two pictures that take the longest are sent by deploy/check.sh long.
func TestBenchUploads(t *testing.T) {
	var out, errs bytes.Buffer // a command that takes longer than runHere waits
	short := strconv.FormatBool(os.Getenv("REVIDIT_LONG") == "")
	code := run(t.Context(), []string{"bench", "uploads", "--rounds", "1", "--stall", "1s", "--short=" + short}, console{in: strings.NewReader(""), out: &out, err: &errs})
	require.Equal(t, 0, code, errs.String())
	figures := regexp.MustCompile(`\npeak_mib=(\d+) refused_peak_mib=(\d+) beside_ratio=\d+\.\d\d\n$`).FindStringSubmatch(out.String())
	require.NotNil(t, figures, out.String())
	for i, most := range []int{600, 100} {
		n, err := strconv.Atoi(figures[1+i])
		require.NoError(t, err)
		require.LessOrEqual(t, n, most, out.String())
		require.Positive(t, n)
	}
}
