package diagnosis

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// Counted by hand in testdata/valid: Buprestidae has two cells; Elateridae has six, one of them read, and its form one.
func TestCoverage(t *testing.T) {
	require.Equal(t, Coverage{
		Cells: 9, Read: 1, Memory: 8,
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
	require.Equal(t, c.Cells, c.Read+c.Memory)
	require.Greater(t, c.Read, 0)
	require.Len(t, c.Sources, len(tables.Sources))
	cited := 0
	for _, s := range c.Sources {
		cited += s.N
	}
	require.Equal(t, c.Cells, cited, "every cell cites one source")
}
