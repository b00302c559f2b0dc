package benchmark

import (
	"testing"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// BenchmarkAssess is a whole assessment, with ten times the reports and ten times the families beside it.
func BenchmarkAssess(b *testing.B) {
	tables := diagnosis.Default()
	grown, err := Multiplied(tables, 10)
	if err != nil {
		b.Fatal(err)
	}
	for _, test := range []struct {
		name   string
		judge  *judgement.Judge
		people int
	}{
		{"once", review.NewJudge(tables), 3},
		{"reports-10", review.NewJudge(tables), 30},
		{"families-10", review.NewJudge(grown), 3},
	} {
		b.Run(test.name, func(b *testing.B) {
			g, cases := NewGenerator(tables, 1), make([]judgement.Evidence, 100)
			for i := range cases {
				cases[i] = g.Evidence(test.people)
			}
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				test.judge.Assess(cases[i%len(cases)])
			}
		})
	}
}

// BenchmarkProbabilities is the posterior alone, one case after the other.
func BenchmarkProbabilities(b *testing.B) {
	judge := review.NewJudge(diagnosis.Default())
	p := NewPosteriors(judge, NewGenerator(judge.Tables(), 1), 100)
	observations, out := p.buffer(), make([]float64, p.model.Hypotheses())
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		p.observe(i%p.Count, observations)
		p.model.Probabilities(observations, confidence.AnySex, nil, out)
	}
}
