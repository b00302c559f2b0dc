package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSureRank: that conf. goes no lower than somebody has agreed, and not past a doubted word, is common practice, no source.
func TestSureRank(t *testing.T) {
	agrees := func(by string, rank Rank) Opinion { return Opinion{Kind: OpinionAgrees, By: by, Rank: rank} }
	for name, c := range map[string]struct {
		d    Determination
		said []Opinion
		sure Rank
	}{
		"the family alone":     {Determination{Family: "Elateridae"}, []Opinion{agrees("b", "")}, "family"},
		"agreed to the family": {Determination{ScientificName: "Agriotes lineatus"}, []Opinion{agrees("b", "family")}, "family"},
		"agreed to the genus":  {Determination{ScientificName: "Agriotes lineatus"}, []Opinion{agrees("b", RankGenus)}, RankGenus},
		"agreed to species":    {Determination{ScientificName: "Agriotes lineatus"}, []Opinion{agrees("c", "family"), agrees("b", RankSpecies)}, RankSpecies},
		"one's own voice":      {Determination{ScientificName: "Agriotes lineatus", Determiner: "b"}, []Opinion{agrees("b", RankSpecies)}, "family"},
		"a doubted species": {Determination{ScientificName: "Agriotes lineatus", Qualifier: QualifierCf, Doubted: RankSpecies},
			[]Opinion{agrees("b", RankSpecies)}, RankGenus},
		"a doubted genus": {Determination{ScientificName: "Agriotes lineatus", Qualifier: QualifierAff, Doubted: RankGenus},
			[]Opinion{agrees("b", RankSpecies)}, "family"},
		"another name": {Determination{ScientificName: "Agriotes lineatus"}, []Opinion{{Kind: OpinionAnother, By: "b"}}, "family"},
	} {
		s := Submission{Determination: c.d, Opinions: c.said}
		require.Equal(t, c.sure, s.SureRank("family"), name)
	}
}
