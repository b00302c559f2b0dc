package confidence

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// weather is the table of Quinlan (1986) as a spec: class N is hypothesis 0, P is 1. alpha is Laplace smoothing.
type weather struct {
	names  []string
	states [][]string
	spec   Spec
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	return rows
}

func readJSON(t *testing.T, name string, v any) {
	t.Helper()
	text, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, v))
}

func newWeather(t *testing.T, alpha float64) weather {
	rows := readCSV(t, "quinlan_1986_table1.csv")
	w := weather{names: rows[0][1:5], states: make([][]string, 4)}
	rows = rows[1:]
	for _, row := range rows {
		for c := range w.states {
			if !slices.Contains(w.states[c], row[c+1]) {
				w.states[c] = append(w.states[c], row[c+1])
			}
		}
	}
	for _, s := range w.states {
		w.spec.Characters = append(w.spec.Characters, Character{States: len(s)})
	}
	for _, class := range []string{"N", "P"} {
		counts, n := make([][]float64, 4), 0.0
		for c := range counts {
			counts[c] = make([]float64, len(w.states[c]))
		}
		for _, row := range rows {
			if row[5] != class {
				continue
			}
			n++
			for c := range counts {
				counts[c][slices.Index(w.states[c], row[c+1])]++
			}
		}
		for c := range counts {
			for s := range counts[c] {
				counts[c][s] = (counts[c][s] + alpha) / (n + alpha*float64(len(counts[c])))
			}
		}
		w.spec.Hypotheses = append(w.spec.Hypotheses, plain(n, counts...))
	}
	w.spec.None = tiny
	return w
}

func (w weather) observe(t *testing.T, evidence map[string]string) []Observation {
	var observations []Observation
	for name, value := range evidence {
		c := slices.Index(w.names, name)
		if value == "rainy" {
			value = "rain" // the library's table uses the spelling of Witten and Frank
		}
		s := slices.Index(w.states[c], strings.ToLower(value))
		require.GreaterOrEqual(t, s, 0, "%s %s", name, value)
		observations = append(observations, stated(c, s, 1))
	}
	return observations
}

// TestWeather: Witten and Frank, Data Mining, with all and with one character missing; and the whole grid of a library.
func TestWeather(t *testing.T) {
	var file map[string]json.RawMessage
	readJSON(t, "naive_bayes.json", &file)
	for _, name := range []string{"weather_no_smoothing", "weather_missing_outlook"} {
		var check struct {
			Evidence              map[string]string
			Published, Recomputed struct {
				Yes float64 `json:"p_yes"`
				No  float64 `json:"p_no"`
			}
		}
		require.NoError(t, json.Unmarshal(file[name], &check))
		w := newWeather(t, 0)
		p := newModel(t, w.spec).Posterior(w.observe(t, check.Evidence), AnySex, nil).P
		require.InDelta(t, check.Published.Yes, p[1], 0.001, name)
		require.InDelta(t, check.Published.No, p[0], 0.001, name)
		require.InDelta(t, check.Recomputed.Yes, p[1], 1e-11, name)
	}
}

func TestWeatherGridOfScikitLearn(t *testing.T) {
	w := newWeather(t, 1)
	m := newModel(t, w.spec)
	rows := readCSV(t, "weather_categoricalnb_alpha1.csv")
	require.Len(t, rows, 37)
	for _, row := range rows[1:] {
		evidence := map[string]string{}
		for i, name := range rows[0][:4] {
			evidence[name] = row[i]
		}
		want, err := strconv.ParseFloat(row[4], 64)
		require.NoError(t, err)
		require.InDelta(t, want, m.Posterior(w.observe(t, evidence), AnySex, nil).P[0], 1e-11, row)
	}
}

// TestZeroDoesNotVeto: in the same table "overcast" never occurs with class N. The unsmoothed number would be 1.
func TestZeroDoesNotVeto(t *testing.T) {
	w := newWeather(t, 0)
	w.spec.TableError = 0.01
	p := newModel(t, w.spec).Posterior(w.observe(t, map[string]string{"outlook": "overcast", "humidity": "high"}), AnySex, nil).P
	require.Greater(t, p[0], 0.001)
	require.Less(t, p[1], 0.999)
}

// TestPresenceAbsence: Manning, Raghavan and Schütze (2008), example 13.2.
func TestPresenceAbsence(t *testing.T) {
	cells := func(present ...float64) [][]float64 {
		var out [][]float64
		for _, p := range present {
			out = append(out, []float64{p, 1 - p})
		}
		return out
	}
	// Chinese, Tokyo, Japan, Beijing, Shanghai, Macao, from table 13.1 with (count + 1) / (n + 2).
	china := plain(3, cells(4.0/5, 1.0/5, 1.0/5, 2.0/5, 2.0/5, 2.0/5)...)
	other := plain(1, cells(2.0/3, 2.0/3, 2.0/3, 1.0/3, 1.0/3, 1.0/3)...)
	m := newModel(t, Spec{Characters: nominal(2, 2, 2, 2, 2, 2), Hypotheses: []Hypothesis{china, other}, None: tiny})
	var observations []Observation
	for c, s := range []int{0, 0, 0, 1, 1, 1} {
		observations = append(observations, stated(c, s, 1))
	}
	p := m.Posterior(observations, AnySex, nil)
	require.InDelta(t, 0.19106678876165265, p.P[0], 1e-11)
	require.InDelta(t, 0.005, math.Exp(p.LogPrior[0]+p.LogLikelihood[0]), 5e-4)
	require.InDelta(t, 0.022, math.Exp(p.LogPrior[1]+p.LogLikelihood[1]), 5e-4)
}

// TestScreening: Eddy (1982), as used by Gigerenzer and Hoffrage (1995): prior 0.01, 0.8 and 0.096 give 0.078. The
// same numbers are a person whose accuracy differs by nothing: the test is the character.
func TestScreening(t *testing.T) {
	m := newModel(t, Spec{Characters: nominal(2), None: tiny, Hypotheses: []Hypothesis{
		plain(0.01, []float64{0.8, 0.2}), plain(0.99, []float64{0.096, 0.904})}})
	p := m.Posterior([]Observation{stated(0, 0, 1)}, AnySex, nil).P[0]
	require.InDelta(t, 0.078, p, 5e-4)
	require.InDelta(t, 0.07763975155279504, p, 1e-11)
}

// TestInformationGain: Quinlan (1986), section 4. The printed gains come from rounded terms: tolerance 0.001.
func TestInformationGain(t *testing.T) {
	var file struct {
		Quinlan struct {
			Published  map[string]float64 `json:"published_gain_bits"`
			Recomputed struct {
				Attributes map[string]struct{ Gain float64 }
			}
			Branch map[string]struct {
				Attributes map[string]struct{ Gain float64 }
			} `json:"within_branch"`
		} `json:"quinlan_1986"`
	}
	readJSON(t, "information_gain.json", &file)
	require.Len(t, file.Quinlan.Published, 4)
	w := newWeather(t, 0)
	m := newModel(t, w.spec)
	ones := []float64{1, 1, 1, 1}
	bits := m.Posterior(nil, AnySex, nil).Information(Onlooker{Accuracy: ones})
	for i, name := range w.names {
		require.InDelta(t, file.Quinlan.Published[name], bits[i], 0.001, name)
		require.InDelta(t, file.Quinlan.Recomputed.Attributes[name].Gain, bits[i], 1e-9, name)
	}
	require.Equal(t, slices.Max(bits), bits[0], "outlook comes first")
}

// TestMutualInformation: Manning et al. (2008), example 13.3: counts of a term and a class.
func TestMutualInformation(t *testing.T) {
	const n11, n10, n01, n00 = 49.0, 27652.0, 141.0, 774106.0
	m := newModel(t, Spec{Characters: nominal(2), None: tiny, Hypotheses: []Hypothesis{
		plain(n11+n01, []float64{n11 / (n11 + n01), n01 / (n11 + n01)}),
		plain(n10+n00, []float64{n10 / (n10 + n00), n00 / (n10 + n00)})}})
	bits := m.Posterior(nil, AnySex, nil).Information(Onlooker{Accuracy: []float64{1}})[0]
	require.InDelta(t, 0.0001105, bits, 5e-8)
	require.InDelta(t, 0.00011053558610110261, bits, 1e-11)
}
