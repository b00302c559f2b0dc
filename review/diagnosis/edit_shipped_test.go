package diagnosis

import (
	"io/fs"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// placeless makes families comparable whatever lines they stand on.
func placeless(families []Family) []Family {
	for i := range families {
		eachCell(&families[i], func(c *Cell) { c.Line = 0 })
		for j := range families[i].Forms {
			families[i].Forms[j].line = 0
		}
		for j := range families[i].LookAlikes {
			families[i].LookAlikes[j].line = 0
		}
	}
	return families
}

func requireSameTables(t testing.TB, want, got fs.FS) {
	t.Helper()
	a, problems := Load(want)
	requireNone(t, problems)
	b, problems := Load(got)
	requireNone(t, problems)
	require.Equal(t, a.Group, b.Group)
	require.Equal(t, a.Characters, b.Characters)
	families, others := placeless(a.Families), placeless(b.Families)
	require.Len(t, others, len(families))
	for i := range families {
		require.Equal(t, families[i], others[i])
	}
}

// everyCell is each cell of a folder as written, the forms' own too.
func everyCell(t testing.TB, folder fs.FS, tables *Tables) []CellEdit {
	t.Helper()
	var edits []CellEdit
	e, err := newEditor(folder)
	require.NoError(t, err)
	add := func(family, form, character string) {
		at := CellEdit{Family: family, Form: form, Character: character}
		p, err := e.find(at)
		require.NoError(t, err)
		edit, err := written(p.cell.value, at, p.family)
		require.NoError(t, err)
		edits = append(edits, edit)
	}
	for _, f := range tables.Families {
		for _, c := range tables.Characters {
			if f.Cells[c.ID] != nil {
				add(f.Name, "", c.ID)
			}
		}
		for _, form := range f.Forms {
			for _, id := range form.Own {
				add(f.Name, form.ID, id)
			}
		}
	}
	return edits
}

// Every cell of every group that is built in: written as it stands, it stays byte for byte; with another note and
// another order of its states, nothing but its own lines change; written back, the tables are those from before.
func TestEveryShippedCellCanBeEditedAndWrittenBack(t *testing.T) {
	for _, name := range Folders() {
		t.Run(name, func(t *testing.T) {
			folder := Files(name)
			tables, problems := Load(folder)
			requireNone(t, problems)
			own := everyCell(t, folder, tables)
			before, err := Contents(folder)
			require.NoError(t, err)

			same, err := Edited(folder, own)
			require.NoError(t, err)
			after, err := Contents(same)
			require.NoError(t, err)
			require.Equal(t, before, after)

			other := slices.Clone(own)
			for i := range other {
				other[i].Note = "Another note."
				other[i].States = slices.Clone(other[i].States)
				slices.Reverse(other[i].States)
			}
			changed := editedAtOnce(t, folder, other)
			after, err = Contents(changed)
			require.NoError(t, err)
			for file := range before {
				require.Equal(t, unedited(before[file]), unedited(after[file]), file)
			}
			requireSameTables(t, folder, editedAtOnce(t, changed, own))
		})
	}
}

// editedAtOnce makes edits of different cells with one reading of each family: Edited reads it anew after each edit,
// which takes too long for thousands.
func editedAtOnce(t *testing.T, folder fs.FS, edits []CellEdit) fs.FS {
	t.Helper()
	e, err := newEditor(folder)
	require.NoError(t, err)
	changes, texts := map[string][]change{}, map[string]tableText{}
	for _, edit := range edits {
		p, err := e.find(edit)
		require.NoError(t, err)
		more, err := p.changes(edit)
		require.NoError(t, err)
		require.NotEmpty(t, more, edit.name())
		changes[p.file], texts[p.file] = append(changes[p.file], more...), p.text
	}
	for file := range changes {
		e.files[file] = texts[file].with(changes[file])
	}
	return FromContents(e.files)
}

// One cell of each family and of each form, by the way that pages use.
func TestAShippedCellOfEachFormCanBeEdited(t *testing.T) {
	for _, name := range Folders() {
		folder := Files(name)
		tables, problems := Load(folder)
		requireNone(t, problems)
		var edits []CellEdit
		seen := map[string]bool{}
		for _, edit := range everyCell(t, folder, tables) {
			if key := edit.Family + "/" + edit.Form; !seen[key] {
				seen[key] = true
				edits = append(edits, edit)
			}
		}
		noted := slices.Clone(edits)
		for i := range noted {
			noted[i].Note += " More: \"#\"."
		}
		changed, err := Edited(folder, noted)
		require.NoError(t, err)
		after, problems := Load(changed)
		requireNone(t, problems)
		require.NotEqual(t, tables.Hash, after.Hash)
		for _, want := range noted {
			want = want.normal()
			f, _ := after.Family(want.Family)
			cell := f.Cells[want.Character]
			for _, form := range f.Forms {
				if form.ID == want.Form {
					cell = form.Cells[want.Character]
				}
			}
			require.Equal(t, want.Note, cell.Note, want.name())
			require.Equal(t, want.Citation, cell.Citation, want.name())
		}
		back, err := Edited(changed, edits)
		require.NoError(t, err)
		requireSameTables(t, folder, back)
	}
}

// unedited are the lines of a text but for states and notes.
func unedited(text string) []string {
	return slices.DeleteFunc(strings.Split(text, "\n"), func(line string) bool {
		line = strings.TrimSpace(line)
		return strings.HasPrefix(line, "note:") || strings.HasPrefix(line, "states:")
	})
}
