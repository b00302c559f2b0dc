package diagnosis

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Common names beside the Latin ones are those of the tables; which slips people make is common practice, no source.
func TestSearchByAnyName(t *testing.T) {
	for typed, want := range map[string]string{
		"Elateridae": "Elateridae", "elateridae": "Elateridae", " ELATERIDAE ": "Elateridae", "click beetle": "Elateridae", "Click Beetles": "Elateridae",
		"click-beetles": "Elateridae", "Bruchidae": "Chrysomelidae", "bruchidae": "Chrysomelidae",
	} {
		found, sure := Default().Search(typed)
		require.True(t, sure, typed)
		require.Equal(t, want, found[0].Family.Name, typed)
	}
	for typed, want := range map[string]string{"Elatridae": "Elateridae", "clik beetle": "Elateridae", "click": "Elateridae", "coccinel": "Coccinellidae", "Coccinelidae": "Coccinellidae"} {
		found, sure := Default().Search(typed)
		require.False(t, sure, typed)
		require.NotEmpty(t, found, typed)
		require.Equal(t, want, found[0].Family.Name, typed)
		require.LessOrEqual(t, len(found), mostNamed)
	}
	for _, typed := range []string{"", "  ", "xyzzy", "giraffe"} {
		found, sure := Default().Search(typed)
		require.False(t, sure)
		require.Empty(t, found, typed)
	}
}
