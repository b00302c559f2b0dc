package confidence

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Cover and Thomas, Elements of Information Theory, example of the binary symmetric channel: an error of 0.11 leaves half
// a bit (printed value from memory; 1 − H(0.11) = 0.50008).
func TestCapacityOfABinarySymmetricChannel(t *testing.T) {
	require.InDelta(t, 0.5, Capacity(0.89), 2e-4)
	require.InDelta(t, Capacity(0.2), Capacity(0.8), 1e-12)
	require.Zero(t, Capacity(0.5))
	require.Equal(t, 1.0, Capacity(1))
	require.Equal(t, 1.0, Capacity(0))
}
