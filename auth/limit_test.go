package auth

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestLimiter(t *testing.T) {
	l := newLimiter(Limit{Burst: 3, Every: 10 * time.Second})
	for range 3 {
		require.NoError(t, l.take("ada", testNow))
	}
	err := l.take("ada", testNow)
	require.ErrorIs(t, err, ErrTooMany)
	var many *TooManyError
	require.ErrorAs(t, err, &many)
	require.Equal(t, 10*time.Second, many.Wait)
	require.NoError(t, l.take("bob", testNow), "each key has a bucket of its own")
	require.ErrorIs(t, l.take("ada", testNow.Add(9*time.Second)), ErrTooMany)
	require.NoError(t, l.take("ada", testNow.Add(10*time.Second)), "a refused attempt is not counted")
}

func TestLimiterForgetsIdleKeys(t *testing.T) {
	l := newLimiter(Limit{Burst: 2, Every: time.Second})
	for i := range 100 {
		require.NoError(t, l.take(fmt.Sprint(i), testNow))
	}
	later := testNow.Add(sweepEvery)
	require.NoError(t, l.take("busy", later))
	require.Len(t, l.buckets, 1)
	require.NoError(t, l.take("busy", later))
	require.ErrorIs(t, l.take("busy", later), ErrTooMany)
}

func TestAddressKey(t *testing.T) {
	// Documentation addresses of RFC 5737 and RFC 3849.
	require.Equal(t, "192.0.2.7", addressKey("192.0.2.7"))
	require.Equal(t, "192.0.2.7", addressKey("::ffff:192.0.2.7"))
	require.Equal(t, "2001:db8:1:2::/64", addressKey("2001:db8:1:2:3:4:5:6"))
	require.Equal(t, addressKey("2001:db8:1:2::1"), addressKey("2001:db8:1:2:ffff::9"))
	require.Equal(t, "unix", addressKey("unix"))
}
