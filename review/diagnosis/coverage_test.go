package diagnosis

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Counted by hand in testdata/valid: Buprestidae has two cells; Elateridae has six, one of them read, and its form one. On
// antennae and ventrites are two of Buprestidae, three of Elateridae with the one that was read, and that of the form.
func TestCoverage(t *testing.T) {
	require.Equal(t, Coverage{
		Reading:      Reading{Cells: 9, Read: 1, Memory: 8},
		Chief:        Reading{Cells: 6, Read: 1, Memory: 5},
		Sources:      []Count{{"handbook", 8}, {"guide", 1}},
		ThinFamilies: []Count{{"Buprestidae", 2}, {"Elateridae", 6}},
		ThinCharacters: []Count{{"antenna-elbowed", 1}, {"club-segments", 1}, {"length", 1}, {"vesicles", 1},
			{"antenna-form", 2}, {"ventrites", 2}},
	}, loadValid(t).Coverage())
}

// A character that only one form shows is not known of the family, though its cell counts.
func TestCoverageOfACharacterOfOneForm(t *testing.T) {
	tables := loadValid(t)
	f, _ := tables.Family("Elateridae")
	delete(f.Forms[0].Cells, "ventrites")

	c := tables.Coverage()
	require.Equal(t, 9, c.Cells)
	require.Contains(t, c.ThinFamilies, Count{"Elateridae", 5})
	require.Contains(t, c.ThinCharacters, Count{"ventrites", 1})
}

func TestCoverageOfTheShippedTables(t *testing.T) {
	tables := embedded(t)
	c := tables.Coverage()
	for _, r := range []Reading{c.Reading, c.Chief} {
		require.Equal(t, r.Cells, r.Read+r.InPart+r.Memory)
		require.Greater(t, r.Read, 0)
		require.Greater(t, r.InPart, 0)
	}
	require.Greater(t, c.Cells, c.Chief.Cells)
	// What release 2026.1 began with was 3.6 and 9.5 in a hundred.
	require.Greater(t, float64(c.Read+c.InPart)/float64(c.Cells), 0.1)
	require.Greater(t, float64(c.Chief.Read+c.Chief.InPart)/float64(c.Chief.Cells), 0.25)
	require.Len(t, c.Sources, len(tables.Sources))
	cited := 0
	for _, s := range c.Sources {
		cited += s.N
	}
	require.Equal(t, c.Cells, cited, "every cell cites one source")
}
