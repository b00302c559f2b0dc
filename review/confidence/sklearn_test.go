package confidence

import (
	"bytes"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWeatherBesideScikitLearn: CategoricalNB with alpha 1 on the table of Quinlan (1986), for every evidence that can be
// had: ours equals the stored numbers of scikit-learn 1.2.1. Where REVIDIT_SKLEARN is 1, as deploy/check.sh sets it, the
// library itself is asked as well, and must be there.
func TestWeatherBesideScikitLearn(t *testing.T) {
	const tolerance = 1e-12
	grid := readCSV(t, "weather_categoricalnb_alpha1.csv")
	stored, ours := make([][2]float64, 0, 36), weatherGrid(t, grid)
	for _, row := range grid[1:] {
		stored = append(stored, pairOf(t, row[4:]))
	}
	requireSame(t, stored, ours, tolerance, "stored and ours")
	if os.Getenv("REVIDIT_SKLEARN") == "1" {
		live := weatherOfScikitLearn(t)
		requireSame(t, live, ours, tolerance, "live and ours")
		requireSame(t, live, stored, tolerance, "live and stored")
	}
}

// weatherGrid is our posterior of the two classes alone: "none of those listed", which the library does not have, is left
// out with the 1e-12 that it always keeps.
func weatherGrid(t *testing.T, grid [][]string) [][2]float64 {
	w := newWeather(t, 1)
	m := newModel(t, w.spec)
	var out [][2]float64
	for _, row := range grid[1:] {
		evidence := map[string]string{}
		for i, name := range grid[0][:4] {
			evidence[name] = row[i]
		}
		p := m.Posterior(w.observe(t, evidence), AnySex, nil).P
		out = append(out, [2]float64{p[0] / (p[0] + p[1]), p[1] / (p[0] + p[1])})
	}
	return out
}

func weatherOfScikitLearn(t *testing.T) [][2]float64 {
	t.Helper()
	script, err := os.ReadFile("testdata/weather_categoricalnb.py")
	require.NoError(t, err)
	cmd := exec.CommandContext(t.Context(), pythonWithScikitLearn(t), "-", "testdata/quinlan_1986_table1.csv", "testdata/weather_categoricalnb_alpha1.csv")
	var said bytes.Buffer
	cmd.Stdin, cmd.Stderr = bytes.NewReader(script), &said
	answer, err := cmd.Output()
	require.NoError(t, err, said.String())
	t.Log(strings.TrimSpace(said.String()))
	var out [][2]float64
	for line := range strings.Lines(string(answer)) {
		out = append(out, pairOf(t, strings.Fields(line)))
	}
	return out
}

// pythonWithScikitLearn is that of the path or, where somebody has put another in front of it, the system's.
func pythonWithScikitLearn(t *testing.T) string {
	t.Helper()
	for _, python := range []string{"python3", "/usr/bin/python3"} {
		if exec.CommandContext(t.Context(), python, "-c", "import sklearn").Run() == nil {
			return python
		}
	}
	require.Fail(t, "REVIDIT_SKLEARN is 1, but no python3 has scikit-learn: install Debian's python3-sklearn")
	return ""
}

func pairOf(t *testing.T, words []string) [2]float64 {
	t.Helper()
	require.Len(t, words, 2)
	var pair [2]float64
	for i, word := range words {
		p, err := strconv.ParseFloat(word, 64)
		require.NoError(t, err)
		pair[i] = p
	}
	return pair
}

func requireSame(t *testing.T, want, got [][2]float64, tolerance float64, what string) {
	t.Helper()
	require.Len(t, want, 36, what)
	require.Len(t, got, 36, what)
	for i := range want {
		require.InDelta(t, want[i][0], got[i][0], tolerance, "%s, row %d", what, i+1)
		require.InDelta(t, want[i][1], got[i][1], tolerance, "%s, row %d", what, i+1)
	}
}
