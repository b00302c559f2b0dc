package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"sort"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

var calibrationFiguresLine = regexp.MustCompile(`^calibration_error=(\S+) brier_ratio=(\S+) brier_fixed_ratio=(\S+) looks_ratio=(\S+) reliability_error=(\S+)$`)

// calibrationFigures are the figures of the last line, as words.
func calibrationFigures(t *testing.T, out string) []string {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
	words := calibrationFiguresLine.FindStringSubmatch(lines[len(lines)-1])
	require.Len(t, words, 6, out)
	return words[1:]
}

func number(t *testing.T, word string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(word, 64)
	require.NoError(t, err)
	return v
}

// TestBenchCalibration computes the figures again from the raw file, by formulas of its own. That equal seeds give equal results
// is tested in package simulator.
func TestBenchCalibration(t *testing.T) {
	raw := filepath.Join(t.TempDir(), "raw.csv")
	result := runHere(t, "", "bench", "calibration", "--seeds", "1", "--specimens", "100", "--raw", raw)
	require.Equal(t, 0, result.code, result.err)
	require.Empty(t, result.err, "no progress where nobody looks")
	words := calibrationFigures(t, result.out)

	file, err := os.Open(raw)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Equal(t, "seed,true,top,p,majority,majority_share,looks_ours,looks_arrival", strings.Join(rows[0], ","))
	rows = rows[1:]
	require.Len(t, rows, 100)
	ours, majority := 0.0, 0.0
	for _, r := range rows {
		require.Equal(t, "1", r[0])
		require.Equal(t, r[1] == r[2], r[6] != "", "looks are given where the name is right in the end: %v", r)
		ours += math.Pow(number(t, r[3])-indicator(r[1] == r[2]), 2)
		majority += math.Pow(number(t, r[5])-indicator(r[1] == r[4]), 2)
	}
	require.InDelta(t, number(t, words[1]), ours/majority, 1e-4)
	require.InDelta(t, number(t, words[0]), equalMassError(t, rows), 1e-4)
	arrival, gets := enoughLooks(t, rows, 7)
	looks, got := enoughLooks(t, rows, 6)
	switch {
	case got && gets:
		require.InDelta(t, number(t, words[3]), looks/arrival, 1e-4)
	case !got:
		require.Equal(t, "unknown", words[3])
	}
}

func indicator(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// equalMassError is the expected calibration error over fifteen bins of as equal numbers as can be: each forecast is in the bin
// where the middle of it falls.
func equalMassError(t *testing.T, rows [][]string) float64 {
	type forecast struct{ p, right float64 }
	var all []forecast
	for _, r := range rows {
		all = append(all, forecast{number(t, r[3]), indicator(r[1] == r[2])})
	}
	sort.Slice(all, func(a, b int) bool { return all[a].p < all[b].p })
	var sums [15]float64
	for i, f := range all {
		sums[(2*i+1)*15/(2*len(all))] += f.right - f.p
	}
	total := 0.0
	for _, sum := range sums {
		total += math.Abs(sum)
	}
	return total / float64(len(all))
}

// enoughLooks is the smallest number that 95 % of a column do not exceed, empty ones counted.
func enoughLooks(t *testing.T, rows [][]string, column int) (float64, bool) {
	var looks []float64
	for _, r := range rows {
		if r[column] != "" {
			looks = append(looks, number(t, r[column]))
		}
	}
	sort.Float64s(looks)
	n := (95*len(rows) + 99) / 100
	if len(looks) < n {
		return 0, false
	}
	return looks[n-1], true
}

func TestBenchCalibrationRefusesNothing(t *testing.T) {
	for _, flag := range []string{"--seeds=0", "--specimens=10"} {
		result := runHere(t, "", "bench", "calibration", flag)
		require.Equal(t, 2, result.code)
		require.Contains(t, result.err, "nothing was measured")
	}
}
