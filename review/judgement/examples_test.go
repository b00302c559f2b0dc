package judgement

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestExamples are determinations of the kind that every reviewer meets: common practice, no source. "want" are the flags
// that must be there, as the beginning of "kind character=state family"; nothing means that none may be.
func TestExamples(t *testing.T) {
	click := []string{"prosternal-process=click-spine", "antenna-form=serrate", "pronotum-hind-corners=pointed"}
	for name, test := range map[string]struct {
		family string
		stated []string
		want   []string
	}{
		"click beetle":                  {"Elateridae", click, nil},
		"click beetle as jewel beetle":  {"Buprestidae", click, []string{"excluded prosternal-process=click-spine Buprestidae", "better-fit prosternal-process=click-spine Elateridae"}},
		"straight-snouted as weevil":    {"Curculionidae", []string{"rostrum=long", "antenna-elbowed=no", "antenna-form=filiform"}, []string{"better-fit antenna-form=filiform Brentidae"}},
		"firefly without light":         {"Lampyridae", []string{"light-organ=absent", "head-from-above=hidden", "elytra-texture=soft", "antenna-form=filiform"}, nil},
		"blister beetle, wide pronotum": {"Meloidae", []string{"pronotum-width=wider", "head-neck=yes", "tarsi-counted=5-5-4"}, []string{"excluded pronotum-width=wider Meloidae"}},
		"longhorn counted with four":    {"Cerambycidae", []string{"tarsi-counted=4-4-4", "antenna-length=over-whole", "tarsi-true=5-5-5"}, nil},
		"ground beetle, 5-5-4":          {"Carabidae", []string{"tarsi-counted=5-5-4", "first-ventrite=undivided"}, []string{"excluded tarsi-counted=5-5-4 Carabidae", "excluded first-ventrite=undivided Carabidae"}},
		"thread-like with a club":       {"Cleridae", []string{"antenna-form=filiform", "antenna-club-segments=3"}, []string{"incompatible antenna-form=filiform Cleridae"}},
	} {
		a := newJudge(diagnosis.Default()).Assess(Evidence{Family: test.family, Stated: stated(test.stated...)})
		if test.want == nil {
			require.Empty(t, a.Contradictions, name)
			require.Equal(t, test.family, a.Ranking[0].Family, name)
		}
		for _, want := range test.want {
			require.True(t, slices.ContainsFunc(flags(a), func(f string) bool { return strings.HasPrefix(f, want) }), "%s: %s is not in %v", name, want, flags(a))
		}
	}
}
