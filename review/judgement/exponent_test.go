package judgement

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/confidence"
)

// heldOut is a case that was written without sight of the tables.
type heldOut struct {
	family int
	seen   []confidence.Observation
	sex    confidence.Sex
}

func readHeldOut(t *testing.T, file string) []heldOut {
	t.Helper()
	var out []heldOut
	for _, c := range readCases(t, file) {
		h := heldOut{family: shipped().Tables().FamilyIndex(c.Family), sex: sexOf(c.Sex)}
		for id, state := range c.Observations {
			f, err := shipped().Finding(id, stateText(state))
			require.NoError(t, err)
			h.seen = append(h.seen, confidence.Observation{Character: f.Index,
				Reports: []confidence.Report{{Kind: confidence.Stated, State: f.State, Accuracy: reviewerReads}}})
		}
		out = append(out, h)
	}
	return out
}

// logScore is the mean log probability of the true family, with other exponents of the dependent groups.
func logScore(exponents []float64, cases []heldOut) float64 {
	tables := *shipped().Tables()
	tables.Dependent = slices.Clone(tables.Dependent)
	for d := range exponents {
		tables.Dependent[d].Exponent = exponents[d]
	}
	model := newJudge(&tables).model
	total := 0.0
	for _, c := range cases {
		total += math.Log(model.Posterior(c.seen, c.sex, nil).P[c.family])
	}
	return total / float64(len(cases))
}

// The exponents of the beetle tables are those that fit held-out cases best (testdata/README.md says whose), as far as
// a step of 0.2 can tell; none is above largestExponent, because the cases have no errors of reading.
func TestExponentsFitHeldOutCases(t *testing.T) {
	const largestExponent, step, tolerance = 0.9, 0.2, 0.001
	const kept = "club" // lower than its best, for the reason that the tables give
	cases := readHeldOut(t, "testdata/cases_examined.jsonl")
	var now, whole []float64
	for _, d := range shipped().Tables().Dependent {
		require.LessOrEqual(t, d.Exponent, largestExponent, d.ID)
		now, whole = append(now, d.Exponent), append(whole, 1)
		if d.ID == kept {
			whole[len(whole)-1] = d.Exponent // what is lower for another reason is no part of this comparison
		}
	}
	present := logScore(now, cases)
	require.Greater(t, present, logScore(whole, cases), "characters that depend on each other are not two full proofs")
	for d, e := range now {
		if shipped().Tables().Dependent[d].ID == kept {
			continue
		}
		for _, other := range []float64{e - step, min(e+step, largestExponent)} {
			try := slices.Clone(now)
			try[d] = other
			require.LessOrEqual(t, logScore(try, cases), present+tolerance, "%s at %.2f in place of %.2f", shipped().Tables().Dependent[d].ID, other, e)
		}
	}
}
