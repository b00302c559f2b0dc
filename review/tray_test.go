package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// How numbers of a tray are written is common practice, no source.
func TestTrayNumbers(t *testing.T) {
	for typed, want := range map[string][]string{
		"AB-1":                 {"AB-1"},
		"AB-1\nAB-2\r\n\nAB-9": {"AB-1", "AB-2", "AB-9"},
		"AB-098 to AB-101":     {"AB-098", "AB-099", "AB-100", "AB-101"},
		"7-9, 12":              {"7", "8", "9", "12"},
		"AB 7–9":               {"AB 7", "AB 8", "AB 9"},
		"2026-B12":             {"2026-B12"},
		"AB-101-2":             {"AB-101-2"},
	} {
		got, err := TrayNumbers(typed)
		require.NoError(t, err, typed)
		require.Equal(t, want, got, typed)
	}
	for typed, words := range map[string]string{"": "at least one", " \n ": "at least one", "9-7": "lower number", "1-1000": "at most 60", "7\n7": "twice", "AB-9 to AB-7": "lower number"} {
		_, err := TrayNumbers(typed)
		require.ErrorContains(t, err, words, typed)
	}
}
