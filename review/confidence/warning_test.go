package confidence

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestWarningsAreCodes: what was stored as a sentence, before there were codes, is read as the code; others stay as they are.
func TestWarningsAreCodes(t *testing.T) {
	var read []Warning
	require.NoError(t, json.Unmarshal([]byte(`["the role's prior weighs more than the reports","never-blind","somebody wrote this"]`), &read))
	require.Equal(t, []Warning{PriorDecides, NeverBlind, "somebody wrote this"}, read)
	for sentence, code := range oldWarnings {
		require.Regexp(t, `^[a-z]+(-[a-z]+)*$`, string(code), sentence)
	}
	code, what := Of(FromHistory, "ada, ben").Cut()
	require.Equal(t, []string{FromHistory, "ada, ben"}, []string{code, what})
}
