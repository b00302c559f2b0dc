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

var assessFiguresLine = regexp.MustCompile(`^us_per_assessment=(\S+) allocs=(\S+) per_case_ratio=(\S+) batch_ratio=(\S+) em_seconds=(\S+)$`)

// lastLine is the line for a program to read, as words.
func lastLine(t *testing.T, out string) []string {
	t.Helper()
	lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
	words := assessFiguresLine.FindStringSubmatch(lines[len(lines)-1])
	require.Len(t, words, 6, out)
	return words[1:]
}

// runBench is a short run, however long that takes on a busy machine.
func runBench(t *testing.T, flags ...string) ran {
	t.Helper()
	var out, errs bytes.Buffer
	args := append([]string{"bench", "assess", "--cases=2", "--verdicts=4000", "--growth=2"}, flags...)
	code := run(t.Context(), args, console{in: strings.NewReader(""), out: &out, err: &errs})
	return ran{code: code, out: out.String(), err: errs.String()}
}

func requirePositive(t *testing.T, words ...string) {
	t.Helper()
	for _, word := range words {
		figure, err := strconv.ParseFloat(word, 64)
		require.NoError(t, err)
		require.Greater(t, figure, 0.0)
	}
}

// TestBenchAssess: with scikit-learn where it is. REVIDIT_SKLEARN says that it must be, as deploy/check.sh sees to.
func TestBenchAssess(t *testing.T) {
	result := runBench(t)
	require.Equal(t, 0, result.code, result.err)
	words := lastLine(t, result.out)
	requirePositive(t, words[0], words[1], words[4])
	if os.Getenv("REVIDIT_SKLEARN") == "1" || words[2] != "unknown" {
		requirePositive(t, words[2], words[3])
		require.Contains(t, result.out, "CategoricalNB")
		return
	}
	require.Contains(t, result.out, "python3-sklearn")
}

func TestBenchAssessWithoutScikitLearn(t *testing.T) {
	for _, test := range []struct{ flag, said string }{
		{"--python=/nowhere/python3", "install the package python3-sklearn"},
		{"--no-python", "scikit-learn was left out"},
	} {
		result := runBench(t, test.flag)
		require.Equal(t, 0, result.code, result.err)
		require.Contains(t, result.out, test.said)
		words := lastLine(t, result.out)
		requirePositive(t, words[0], words[1], words[4])
		require.Equal(t, []string{"unknown", "unknown"}, words[2:4])
	}
}

func TestBenchAssessRefusesNothing(t *testing.T) {
	for _, flag := range []string{"--cases=0", "--verdicts=-1", "--growth=0"} {
		result := runBench(t, flag)
		require.Equal(t, 2, result.code)
		require.Contains(t, result.err, "must be above 0")
	}
}
