package confidence

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestCountModel: Manning, Raghavan and Schütze (2008), Introduction to Information Retrieval, example 13.1: each word of
// the text is a character whose states are the vocabulary: Chinese, Beijing, Shanghai, Macao, Tokyo, Japan, with
// (count + 1) / (words + 6).
func TestCountModel(t *testing.T) {
	var file struct {
		Counts struct {
			Published struct {
				China float64 `json:"score_c"`
				Other float64 `json:"score_not_c"`
			}
			Recomputed struct {
				China     float64 `json:"score_c"`
				Other     float64 `json:"score_not_c"`
				Posterior float64 `json:"posterior_c"`
			}
		} `json:"multinomial_counts"`
	}
	readJSON(t, "naive_bayes.json", &file)
	china := []float64{6.0 / 14, 2.0 / 14, 2.0 / 14, 2.0 / 14, 1.0 / 14, 1.0 / 14}
	other := []float64{2.0 / 9, 1.0 / 9, 1.0 / 9, 1.0 / 9, 2.0 / 9, 2.0 / 9}
	text := []int{0, 0, 0, 4, 5} // three times Chinese, Tokyo, Japan
	repeat := func(cell []float64) (cells [][]float64) {
		for range text {
			cells = append(cells, cell)
		}
		return cells
	}
	m := newModel(t, Spec{Characters: nominal(6, 6, 6, 6, 6), None: tiny,
		Hypotheses: []Hypothesis{plain(3, repeat(china)...), plain(1, repeat(other)...)}})
	var observations []Observation
	for place, word := range text {
		observations = append(observations, stated(place, word, 1))
	}
	p := m.Posterior(observations, AnySex, nil)
	score := func(h int) float64 { return math.Exp(p.LogPrior[h] + p.LogLikelihood[h]) }
	require.InDelta(t, file.Counts.Published.China, score(0), 5e-5)
	require.InDelta(t, file.Counts.Published.Other, score(1), 5e-5)
	require.InDelta(t, file.Counts.Recomputed.China, score(0), 1e-12)
	require.InDelta(t, file.Counts.Recomputed.Other, score(1), 1e-12)
	require.InDelta(t, file.Counts.Recomputed.Posterior, p.P[0], 1e-11)
}

// TestWeatherLikelihoods: Witten and Frank, Data Mining, weather data: the products 0.0053 and 0.0206 before they are
// made to sum to 1.
func TestWeatherLikelihoods(t *testing.T) {
	w := newWeather(t, 0)
	p := newModel(t, w.spec).Posterior(w.observe(t, map[string]string{"outlook": "sunny", "temperature": "cool",
		"humidity": "high", "windy": "true"}), AnySex, nil)
	require.InDelta(t, 0.0053, math.Exp(p.LogPrior[1]+p.LogLikelihood[1]), 5e-5)
	require.InDelta(t, 0.0206, math.Exp(p.LogPrior[0]+p.LogLikelihood[0]), 5e-5)
}

// TestQuinlanEntropyAndBranches: Quinlan (1986), table 1 and section 4: the entropy 0.940 of the classes is the
// information in a character that tells them apart, and within a branch the gains are those given its outlook.
func TestQuinlanEntropyAndBranches(t *testing.T) {
	type gains map[string]struct{ Gain float64 }
	var file struct {
		Quinlan struct {
			Entropy    float64 `json:"entropy_published"`
			Recomputed struct{ Entropy float64 }
			Branches   map[string]struct {
				Entropy    float64
				Attributes gains
			} `json:"within_branch"`
		} `json:"quinlan_1986"`
	}
	readJSON(t, "information_gain.json", &file)
	w := newWeather(t, 0)
	spec := w.spec
	spec.Characters = append(spec.Characters, Character{States: 2})
	for h := range spec.Hypotheses {
		cell := []float64{0, 0}
		cell[h] = 1
		spec.Hypotheses[h].Forms[0].Cells = append(spec.Hypotheses[h].Forms[0].Cells, cell)
	}
	bits := newModel(t, spec).Posterior(nil, AnySex, nil).Information(Onlooker{Accuracy: []float64{1, 1, 1, 1, 1}})
	require.InDelta(t, file.Quinlan.Entropy, bits[4], 0.001)
	require.InDelta(t, file.Quinlan.Recomputed.Entropy, bits[4], 1e-9)

	rows := readCSV(t, "quinlan_1986_table1.csv")
	require.NotEmpty(t, file.Quinlan.Branches)
	for outlook, branch := range file.Quinlan.Branches {
		m := newModel(t, branchSpec(w, rows[1:], outlook))
		bits := m.Posterior(nil, AnySex, nil).Information(Onlooker{Accuracy: []float64{1, 1, 1}})
		require.Len(t, branch.Attributes, 3)
		for name, want := range branch.Attributes {
			c := indexOf(w.names[1:], name)
			require.InDelta(t, want.Gain, bits[c], 1e-9, "%s %s", outlook, name)
		}
	}
}

func indexOf(list []string, name string) int {
	for i, other := range list {
		if other == name {
			return i
		}
	}
	return -1
}

// branchSpec counts the days of one outlook.
func branchSpec(w weather, rows [][]string, outlook string) Spec {
	spec := Spec{None: tiny, Characters: w.spec.Characters[1:4]}
	for _, class := range []string{"N", "P"} {
		days, cells := 0.0, [][]float64{}
		for _, states := range w.states[1:] {
			cells = append(cells, make([]float64, len(states)))
		}
		for _, row := range rows {
			if row[1] != outlook || row[5] != class {
				continue
			}
			days++
			for c := range cells {
				cells[c][indexOf(w.states[c+1], row[c+2])]++
			}
		}
		for _, cell := range cells {
			orUniform(cell)
		}
		spec.Hypotheses = append(spec.Hypotheses, plain(days, cells...))
	}
	return spec
}
