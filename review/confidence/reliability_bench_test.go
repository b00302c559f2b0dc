package confidence

import "testing"

// BenchmarkFitReliability: a million reports of a thousand people on ten regions, four on each item, a fifth of the
// reviewers' blind.
func BenchmarkFitReliability(b *testing.B) {
	s := newSimulation(1, 1000, 10, 0.1, 0.2)
	items := s.items(100)
	b.ReportAllocs()
	for b.Loop() {
		r, err := FitReliability(s.panel, items, ReliabilityOptions{})
		if err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(r.LogPosterior)), "iterations")
	}
	b.ReportMetric(float64(len(items)*4), "verdicts")
}

// BenchmarkAdd: a submission of nine characters after a million reports.
func BenchmarkAdd(b *testing.B) {
	s := newSimulation(1, 1000, 10, 0.1, 0.2)
	r, err := FitReliability(s.panel, s.items(100), ReliabilityOptions{})
	if err != nil {
		b.Fatal(err)
	}
	submission := make([]Item, 9)
	for i := range submission {
		submission[i] = s.item()
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := r.Add(submission); err != nil {
			b.Fatal(err)
		}
	}
}
