package judgement

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestCharacterFacts compares what was read of characters that specialists use, in the terms of the tables, with the
// cells. Where the tables keep another value, the column kept says why.
func TestCharacterFacts(t *testing.T) {
	tables := diagnosis.Default()
	for _, row := range csvRows(t, "character_facts.csv") {
		_, ok := tables.Source(row["source_id"])
		require.True(t, ok, row)
		band, ok := shareBand[row["modifier"]]
		if row["modifier"] == "often" { // between usually and sometimes
			band, ok = [2]float64{0.1, 0.8}, true
		}
		require.True(t, ok, row)
		share := shareShown(t, tables, row)
		if agrees := share >= band[0]-1e-9 && share <= band[1]+1e-9; agrees == (row["kept"] != "") {
			t.Errorf("%s %s %s (%s): the tables say %.3f; mend the cell, or say in the column kept why not", row["family"], row["character"], row["states"], row["modifier"], share)
		}
	}
}

// shareShown is the part of a family, or of the forms that a fact names, that shows one of its states.
func shareShown(t *testing.T, tables *diagnosis.Tables, row map[string]string) float64 {
	f, _, ok := tables.Resolve(row["family"])
	require.True(t, ok, row)
	c, ok := tables.Character(row["character"])
	require.True(t, ok, row)
	within := strings.Split(row["within"], "|")
	share, weight := 0.0, 0.0
	for _, form := range f.Forms {
		if row["within"] != "" && !slices.Contains(within, form.ID) {
			continue
		}
		cell := form.Cells[c.ID]
		require.NotNil(t, cell, row)
		weight += form.Weight
		for _, state := range strings.Split(row["states"], "|") {
			at := c.State(state)
			require.GreaterOrEqual(t, at, 0, row)
			share += form.Weight * cell.P[at]
		}
	}
	require.Positive(t, weight, row)
	return share / weight
}
