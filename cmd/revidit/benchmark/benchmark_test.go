package benchmark

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

func TestCasesCanBeRepeated(t *testing.T) {
	tables := diagnosis.Default()
	judge := review.NewJudge(tables)
	first, again, other := NewGenerator(tables, 1), NewGenerator(tables, 1), NewGenerator(tables, 2)
	differ := false
	for range 200 {
		e := first.Evidence(3)
		require.Equal(t, e, again.Evidence(3))
		differ = differ || e.Family != other.Evidence(3).Family
		require.Len(t, e.Stated, Observations)
		for _, s := range e.Stated {
			require.NoError(t, judge.CheckState(s.Character, s.State))
			require.Len(t, s.Reports, 3)
		}
		for _, caveat := range judge.Assess(e).Caveats {
			require.NotEqual(t, judgement.CaveatLeftOut, caveat.Kind, "the tables know all that is stated")
		}
	}
	require.True(t, differ, "another seed draws other specimens")
}

func TestMultiplied(t *testing.T) {
	tables := diagnosis.Default()
	grown, err := Multiplied(tables, 2)
	require.NoError(t, err)
	require.Len(t, grown.Families, 2*len(tables.Families))
	copied, found := grown.Family("ElateridaeNo2")
	require.True(t, found)
	original, _ := tables.Family("Elateridae")
	require.Len(t, copied.Cells, len(original.Cells))
}

// TestPlainTable compares our model of the plain table with naive Bayes written out: prior times the probabilities of the
// states, over their sum.
func TestPlainTable(t *testing.T) {
	judge := review.NewJudge(diagnosis.Default())
	p := NewPosteriors(judge, NewGenerator(judge.Tables(), 1), 200)
	require.Len(t, p.CharacterIDs(), Observations)
	written := naiveBayes(p)
	difference, err := p.Agrees(written)
	require.NoError(t, err)
	require.Less(t, difference, 1e-9)
	written[3][5] += 1e-6
	_, err = p.Agrees(written)
	require.ErrorContains(t, err, "differs")
}

func naiveBayes(p *Posteriors) [][]float64 {
	var out [][]float64
	for i := range p.Count {
		joint, sum := make([]float64, len(p.Table.Prior)), 0.0
		for h := range joint {
			joint[h] = p.Table.Prior[h]
			for c := range p.Table.Characters {
				joint[h] *= p.Table.P[c][h][p.States[i*len(p.Table.Characters)+c]]
			}
			sum += joint[h]
		}
		for h := range joint {
			joint[h] /= sum
		}
		out = append(out, joint)
	}
	return out
}

// TestBatchIsTheSame: the batch on all cores gives what an assessment says of each case.
func TestBatchIsTheSame(t *testing.T) {
	judge := review.NewJudge(diagnosis.Default())
	p := NewPosteriors(judge, NewGenerator(judge.Tables(), 3), part+50)
	result, classes := p.all(), len(judge.Tables().Families)+1
	for _, i := range []int{0, 1, part - 1, part, part + 49} {
		var e judgement.Evidence
		for c, character := range p.Table.Characters {
			state := p.States[i*Observations+c]
			e.Stated = append(e.Stated, judgement.Stated{Character: character.ID, State: character.States[state].ID})
		}
		for _, ranked := range judge.Assess(e).Ranking {
			h := classes - 1
			if ranked.Family != judgement.NoneOfThese {
				h = judge.Tables().FamilyIndex(ranked.Family)
			}
			require.InDelta(t, ranked.P, result[i*classes+h], 2e-9, "rounded to nine decimals, case %d", i)
		}
	}
}

// TestScikitLearn is empty-handed only where REVIDIT_SKLEARN does not say that the library must be there.
func TestScikitLearn(t *testing.T) {
	judge := review.NewJudge(diagnosis.Default())
	p := NewPosteriors(judge, NewGenerator(judge.Tables(), 1), 500)
	answer, err := p.ScikitLearn(t.Context(), "", 40, 1)
	if os.Getenv("REVIDIT_SKLEARN") != "1" && err != nil {
		require.ErrorIs(t, err, ErrNoScikitLearn)
		return
	}
	require.NoError(t, err)
	require.Len(t, answer.Compared, 40)
	_, err = p.Agrees(answer.Compared)
	require.NoError(t, err)
	require.Greater(t, answer.SingleSeconds, 0.0)
	require.Greater(t, answer.BatchSeconds, 0.0)
	require.NotEmpty(t, answer.Version)
}

func TestPythonThatFails(t *testing.T) {
	for text, want := range map[string]string{
		"exit 3":                              ErrNoScikitLearn.Error(),
		"echo 'out of memory' >&2\nexit 1":    "out of memory",
		"cat >/dev/null\necho 'no JSON'":      "cannot be read",
		"cat >/dev/null\nkill -KILL $$\nwait": "could not be timed",
	} {
		python := filepath.Join(t.TempDir(), "python3")
		require.NoError(t, os.WriteFile(python, []byte("#!/bin/sh\n"+text+"\n"), 0o700))
		_, err := runScript(t.Context(), python, t.TempDir())
		require.ErrorContains(t, err, want, text)
	}
	_, err := runScript(t.Context(), filepath.Join(t.TempDir(), "python3"), t.TempDir())
	require.ErrorIs(t, err, ErrNoScikitLearn)
}

func TestClub(t *testing.T) {
	club := NewClub(20, 20_000, 1)
	require.Equal(t, 20_000, club.Verdicts)
	fit, err := club.Fit(t.Context())
	require.NoError(t, err)
	require.True(t, fit.Converged)
	require.Greater(t, fit.Seconds, 0.0)
	require.Greater(t, fit.PeakBytes, uint64(0))
	r, err := confidence.FitReliability(club.Panel, club.Items, confidence.ReliabilityOptions{})
	require.NoError(t, err)
	off := 0.0
	for person, accuracy := range club.accuracy {
		for region := range regions {
			off += math.Abs(accuracy-r.Accuracy(person, region).Value) / float64(len(club.accuracy)*regions)
		}
	}
	require.Less(t, off, 0.05, "what is estimated is what the verdicts were made with")
}

// bench assess asks for ten times the families.
func TestMultipliedTenTimesKeepsTheLimits(t *testing.T) {
	grown, err := Multiplied(diagnosis.Default(), 10)
	require.NoError(t, err)
	require.Len(t, grown.Families, 10*len(diagnosis.Default().Families))
}

// Faunas name families that are left out here: the tables of the largest ones load all the same.
func TestLargestLeavesOutWhatTheOthersSay(t *testing.T) {
	require.NotEmpty(t, diagnosis.Default().Faunas)
	smaller, err := Largest(diagnosis.Default(), 100)
	require.NoError(t, err)
	require.Len(t, smaller.Families, 100)
}
