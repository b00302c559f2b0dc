package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Without anything learnt everybody is what the role is taken for.
func TestNobodyIsKnownAtFirst(t *testing.T) {
	for _, r := range []*Reliability{nil, ptr(NewReliability("g"))} {
		require.Equal(t, MemberAccuracy, r.Accuracy("x", RoleMember, "antenna"))
		require.Equal(t, ReviewerAnchoring, r.Anchoring("x", RoleReviewer))
	}
}

func ptr[T any](v T) *T { return &v }
