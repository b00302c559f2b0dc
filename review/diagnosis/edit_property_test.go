package diagnosis

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// Whatever text Load accepts for a note or a place comes back, and no other cell changes.
func TestTextsRoundTrip(t *testing.T) {
	texts := rapid.OneOf(rapid.String(), rapid.StringMatching(`[ "'#:{}\[\],&*!|>%@\\\n\t\r~?-]{1,12}`),
		rapid.StringOf(rapid.SampledFrom([]rune("a \x00\x1b\x7f\u0085\u00a0\u00ad\u2028\u2029\ufeff\ufffd\ufffeé\U0001f41e\U0010ffff"))))
	rapid.Check(t, func(r *rapid.T) {
		note, place := texts.Draw(r, "note"), texts.Draw(r, "place")
		at := rapid.SampledFrom([]CellEdit{
			elaterid("", "antenna-form", "serrate", "usually", "rest", "rarely"), elaterid("", "vesicles", "absent", "always"),
			elaterid("cebrionine", "ventrites", "6", "always"), elaterid("typical", "ventrites", "5", "always"),
			{Family: "Buprestidae", Character: "length", Length: &Length{Min: 3, Usual: [2]float64{4, 40}, Max: 90}},
		}).Draw(r, "cell").noted(note).cited("guide", place, BasisRead)
		folder, err := Edited(validFiles(t), []CellEdit{at})
		require.NoError(r, err)
		got, ok, err := Written(folder, at.Family, at.Form, at.Character)
		require.NoError(r, err)
		require.True(r, ok)
		family := Citation{"handbook", "chapter " + at.Family, BasisMemory}
		want := at.normal()
		want.Citation = want.Citation.or(family)
		require.Equal(r, want, got)
		if strings.TrimSpace(place) == "" {
			return // then the family's own place stands for it, and Load has nothing of this text
		}

		before, problems := Load(validFiles(t))
		requireNone(t, problems)
		after, problems := Load(folder)
		requireNone(t, problems)
		f, _ := after.Family(at.Family)
		cell := f.Cells[at.Character]
		for _, form := range f.Forms {
			if form.ID == at.Form {
				cell = form.Cells[at.Character]
			}
		}
		require.Equal(r, strings.TrimSpace(note), cell.Note)
		require.Equal(r, strings.TrimSpace(place), cell.Citation.Place)
		requireOthersSame(r, before, after, at)
	})
}

// requireOthersSame checks every cell but one, the forms' own too.
func requireOthersSame(t require.TestingT, before, after *Tables, edit CellEdit) {
	cells := func(tables *Tables) map[string]Cell {
		all := map[string]Cell{}
		add := func(family, form, id string, c *Cell) {
			if family == edit.Family && form == edit.Form && id == edit.Character {
				return
			}
			copied := *c
			copied.Line = 0
			all[family+"/"+form+"/"+id] = copied
		}
		for _, f := range tables.Families {
			for id, c := range f.Cells {
				add(f.Name, "", id, c)
			}
			for _, form := range f.Forms {
				for _, id := range form.Own {
					add(f.Name, form.ID, id, form.Cells[id])
				}
			}
		}
		return all
	}
	require.Equal(t, cells(before), cells(after))
}

// Whatever the text of a family: an edit is an error, or it stands and no other cell has changed.
func TestEditedOfAnyTextIsRightOrAnError(t *testing.T) {
	seeds := []string{string(validFiles(t)[elaterids].Data),
		head + "characters:\n  ventrites: {states: {5: always}, note: 'a\n\n  # b'}\n  vesicles: # c\n    note: |\n      # d\n    states: {absent: always}\n...\n",
		head + "characters: {}\nforms:\n  - id: typical\n    label: a\n    weight: 1\n# end"}
	scraps := rapid.SampledFrom([]string{" ", "\n", "\r", "\n  ", "\n    ", "#", " # x", "'", "\"", "\\", "{", "}", "[", "]", ":", ": ", ",", "|", ">-", "? ", "- ",
		"...\n", "---\n", "\u2028", "é", "&a ", "!!str ", "note: ", "characters:", "ventrites:", "\t", ""})
	stood, odd := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		text := []rune(rapid.SampledFrom(seeds).Draw(r, "seed"))
		for range rapid.IntRange(0, 3).Draw(r, "changes") {
			from := rapid.IntRange(0, len(text)).Draw(r, "from")
			to := min(len(text), from+rapid.SampledFrom([]int{0, 0, 1, 2, 9}).Draw(r, "length"))
			text = slices.Concat(text[:from], []rune(scraps.Draw(r, "scrap")), text[to:])
		}
		files := validFiles(t)
		files[elaterids].Data = []byte(string(text))
		edit := elaterid(rapid.SampledFrom([]string{"", "", "typical", "cebrionine"}).Draw(r, "form"),
			rapid.SampledFrom([]string{"ventrites", "vesicles"}).Draw(r, "character"), "6", "always").noted(rapid.SampledFrom([]string{"", "Six."}).Draw(r, "note"))
		folder, err := Edited(files, []CellEdit{edit})
		if err != nil {
			odd++
			return
		}
		stood++
		got, ok, err := Written(folder, edit.Family, edit.Form, edit.Character)
		require.NoError(r, err)
		require.True(r, ok)
		require.Equal(r, edit.States, got.States)
		require.Equal(r, edit.Note, got.Note)
		before, problems := Load(files)
		after, afterProblems := Load(folder)
		if len(problems) == 0 && len(afterProblems) == 0 {
			requireOthersSame(r, before, after, edit)
		}
	})
	require.Positive(t, stood)
	require.Positive(t, odd)
}
