package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// What is worked out once for readers of the usual accuracy, dependent characters included, is what the reports of anybody
// of as good as that accuracy give.
func TestWhatIsPreparedIsWhatReportsGive(t *testing.T) {
	j := shipped()
	usual := Evidence{Stated: stated("antenna-form=capitate", "antenna-club-segments=3", "tarsi-counted=4-4-4", "tarsi-true=5-5-5", "elytra-texture=hard",
		"light-organ=absent", "rostrum=long", "antenna-elbowed=yes", "body-form=oval")}
	nearly := Evidence{Stated: slices.Clone(usual.Stated)}
	for i := range nearly.Stated {
		nearly.Stated[i].Reports = []Report{{Kind: ReportStated, Accuracy: j.taken.Stated + 1e-13}}
	}
	want, got := j.Posterior(nearly), j.Posterior(usual)
	require.Len(t, want.Seen, len(usual.Stated))
	for h, p := range want.P {
		require.InEpsilon(t, p, got.P[h], 1e-9)
	}
}
