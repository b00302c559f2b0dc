package judgement

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// readKey is a work in which something on a character of a family was read.
type readKey struct{ family, character, source string }

// whatWasRead returns, from facts.csv, read_facts.csv and character_facts.csv, what was seen in the named document itself.
func whatWasRead(t *testing.T, tables *diagnosis.Tables) map[readKey]bool {
	t.Helper()
	ids := map[string]string{}
	for _, row := range csvRows(t, "source_ids.csv") {
		_, ok := tables.Source(row["source_id"])
		require.True(t, ok, row["source_id"])
		ids[row["source"]] = row["source_id"]
	}
	source := map[factKey]string{}
	for _, row := range csvRows(t, "facts.csv") {
		if row["verified"] != "read" {
			continue
		}
		require.Contains(t, ids, row["source"])
		source[factKey{row["family"], row["character"], row["state_or_value"]}] = ids[row["source"]]
	}
	read := map[readKey]bool{}
	add := func(f oneFact, id string) {
		family, _, ok := tables.Resolve(f.family)
		require.True(t, ok, f.family)
		read[readKey{family.Name, f.core, id}] = true
		if f.core == "tarsi-true" || f.core == "tarsi-counted" {
			// A tarsal formula in a book bears on both, the hidden segments being what differs.
			read[readKey{family.Name, "tarsi-counted", id}] = true
			read[readKey{family.Name, "tarsi-true", id}] = true
		}
	}
	for _, f := range expressible(t) {
		if id, ok := source[f.factKey]; ok {
			add(f, id)
		}
	}
	for key, f := range readFacts(t) {
		require.Contains(t, ids, key.source)
		add(f, ids[key.source])
	}
	for _, row := range csvRows(t, "character_facts.csv") {
		read[readKey{row["family"], row["character"], row["source_id"]}] = true
	}
	return read
}

// TestReadCellsWereRead: a cell says that its source was read, whole or in part, only where facts.csv, read_facts.csv or
// character_facts.csv has a fact on that character of that family, read in that work. The exceptions stand in basis_kept.csv with their reason.
func TestReadCellsWereRead(t *testing.T) {
	tables := diagnosis.Default()
	read := whatWasRead(t, tables)
	kept := map[readKey]bool{}
	for _, row := range csvRows(t, "basis_kept.csv") {
		require.NotEmpty(t, row["why"], row)
		kept[readKey{row["family"], row["character"], row["source_id"]}] = true
	}
	used := map[readKey]bool{}
	cells := 0
	for i := range tables.Families {
		f := &tables.Families[i]
		for _, form := range f.Forms {
			for _, cell := range form.Cells {
				if !cell.Citation.Basis.WasRead() {
					continue
				}
				cells++
				key := readKey{f.Name, cell.Character, cell.Citation.Source}
				used[key] = true
				if read[key] == kept[key] {
					t.Errorf("%s:%d: %s says that %s was read, the facts have that: %v, basis_kept.csv lists it: %v",
						cell.File, cell.Line, cell.Character, cell.Citation.Source, read[key], kept[key])
				}
			}
		}
	}
	require.Positive(t, cells)
	for key := range kept {
		require.True(t, used[key], "%v stands in basis_kept.csv, but no such cell says read", key)
	}
}
