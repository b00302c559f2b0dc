package review

import (
	"net/mail"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// What is taken for an address is one for the standard library as well, which reads RFC 5322; a line break in it would begin a
// header of its own.
func TestCheckAddress(t *testing.T) {
	wrong := func(address string) bool {
		var p Problems
		CheckAddress(&p, "address", address)
		return p.Err() != nil
	}
	for _, good := range []string{"ada@example.org", "a.b+c@sub.example.org", "o'hara@example.org", "x@1.example"} {
		require.False(t, wrong(good), good)
		parsed, err := mail.ParseAddress(good)
		require.NoError(t, err)
		require.Equal(t, good, parsed.Address)
	}
	for _, bad := range []string{"", "ada", "ada@", "@example.org", "ada@example", "ada@example.org\r\nBcc: eve@example.org", "ada@example.org\n", "a b@example.org",
		"Ada <ada@example.org>", "ada@example.org,eve@example.org", "ada@-example.org", "ada@exam_ple.org", "\"a\"@example.org", strings.Repeat("a", 250) + "@b.cc"} {
		require.True(t, wrong(bad), bad)
	}
}

func TestLettersAreTriedForADayAndAHalf(t *testing.T) {
	l, now := Letter{}, time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	began := now
	for range MostTries {
		l = l.Begin(now)
		now = *l.NextAt
	}
	require.Greater(t, now.Sub(began).Hours(), 24.0)
	require.Less(t, now.Sub(began).Hours(), 48.0)
}
