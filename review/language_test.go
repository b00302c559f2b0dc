package review_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// Tags of RFC 5646 appendix A.
func TestLanguagesAreTags(t *testing.T) {
	for _, tag := range []string{"", "de", "de-CH", "zh-Hans-CN", "de-CH-1901", "hsb"} {
		require.NoError(t, review.CheckLanguage(tag), tag)
	}
	for _, bad := range []string{"d", "de_DE", "deutsch", "de-", "<de>", "de\n", "de-a-b-c-d-e"} {
		require.Equal(t, review.KindInvalid, review.KindOf(review.CheckLanguage(bad)), bad)
	}
}
