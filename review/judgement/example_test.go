package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestExample: what is shown to whoever is new is one that the tables themselves call a look-alike, that nothing contradicts before
// the telling character is seen, and that this character excludes for the family that it is. No outside source: it shows the tables.
func TestExample(t *testing.T) {
	e, ok := shipped().Example()
	require.True(t, ok)
	is, ok := shipped().Tables().Family(e.Family)
	require.True(t, ok)
	require.True(t, slices.ContainsFunc(is.LookAlikes, func(l diagnosis.LookAlike) bool { return l.Family == e.Taken }))
	require.Len(t, e.Stated, exampleStated)

	before, after := shipped().Assess(e.Evidence(false)), shipped().Assess(e.Evidence(true))
	require.Empty(t, before.Contradictions)
	require.Contains(t, flags(after), "excluded "+e.Telling.Character+"="+e.Telling.State+" "+e.Taken)
	require.Less(t, after.Confidence, before.Confidence/5)
	require.Equal(t, e.Family, after.Ranking[0].Family)
	require.NotEqual(t, e.Telling.State, e.Instead.State)
	instead := e
	instead.Telling = e.Instead
	require.Greater(t, shipped().Assess(instead.Evidence(true)).Confidence, before.Confidence, "what it is usually like speaks for it")

	regions := map[string]bool{}
	for _, s := range e.Evidence(true).Stated {
		c, ok := shipped().Tables().Character(s.Character)
		require.True(t, ok)
		require.False(t, regions[c.Region], "each part once")
		regions[c.Region] = true
		_, drawn := shipped().Tables().Picture(s.Character, s.State)
		require.True(t, drawn)
	}
	again, _ := newJudge(shipped().Tables()).Example()
	require.Equal(t, e, again)

	_, ok = madeUp().Example()
	require.False(t, ok, "tables without plates have none")
}
