package auth

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestAddressKey(t *testing.T) {
	// Documentation addresses of RFC 5737 and RFC 3849.
	require.Equal(t, "192.0.2.7", AddressKey("192.0.2.7"))
	require.Equal(t, "192.0.2.7", AddressKey("::ffff:192.0.2.7"))
	require.Equal(t, "2001:db8:1:2::/64", AddressKey("2001:db8:1:2:3:4:5:6"))
	require.Equal(t, AddressKey("2001:db8:1:2::1"), AddressKey("2001:db8:1:2:ffff::9"))
	require.Equal(t, "unix", AddressKey("unix"))
}
