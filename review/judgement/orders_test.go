package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestSecondGroupIsDataOnly: adult insects to order are a folder of tables; the same code judges them. The cases are from
// memory, common practice, no source.
func TestSecondGroupIsDataOnly(t *testing.T) {
	at := slices.IndexFunc(diagnosis.All(), func(t *diagnosis.Tables) bool { return t.Group.ID == "insect-orders" })
	require.Positive(t, at, "beetles are the first")
	orders := newJudge(diagnosis.All()[at])
	require.GreaterOrEqual(t, len(orders.Tables().Families), 28)
	first, own := 0, 0
	for _, c := range readCases(t, "testdata/orders.jsonl") {
		a := orders.Assess(c.evidence())
		kinds := kindsOf(a)
		switch c.Kind {
		case "look-alike":
			require.NotEmpty(t, kinds, "%s as %s", c.Species, c.Proposed)
			continue
		case "plain":
			require.Empty(t, kinds, "%s: %v", c.Species, a.Contradictions)
		}
		require.NotContains(t, kinds, Excluded, "%s: %v", c.Species, a.Contradictions)
		own++
		if a.Ranking[0].Family == c.Family {
			first++
		}
	}
	require.GreaterOrEqual(t, float64(first), 0.9*float64(own), "%d of %d rank first", first, own)
}

func kindsOf(a Assessment) []ContradictionKind {
	var kinds []ContradictionKind
	for _, c := range a.Contradictions {
		if !slices.Contains(kinds, c.Kind) {
			kinds = append(kinds, c.Kind)
		}
	}
	return kinds
}
