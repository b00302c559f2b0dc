package confidence

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"
)

// benchmarkSpec is of the size that the tables are to grow to: 100 families of two forms, 47 characters, one a length.
func benchmarkSpec() (Spec, []Observation) {
	random := rand.New(rand.NewPCG(1, 2))
	spec := Spec{None: 0.02, TableError: 0.01, SharedError: 0.02}
	for c := range 46 {
		spec.Characters = append(spec.Characters, Character{States: 2 + c%9})
	}
	spec.Characters = append(spec.Characters, Character{Kind: Length, States: 100, Step: 0.07})
	for range 100 {
		h := Hypothesis{Prior: 1 + random.Float64()}
		for range 2 {
			f := Form{Weight: 0.5}
			for _, c := range spec.Characters {
				cell := make([]float64, c.States)
				for s := range cell {
					cell[s] = math.Pow(random.Float64(), 4)
				}
				normalise(cell)
				f.Cells = append(f.Cells, cell)
			}
			h.Forms = append(h.Forms, f)
		}
		spec.Hypotheses = append(spec.Hypotheses, h)
	}
	spec.Dependent = []Dependent{{Characters: []int{0, 5}, Exponent: 0.6}}
	var observations []Observation
	for c := range 10 {
		observations = append(observations, stated(c*5, 1, 0.85))
	}
	return spec, observations
}

// BenchmarkPosterior prints, as "times-naive", how much longer it takes than a naive Bayes sum of log probabilities of
// the same size in the same run.
func BenchmarkPosterior(b *testing.B) {
	spec, observations := benchmarkSpec()
	m := newModel(b, spec)
	const runs = 500
	start := time.Now()
	for range runs {
		naiveBayes(m, observations)
	}
	naive := float64(time.Since(start).Nanoseconds()) / runs
	b.Run("kept", func(b *testing.B) {
		var p Posterior
		b.ReportAllocs()
		for b.Loop() {
			m.FillPosterior(&p, observations, AnySex, nil)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/naive, "times-naive")
	})
	b.Run("probabilities", func(b *testing.B) {
		out := make([]float64, m.Hypotheses())
		b.ReportAllocs()
		for b.Loop() {
			m.Probabilities(observations, AnySex, nil, out)
		}
		b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/naive, "times-naive")
	})
}

func naiveBayes(m *Model, observations []Observation) []float64 {
	p := make([]float64, m.forms())
	for f := range p {
		for _, o := range observations {
			c := &m.characters[o.Character]
			p[f] += math.Log(c.cells[c.at(f)+o.Reports[0].State])
		}
	}
	toProbabilities(p)
	return p
}

func BenchmarkInformation(b *testing.B) {
	spec, observations := benchmarkSpec()
	p := newModel(b, spec).Posterior(observations, AnySex, nil)
	bits, accuracy := make([]float64, len(spec.Characters)), make([]float64, len(spec.Characters))
	for c := range accuracy {
		accuracy[c] = 0.95
	}
	b.ReportAllocs()
	for b.Loop() {
		p.FillInformation(bits, Onlooker{Accuracy: accuracy})
	}
}
