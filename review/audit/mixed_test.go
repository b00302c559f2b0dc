package audit

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// TestMixedUp: disputes with a better state and blind looks count, once for each specimen and state; a bare dispute, one's own
// word and what was taken back do not.
func TestMixedUp(t *testing.T) {
	specimen := func(id string, verdicts []review.Verdict, blind []review.BlindCheck) review.Closed {
		return review.Closed{Specimen: review.Specimen{ID: id, Observations: []review.Observation{
			{ID: "1" + id, Character: "antenna-form", State: "serrate", By: "ada"}, {ID: "2" + id, Character: "labrum", State: "visible", By: "ada", Withdrawn: "mistaken"},
			{ID: "3" + id, Character: "ventrites", State: "5", By: "ben"}}},
			Submissions: []review.Submission{{Cites: []string{"1" + id, "2" + id, "3" + id}, Verdicts: verdicts, Blind: blind}}}
	}
	dispute := func(of, better, by string) review.Verdict {
		return review.Verdict{Observation: of, Kind: review.VerdictDispute, Better: better, By: by}
	}
	closed := []review.Closed{
		specimen("c", []review.Verdict{dispute("1c", "filiform", "rita"), dispute("1c", "filiform", "rolf"), dispute("3c", "6", "rita")}, nil),
		specimen("b", []review.Verdict{dispute("1b", "", "rita"), dispute("2b", "hidden", "rita")}, []review.BlindCheck{{Observation: "1b", State: "pectinate", By: "rolf"}}),
		specimen("a", []review.Verdict{dispute("1a", "filiform", "rita"), dispute("1a", "pectinate", "ada")}, []review.BlindCheck{{Observation: "1a", State: "serrate", By: "rolf"}}),
	}
	pairs, stated, differently := MixedUp("ada", closed)
	require.Equal(t, []Mixed{{"antenna-form", "serrate", "filiform", 2, "c"}, {"antenna-form", "serrate", "pectinate", 1, "b"}}, pairs)
	require.Equal(t, []int{3, 3}, []int{stated, differently})
}
