package diagnosis

import (
	"encoding/json"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

const elaterids = "families/Elateridae.yaml"

// editFamily edits testdata/valid, with another text for Elateridae where one is given, and returns its text then.
func editFamily(t require.TestingT, files fstest.MapFS, text string, edits ...CellEdit) (string, error) {
	if text != "" {
		files[elaterids] = &fstest.MapFile{Data: []byte(text)}
	}
	folder, err := Edited(files, edits)
	if err != nil {
		return "", err
	}
	content, err := fs.ReadFile(folder, elaterids)
	require.NoError(t, err)
	return string(content), nil
}

func elaterid(form, character string, words ...string) CellEdit {
	e := CellEdit{Family: "Elateridae", Form: form, Character: character}
	for i := 0; i+1 < len(words); i += 2 {
		e.States = append(e.States, StateWord{words[i], words[i+1]})
	}
	return e
}

func (c CellEdit) noted(note string) CellEdit {
	c.Note = note
	return c
}

func (c CellEdit) cited(source, place string, basis Basis) CellEdit {
	c.Citation = Citation{source, place, basis}
	return c
}

const head = `family: Elateridae
superfamily: Elateroidea
common: click beetles
species: 10000
species_source: for tests
source: handbook
place: chapter Elateridae
basis: memory
`

// Each case shows the lines that stand before and after; head and the rest of the folder stay.
func TestEditedChangesOnlyTheFieldsOfTheCell(t *testing.T) {
	six := elaterid("", "ventrites", "6", "always")
	length := CellEdit{Family: "Elateridae", Character: "length", Length: &Length{Min: 1.25, Usual: [2]float64{4, 22.5}, Max: 80}}
	for _, c := range []struct {
		name          string
		before, after string
		edits         []CellEdit
	}{
		{"the states",
			"characters:\n  ventrites:\n    states: {5: always}\n\n  # head\n  vesicles:\n    states: {absent: always}\n",
			"characters:\n  ventrites:\n    states: {6: always}\n\n  # head\n  vesicles:\n    states: {absent: always}\n", []CellEdit{six}},
		{"a length",
			"characters:\n  length:\n    length: {min: 1.5, usual: [5, 25], max: 75} # mm\n",
			"characters:\n  length:\n    length: {min: 1.25, usual: [4, 22.5], max: 80} # mm\n", []CellEdit{length}},
		{"a range, rest and numbers as text",
			"characters:\n  ventrites:\n    states: {5: always}\n",
			"characters:\n  ventrites:\n    states: {7-9: 0.62, 2: 0.30, rest: 0.08}\n", []CellEdit{elaterid("", "ventrites", "7-9", "0.62", "2", "0.30", "rest", "0.08")}},
		{"every field is added in order",
			"characters:\n  ventrites:\n    states: {6: always}\n# end\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    source: guide\n    place: \"page 7\"\n    basis: read\n    note: \"Six: \\\"never\\\" #5\"\n# end\n",
			[]CellEdit{six.cited("guide", "page 7", BasisRead).noted(` Six: "never" #5 `)}},
		{"every field is taken out",
			"characters:\n  ventrites:\n    states: {6: always}\n    source: guide # why\n    place: page 7\n    # how\n    basis: read\n    note: Six.\n  vesicles:\n    states: {absent: always}\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    # why\n    # how\n  vesicles:\n    states: {absent: always}\n", []CellEdit{six}},
		{"a citation that stays is not rewritten",
			"characters:\n  ventrites:\n    states: {5: always}\n    source: 'handbook'\n    place: page 7 # here\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    source: 'handbook'\n    place: page 7 # here\n", []CellEdit{six.cited("", "page 7", "")}},
		{"the family's own words in another work",
			"characters:\n  ventrites:\n    states: {6: always}\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    source: guide\n    place: \"chapter Elateridae\"\n",
			[]CellEdit{six.cited("guide", "chapter Elateridae", BasisMemory)}},
		{"the family's own place, now read",
			"characters:\n  ventrites:\n    states: {6: always}\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    place: \"chapter Elateridae\"\n    basis: read\n",
			[]CellEdit{six.cited("handbook", "chapter Elateridae", BasisRead)}},
		{"fields in another order",
			"characters:\n  ventrites:\n    note: Five.\n    place: page 7\n    states: {5: always}\n",
			"characters:\n  ventrites:\n    note: \"Six.\"\n    place: \"page 8\"\n    states: {6: always}\n", []CellEdit{six.cited("", "page 8", "").noted("Six.")}},
		{"comments in and after a cell over several lines",
			"characters:\n  ventrites: # plates\n    # counted\n    states: {5: always, # one\n      # two\n      6: rarely} # three\n    # four\n\n  # five\n  vesicles:\n    states: {absent: always}\n",
			"characters:\n  ventrites: # plates\n    # counted\n      # two\n    # three\n    # one\n    states: {6: always}\n    # four\n\n  # five\n  vesicles:\n    states: {absent: always}\n", []CellEdit{six}},
		{"texts that look like comments",
			"characters:\n  ventrites:\n    note: \"one \\\" \\\n      # two\n\n      # three\"\n    # four\n    states: {6: always}\n  vesicles:\n    note: 'it''s\n      # one'\n    # two\n    states: {absent: always}\n",
			"characters:\n  ventrites:\n    note: \"new\"\n    # four\n    states: {6: always}\n  vesicles:\n    note: \"new\"\n    # two\n    states: {absent: always}\n",
			[]CellEdit{six.noted("new"), elaterid("", "vesicles", "absent", "always").noted("new")}},
		{"texts in blocks",
			"characters:\n  ventrites:\n    note: |\n      one\n\n      # two\n     # three\n    states: {6: always}\n  vesicles:\n    states: {absent: always}\n    note: >2-\n        one\n      # two\n\n# three\n",
			"characters:\n  ventrites:\n    note: \"new\"\n     # three\n    states: {6: always}\n  vesicles:\n    states: {absent: always}\n    note: \"new\"\n\n# three\n",
			[]CellEdit{six.noted("new"), elaterid("", "vesicles", "absent", "always").noted("new")}},
		{"a cell in braces is written a field a line",
			"characters:\n  ventrites: {states: {5: always}, # a\n    # b\n    note: Old.} # c\n  vesicles: {states: {absent: always}}\n",
			"characters:\n    # b\n  # c\n  # a\n  ventrites:\n    states: {6: always}\n    note: \"Old.\"\n  vesicles: {states: {absent: always}}\n", []CellEdit{six.noted("Old.")}},
		{"block states",
			"characters:\n  ventrites:\n    states:\n      5: always # plain\n      # odd\n      6: rarely\n",
			"characters:\n  ventrites:\n      # odd\n    # plain\n    states: {6: always}\n", []CellEdit{six}},
		{"Windows lines",
			"characters:\r\n  ventrites:\r\n    states: {5: always}\r\n",
			"characters:\r\n  ventrites:\r\n    states: {6: always}\n    note: \"Six.\"\n", []CellEdit{six.noted("Six.")}},
		{"no line break at the end",
			"characters:\n  ventrites:\n    states: {6: always}",
			"characters:\n  ventrites:\n    states: {6: always}\n    note: \"Six.\"\n", []CellEdit{six.noted("Six.")}},
		{"the end of the document is marked",
			"characters:\n  ventrites:\n    states: {6: always}\n# end\n...\n",
			"characters:\n  ventrites:\n    states: {6: always}\n    note: \"Six.\"\n# end\n...\n", []CellEdit{six.noted("Six.")}},
		{"separators of lines that are not seen",
			"# one\u2028# two\u0085characters:\n  ventrites:\n    states: {5: always}\n",
			"# one\u2028# two\u0085characters:\n  ventrites:\n    states: {6: always}\n", []CellEdit{six}},
		{"letters of more than a byte",
			"characters: {} # Käfer\n",
			"characters: # Käfer\n  ventrites:\n    states: {6: always}\n", []CellEdit{six}},
		{"a missing cell, before the comments of what follows",
			"characters:\n   vesicles:\n     states: {absent: always}\n     note: Plain\n       words.\n\n# forms\nforms:\n  - {id: all, label: all, weight: 1}\n",
			"characters:\n   vesicles:\n     states: {absent: always}\n     note: Plain\n       words.\n   ventrites:\n     states: {6: always}\n     note: \"Six.\"\n\n# forms\nforms:\n  - {id: all, label: all, weight: 1}\n",
			[]CellEdit{six.noted("Six.")}},
		{"a missing cell of a form, and a form without cells",
			"forms:\n  - id: a\n    label: a\n    weight: 0.5 # half\n\n  # b\n  - id: b\n    label: b\n    weight: 0.5\n    characters:\n      vesicles:\n        states: {absent: always}\n# end\ncharacters:\n  vesicles:\n    states: {present: always}\n",
			"forms:\n  - id: a\n    label: a\n    weight: 0.5 # half\n    characters:\n      ventrites:\n        states: {6: always}\n\n  # b\n  - id: b\n    label: b\n    weight: 0.5\n    characters:\n      vesicles:\n        states: {absent: always}\n      ventrites:\n        states: {7: always}\n# end\ncharacters:\n  vesicles:\n    states: {present: always}\n",
			[]CellEdit{elaterid("a", "ventrites", "6", "always"), elaterid("b", "ventrites", "7", "always")}},
		{"keys with a question mark",
			"characters:\n  ? vesicles\n  : states: {absent: always}\n",
			"characters:\n  ? vesicles\n  : states: {absent: always}\n  ventrites:\n    states: {6: always}\n", []CellEdit{six}},
		{"one edit builds on another",
			"characters:\n  ventrites:\n    states: {5: always}\n",
			"characters:\n  ventrites:\n    states: {7: always}\n  vesicles:\n    states: {absent: always}\n",
			[]CellEdit{six, elaterid("", "vesicles", "absent", "always"), elaterid("", "ventrites", "7", "always")}},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := validFiles(t)
			files[elaterids] = &fstest.MapFile{Data: []byte(head + c.before)}
			_, problems := Load(files)
			requireNone(t, problems)

			got, err := editFamily(t, files, "", c.edits...)
			require.NoError(t, err)
			require.Equal(t, head+c.after, got)
			again, err := editFamily(t, files, got, c.edits...)
			require.NoError(t, err)
			if len(c.edits) < 3 {
				require.Equal(t, got, again, "writing what stands there changes nothing")
			}
			files[elaterids] = &fstest.MapFile{Data: []byte(got)}
			_, problems = Load(files)
			requireNone(t, problems)
		})
	}
}

func TestEditedUsesTheLineBreakOfTheFile(t *testing.T) {
	text := strings.ReplaceAll(head+"characters:\n  ventrites:\n    states: {5: always}\n", "\n", "\r\n")
	got, err := editFamily(t, validFiles(t), text, elaterid("", "ventrites", "6", "always").noted("Six."))
	require.NoError(t, err)
	require.Equal(t, strings.Replace(text, "{5: always}\r\n", "{6: always}\r\n    note: \"Six.\"\r\n", 1), got)
}

func TestEditedRefusesWhatTheTextDoesNotAllow(t *testing.T) {
	six := elaterid("", "ventrites", "6", "always")
	odd := elaterids + " is written in a way that cannot be edited here; write this cell and those around it one field a line"
	for _, c := range []struct {
		name, text string
		edit       CellEdit
		problem    string
	}{
		{"unknown family", "", CellEdit{Family: "Elaterida", Character: "ventrites"}, "Elaterida, ventrites: unknown family (did you mean Elateridae?)"},
		{"a family that is a path", "", CellEdit{Family: "../group", Character: "ventrites"}, "../group, ventrites: unknown family"},
		{"unknown form", "", elaterid("cebrionin", "ventrites", "6", "always"), "Elateridae, form cebrionin, ventrites: unknown form (did you mean cebrionine?); the family has typical, cebrionine"},
		{"no forms", head + "characters: {}\n", elaterid("all", "ventrites", "6", "always"), "Elateridae, form all, ventrites: the family has no forms of its own; leave the form empty"},
		{"unknown character", "", elaterid("", "ventrite", "6", "always"), "Elateridae, ventrite: unknown character (did you mean ventrites?)"},
		{"no states", "", elaterid("", "ventrites"), "Elateridae, ventrites: has states: give them with how often they occur, and no length"},
		{"states for a length", "", elaterid("", "length", "6", "always"), "Elateridae, length: is a length: give min, usual and max, and no states"},
		{"a length for states", "", CellEdit{Family: "Elateridae", Character: "ventrites", Length: &Length{}}, "Elateridae, ventrites: has states: give them with how often they occur, and no length"},
		{"no UTF-8", "", six.noted("a\xff"), "Elateridae, ventrites: a text is no valid UTF-8"},
		{"characters in braces", head + "characters: {ventrites: {states: {5: always}}}\n", six,
			"Elateridae, ventrites: families/Elateridae.yaml:9 is written in braces; write it one field a line, then it can be edited here"},
		{"a form in braces", head + "characters: {}\nforms:\n  - {id: a, label: a, weight: 1}\n", elaterid("a", "ventrites", "6", "always"),
			"Elateridae, form a, ventrites: families/Elateridae.yaml:11 is written in braces; write it one field a line, then it can be edited here"},
		{"empty braces over two lines", head + "characters: {\n  }\n", six,
			"Elateridae, ventrites: families/Elateridae.yaml:9: the empty characters are written over several lines; write them as {}"},
		{"a field over two lines", head + "characters:\n  ? ventrites\n  : states: {5: always}\n", six, "Elateridae, ventrites: " + odd},
		{"no characters", head, six, "Elateridae, ventrites: families/Elateridae.yaml has no characters; mend it first"},
		{"characters that are none", head + "characters: [a]\n", six, "Elateridae, ventrites: families/Elateridae.yaml:9: characters must be a mapping; mend it first"},
		{"a cell that is none", head + "characters:\n  ventrites: five\n", six, "Elateridae, ventrites: families/Elateridae.yaml:10: the cell must be a mapping; mend it first"},
		{"broken YAML", head + "characters: {\n", six, "Elateridae, ventrites: families/Elateridae.yaml:10: this is not valid YAML: did not find expected node content; check indentation, colons and quotes here and just above"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := editFamily(t, validFiles(t), c.text, c.edit)
			require.EqualError(t, err, c.problem)
		})
	}
	broken := validFiles(t)
	broken[charactersFile].Data = []byte("characters: [")
	_, err := Edited(broken, nil)
	require.ErrorContains(t, err, "the tables cannot be edited before this is mended: characters.yaml")
}

// Edits that give unsound tables are for Load to refuse: the text they write must be read as what was asked.
func TestEditedLeavesSoundnessToLoad(t *testing.T) {
	for _, c := range []struct {
		edit    CellEdit
		problem string
	}{
		{elaterid("", "ventrites", "6", "alwyas"), "unknown frequency"},
		{elaterid("", "ventrites", "", "always"), `"" must be a whole number`},
		{elaterid("", "antenna-form", "a: b}, #", "always"), "unknown state"},
		{elaterid("", "ventrites", "6", "always").cited("nobody", "page 1", ""), "unknown source"},
		{elaterid("", "ventrites", "6", "always").cited("guide", "", "").noted("x"), ""},
	} {
		folder, err := Edited(validFiles(t), []CellEdit{c.edit})
		require.NoError(t, err)
		_, problems := Load(folder)
		if c.problem == "" {
			requireNone(t, problems)
			continue
		}
		require.Len(t, problems, 1)
		require.Contains(t, problems[0].Message, c.problem)
	}
}

func TestWrittenIsTheCellAsItStands(t *testing.T) {
	files := validFiles(t)
	edit, ok, err := Written(files, "Elateridae", "", "club-segments")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, elaterid("", "club-segments", "0", "0.9", "1-2", "0.08", "rest", "0.02").cited("handbook", "chapter Elateridae", BasisMemory), edit)

	edit, ok, err = Written(files, "Elateridae", "", "length")
	require.NoError(t, err)
	require.True(t, ok)
	require.Equal(t, &Length{Min: 1.5, Usual: [2]float64{5, 25}, Max: 75}, edit.Length)

	for _, form := range []string{"typical", "cebrionine"} {
		_, ok, err = Written(files, "Elateridae", form, "antenna-form")
		require.NoError(t, err)
		require.False(t, ok, "the form does not override it")
	}
	_, _, err = Written(files, "Elateridae", "none", "antenna-form")
	require.EqualError(t, err, "Elateridae, form none, antenna-form: unknown form; the family has typical, cebrionine")
}

func TestReleasedChangesVersionAndNotes(t *testing.T) {
	const text = "# A group.\ngroup: small-test-group\nrelease: \"1\" # first\n# more\ncautions: [a]\n"
	for _, c := range []struct{ name, before, version, notes, after string }{
		{"version", text, "2026.2", "", strings.Replace(text, `"1"`, `"2026.2"`, 1)},
		{"notes are added", text, " 2 ", "Two: \"cells\".\nMended.",
			strings.Replace(text, "\"1\" # first\n", "\"2\" # first\nnotes: \"Two: \\\"cells\\\".\\nMended.\"\n", 1)},
		{"notes are replaced", text + "notes: Old\n  words.\n\n# end\n", "1", "New.", text + "notes: \"New.\"\n\n# end\n"},
		{"notes are taken out", text + "notes: Old. # why\n", "1", "", text + "# why\n"},
		{"nothing changes", text + "notes: Old.\n", "1", "Old.", text + "notes: Old.\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := validFiles(t)
			files[groupFile].Data = []byte(c.before)
			folder, err := Released(files, c.version, c.notes)
			require.NoError(t, err)
			got, err := Contents(folder)
			require.NoError(t, err)
			require.Equal(t, c.after, got[groupFile])
			files[groupFile].Data = []byte(c.after)
			want, err := Contents(files)
			require.NoError(t, err)
			require.Equal(t, want, got, "all other files stay")
		})
	}
}

func TestReleasedOfShippedTablesLoads(t *testing.T) {
	for _, name := range Folders() {
		before, problems := Load(Files(name))
		requireNone(t, problems)
		folder, err := Released(Files(name), "9999.1", "For a test.")
		require.NoError(t, err)
		after, problems := Load(folder)
		requireNone(t, problems)
		require.Equal(t, "9999.1", after.Group.Release)
		require.Equal(t, "For a test.", after.Group.Notes)
		require.NotEqual(t, before.Hash, after.Hash)
		after.Group.Release, after.Group.Notes = before.Group.Release, before.Group.Notes
		require.Equal(t, before.Group, after.Group)
	}
}

func TestReleasedRefuses(t *testing.T) {
	_, err := Released(validFiles(t), " ", "")
	require.EqualError(t, err, "a release needs a version, such as 2026.2")
	_, err = Released(validFiles(t), "2", "\xff")
	require.EqualError(t, err, "the version or the notes are no valid UTF-8 text")
	_, err = Released(fstest.MapFS{}, "2", "")
	require.EqualError(t, err, "group.yaml is missing; FORMAT.md says what it holds")
	for _, text := range []string{"{group: g, release: '1'}", "{}"} {
		_, err = Released(fstest.MapFS{groupFile: {Data: []byte(text)}}, "2", "")
		require.EqualError(t, err, "group.yaml is written in a way that cannot be edited here; write it one field a line")
	}
}

// Edits are stored in events: the names must stay.
func TestCellEditKeepsItsJSON(t *testing.T) {
	edit := elaterid("a", "ventrites", "7-9", "usually").cited("guide", "page 7", BasisRead).noted("Six.")
	text, err := json.Marshal(edit)
	require.NoError(t, err)
	var fields map[string]any
	require.NoError(t, json.Unmarshal(text, &fields))
	require.Equal(t, "Elateridae", fields["family"])
	require.Equal(t, "a", fields["form"])
	require.Equal(t, "ventrites", fields["character"])
	require.Equal(t, []any{map[string]any{"state": "7-9", "word": "usually"}}, fields["states"])
	require.Equal(t, "Six.", fields["note"])
	require.Contains(t, fields, "citation")
	require.NotContains(t, fields, "length")

	for _, want := range []CellEdit{edit, {Family: "F", Character: "length", Length: &Length{Min: 1, Usual: [2]float64{2, 3}, Max: 4}}} {
		text, err := json.Marshal(want)
		require.NoError(t, err)
		var back CellEdit
		require.NoError(t, json.Unmarshal(text, &back))
		require.Equal(t, want, back)
	}
}
