package words

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRecognizeFindsTheTextAndItsValues(t *testing.T) {
	for sentence, want := range map[string]struct {
		id     string
		values map[string]string
	}{
		"2 more reviewers must agree with the name": {"sentence.missing-more", map[string]string{"count": "2"}},
		"1 more reviewer must agree with the name":  {"sentence.missing-more", map[string]string{"count": "1"}},
		"1 more reviewer must agree with the name before they see what others say (1 agreed after that)": {"sentence.missing-before",
			map[string]string{"missing": "1 more reviewer must agree with the name", "n": "1"}},
		"a reviewer with the specimen in hand must agree with the name (nobody is named for Elateridae)": {"sentence.missing-in-hand",
			map[string]string{"family": "Elateridae"}},
	} {
		id, values, ok := Recognize("sentence.missing-", sentence)
		require.True(t, ok, sentence)
		require.Equal(t, want.id, id, sentence)
		require.Equal(t, want.values, values, sentence)
	}
	_, _, ok := Recognize("sentence.missing-", "somebody wrote this")
	require.False(t, ok)
}

func TestAValueThatStandsTwiceIsTakenOnce(t *testing.T) {
	_, values, ok := Recognize("sentence.warning-",
		"No family of the tables explains these characters well: some are misread, or the family is not in the tables.")
	require.True(t, ok)
	require.Equal(t, map[string]string{"rank": "family"}, values)
}
