package judgement

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

const (
	benchmarkCases = 200
	observed       = 10
)

// benchmarkEvidence is about specimens drawn from the tables, dead ones, every tenth under another's name. Ten characters are stated
// of each, its length first; of each of these a member states a state and every reviewer is shown it, and confirms or
// disputes it by what the reviewer reads.
func benchmarkEvidence(t *diagnosis.Tables, reviewers int) []Evidence {
	s := simulation{tables: t, random: rand.New(rand.NewPCG(3, 4))}
	cases := make([]Evidence, benchmarkCases)
	for i := range cases {
		var ids []string
		for _, c := range s.random.Perm(len(t.Characters)) {
			dead := t.Characters[c].Kind != diagnosis.KindLength && t.Characters[c].OnlyLive == nil
			if dead && len(ids) < observed-1 {
				ids = append(ids, t.Characters[c].ID)
			}
		}
		family, e := s.specimen(ids)
		f, _ := t.Family(family)
		e.Family = family
		if i%10 == 0 {
			e.Family = t.Families[s.random.IntN(len(t.Families))].Name
		}
		e.Stated = append(e.Stated, lengthsOf(f)...)
		reports := rand.New(rand.NewPCG(uint64(i), 5)) // of their own, so that more reviewers see the same specimens
		for k := range e.Stated {
			e.Stated[k].Reports = benchmarkReports(t, &e.Stated[k], reviewers, reports)
		}
		e.Views = []string{t.Group.Views[0].ID, t.Group.Views[1].ID}
		cases[i] = e
	}
	return cases
}

// lengthsOf states the middle of the usual lengths of a family.
func lengthsOf(f *diagnosis.Family) []Stated {
	var out []Stated
	for id, cell := range f.Forms[0].Cells {
		if cell.P == nil {
			middle := (cell.Length.Usual[0] + cell.Length.Usual[1]) / 2
			out = append(out, Stated{Character: id, State: strconv.FormatFloat(middle, 'f', 1, 64)})
		}
	}
	return out
}

func benchmarkReports(t *diagnosis.Tables, s *Stated, reviewers int, random *rand.Rand) []Report {
	reports := []Report{{Kind: ReportStated, Accuracy: memberReads}}
	c, _ := t.Character(s.Character)
	for range reviewers {
		r := Report{Kind: ReportConfirmed, Accuracy: 0.85 + 0.14*random.Float64(), Anchoring: 0.3 * random.Float64()}
		if random.IntN(8) == 0 && len(c.States) > 1 {
			r.Kind = ReportDisputed
			r.Better = c.States[(c.State(s.State)+1)%len(c.States)].ID
		}
		reports = append(reports, r)
	}
	return reports
}

// timesFamilies are tables with each family so many times, under new names after those of the tables.
func timesFamilies(t *diagnosis.Tables, times int) *diagnosis.Tables {
	grown := *t
	grown.Families = append([]diagnosis.Family{}, t.Families...)
	for n := 2; n <= times; n++ {
		for _, f := range t.Families {
			f.Name = fmt.Sprintf("%s%d", f.Name, n)
			f.OldNames = nil
			grown.Families = append(grown.Families, f)
		}
	}
	return &grown
}

// assessAll runs a benchmark of whole assessments and returns nanoseconds for each.
func assessAll(b *testing.B, j *Judge, cases []Evidence) float64 {
	for i := range cases { // memory that later assessments use again
		j.Assess(cases[i])
	}
	b.ReportAllocs()
	b.ResetTimer()
	for i := range b.N {
		j.Assess(cases[i%len(cases)])
	}
	return float64(b.Elapsed().Nanoseconds()) / float64(b.N)
}

// BenchmarkAssess is a whole assessment on the shipped tables: ten observations with the reports of three people,
// contradictions, why, and what to check next. Beside it ten times the reports and ten times the families: "x" is the time
// for one report or one family against that of the first.
func BenchmarkAssess(b *testing.B) {
	const times = 10
	tables := diagnosis.Default()
	shipped, grown := newJudge(tables), newJudge(timesFamilies(tables, times))
	few, many := benchmarkEvidence(tables, 2), benchmarkEvidence(tables, 3*times-1)
	var base float64
	b.Run("people=3", func(b *testing.B) { base = assessAll(b, shipped, few) })
	b.Run("people=30", func(b *testing.B) { b.ReportMetric(assessAll(b, shipped, many)/times/base, "x/report") })
	b.Run("families=1290", func(b *testing.B) { b.ReportMetric(assessAll(b, grown, few)/times/base, "x/family") })
}

// BenchmarkProbabilities is the posterior alone, of ten observations of one member.
func BenchmarkProbabilities(b *testing.B) {
	j := newJudge(diagnosis.Default())
	var cases [][]confidence.Observation
	for _, e := range benchmarkEvidence(j.Tables(), 0) {
		cases = append(cases, j.Observations(e))
	}
	out := make([]float64, j.Model().Hypotheses())
	b.ReportAllocs()
	for i := 0; b.Loop(); i++ {
		j.Model().Probabilities(cases[i%len(cases)], confidence.AnySex, nil, out)
	}
}

// TestAssessAllocatesItsResult: everything else is memory that was there before.
func TestAssessAllocatesItsResult(t *testing.T) {
	j := newJudge(diagnosis.Default())
	for _, e := range benchmarkEvidence(j.Tables(), 2) {
		a := j.Assess(e)
		require.LessOrEqual(t, testing.AllocsPerRun(5, func() { j.Assess(e) }), float64(allocationsOf(a)), "%+v", a)
	}
}

// allocationsOf counts the slices of an assessment and the one text that is put together for it.
func allocationsOf(a Assessment) int {
	n := 2 // Ranking and Why
	for _, length := range []int{len(a.Next), len(a.Contradictions), len(a.Caveats), len(a.Forms)} {
		n += min(length, 1)
	}
	for _, c := range a.Caveats {
		n += min(len(c.Characters)+len(c.Stated), 1)
	}
	for _, c := range a.Contradictions {
		switch c.Kind {
		case Incompatible:
			n++ // With
		case Combination:
			n += 2 // Source, too
		}
	}
	return n
}
