package diagnosis

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func loadValid(t testing.TB) *Tables {
	t.Helper()
	tables, problems := Load(validFiles(t))
	require.Empty(t, problems)
	return tables
}

func TestLoadReadsGroupCharactersAndRules(t *testing.T) {
	tables := loadValid(t)

	require.Equal(t, Group{ID: "small-test-group", Title: "Two families for tests", Taxon: "Coleoptera", Rank: "family",
		Release: "1", BetterFitDecibans: 10, Cautions: []string{"For tests only."},
		Views: []View{{"antenna", "Antenna", "antenna", "lateral"}, {"below", "From below", "entireOrganism", "ventral"}}}, tables.Group)
	elbowed, ok := tables.Character("antenna-elbowed")
	require.True(t, ok)
	require.Equal(t, []State{{ID: "yes", Label: "elbowed"}, {ID: "no", Label: "straight"}}, elbowed.States, "yes and no are words here")
	require.True(t, elbowed.NeverExcludes)
	ventrites, _ := tables.Character("ventrites")
	require.Equal(t, []string{"2", "3", "4", "5", "6", "7", "8", "9"}, ventrites.stateIDs())
	vesicles, _ := tables.Character("vesicles")
	require.Equal(t, []string{"absent"}, vesicles.OnlyLive)
	length, _ := tables.Character("length")
	require.Equal(t, [2]float64{0.2, 200}, [2]float64{length.Min, length.Max})
	require.Empty(t, length.States)
	require.Equal(t, []Confused{{States: [2]string{"filiform", "serrate"}, Weight: 4}}, tables.Characters[0].Confused)
	require.Equal(t, []Dependent{{"club", []string{"antenna-form", "club-segments"}, 0.6, "one says the other"}}, tables.Dependent)
	require.Equal(t, Selection{"club-segments", []string{"1", "2", "3"}}, tables.Incompatible[0].Second, "ranges are written out")
	require.Equal(t, []AtMost{{"club-among-plates", "club-segments", "ventrites", "a made-up rule"}}, tables.AtMost)
}

func TestLoadReadsFamilies(t *testing.T) {
	tables := loadValid(t)

	require.Equal(t, []string{"Buprestidae", "Elateridae"}, []string{tables.Families[0].Name, tables.Families[1].Name})
	f, remark, ok := tables.Resolve("Drilidae")
	require.True(t, ok)
	require.Equal(t, "Elateridae", f.Name)
	require.Equal(t, "Included today.", remark)
	require.Equal(t, 10000, f.Species)

	typical, cebrionine := f.Forms[0], f.Forms[1]
	require.Same(t, f.Cells["ventrites"], typical.Cells["ventrites"])
	require.Same(t, f.Cells["length"], cebrionine.Cells["length"])
	require.NotSame(t, f.Cells["ventrites"], cebrionine.Cells["ventrites"])
	require.Equal(t, []string{"ventrites"}, cebrionine.Own)
	require.Equal(t, "male", cebrionine.Sex)
	require.Equal(t, Citation{"guide", "page 7", BasisRead}, f.Cells["antenna-form"].Citation)
	require.Equal(t, Citation{"handbook", "chapter Elateridae", BasisMemory}, cebrionine.Cells["ventrites"].Citation)
	require.Equal(t, Length{Min: 1.5, Max: 75, Usual: [2]float64{5, 25}}, f.Cells["length"].Length)
	require.Nil(t, f.Cells["length"].P)
	require.Equal(t, "families/Elateridae.yaml", f.Cells["length"].File)
	require.Equal(t, 28, f.Cells["length"].Line)

	plain, _ := tables.Family("Buprestidae")
	require.Len(t, plain.Forms, 1)
	require.Equal(t, 1.0, plain.Forms[0].Weight)

	// Share: six plates in the tenth that is cebrionine, and in the rest half of "rarely" (2/102), by FORMAT.md.
	ventrites, _ := tables.Character("ventrites")
	share, known := f.Share("ventrites", ventrites.State("6"))
	require.True(t, known)
	require.InDelta(t, 0.1+0.9*1/102, share, 1e-12)
}

// The expected values are worked out by hand from the weights in FORMAT.md.
func TestFrequenciesAreCompiledAsTheFormatSays(t *testing.T) {
	// The character has the states 0 to 3.
	for _, c := range []struct {
		name, states string
		p            []float64
		words        []string
	}{
		{"always alone", "{2: always}", []float64{0, 0, 1, 0}, []string{"never", "never", "always", "never"}},
		{"always and rarely", "{2: always, 3: rarely}", []float64{0, 0, 100. / 102, 2. / 102}, []string{"never", "never", "always", "rarely"}},
		{"always with rest", "{0: always, rest: rarely}", []float64{100. / 102, 2. / 306, 2. / 306, 2. / 306}, []string{"always", "rarely", "rarely", "rarely"}},
		{"every word", "{0: usually, 1: often, 2: sometimes, 3: rarely}", []float64{75. / 129, 40. / 129, 12. / 129, 2. / 129}, []string{"usually", "often", "sometimes", "rarely"}},
		{"rest is shared", "{0: usually, 1: never, rest: sometimes}", []float64{75. / 87, 0, 6. / 87, 6. / 87}, []string{"usually", "never", "sometimes", "sometimes"}},
		{"a range shares its word", "{0-1: usually, 3: sometimes, rest: never}", []float64{37.5 / 87, 37.5 / 87, 0, 12. / 87}, []string{"usually", "usually", "never", "sometimes"}},
		{"an always range", "{1-2: always}", []float64{0, .5, .5, 0}, []string{"never", "always", "always", "never"}},
		{"only rest", "{rest: rarely}", []float64{.25, .25, .25, .25}, []string{"rarely", "rarely", "rarely", "rarely"}},
		{"numbers", "{0: 0.5, 1-2: 0.3, rest: 0.2}", []float64{.5, .15, .15, .2}, []string{"0.5", "0.3", "0.3", "0.2"}},
		{"numbers with a whole one", "{0: 1, rest: 0}", []float64{1, 0, 0, 0}, []string{"1", "0", "0", "0"}},
		{"numbers rounded to thirds", "{0: 0.333333, 1: 0.333333, 2: 0.333333, 3: 0}", []float64{1. / 3, 1. / 3, 1. / 3, 0}, []string{"0.333333", "0.333333", "0.333333", "0"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			files := validFiles(t)
			old := "{0: 0.9, 1-2: 0.08, rest: 0.02}"
			content := string(files["families/Elateridae.yaml"].Data)
			require.Contains(t, content, old)
			files["families/Elateridae.yaml"].Data = []byte(strings.Replace(content, old, c.states, 1))

			tables, problems := Load(files)
			require.Empty(t, problems)
			f, _ := tables.Family("Elateridae")
			require.InDeltaSlice(t, c.p, f.Cells["club-segments"].P, 1e-12)
			require.Equal(t, c.words, f.Cells["club-segments"].Words)
		})
	}
}

func TestLoadReportsEveryProblemInOrder(t *testing.T) {
	files := validFiles(t)
	replace := func(file, old, with string) {
		content := string(files[file].Data)
		require.Contains(t, content, old)
		files[file].Data = []byte(strings.Replace(content, old, with, 1))
	}
	replace("families/Elateridae.yaml", "serrate: usually", "serate: usually")
	replace("families/Elateridae.yaml", "sex: male", "sex: m")
	replace("families/Buprestidae.yaml", "8: usually", "12: usually")
	replace("group.yaml", "rank: family\n", "")

	tables, problems := Load(files)
	require.Nil(t, tables)
	var got []string
	for _, p := range problems {
		got = append(got, p.String())
	}
	require.Equal(t, []string{
		`families/Buprestidae.yaml:12: ventrites: "12" is outside 2 to 9, which characters.yaml allows`,
		`families/Elateridae.yaml:15: antenna-form: unknown state "serate" (did you mean serrate?); known are filiform, serrate, clavate`,
		`families/Elateridae.yaml:37: form cebrionine: unknown sex "m"; use male or female, or leave it out`,
		`group.yaml:2: the field "rank" is missing`,
	}, got)
}

// A slip in characters.yaml must not bring a problem for every cell of every family.
func TestBrokenCharactersDoNotFloodTheList(t *testing.T) {
	files := validFiles(t)
	files["characters.yaml"].Data = []byte("characters: [")

	_, problems := Load(files)
	require.Len(t, problems, 1)
	require.Equal(t, "characters.yaml", problems[0].File)
}

func TestAnEmptyFolderNamesWhatIsMissing(t *testing.T) {
	tables, problems := Load(fstest.MapFS{})
	require.Nil(t, tables)
	var files []string
	for _, p := range problems {
		files = append(files, p.File)
	}
	require.Equal(t, []string{"characters.yaml", "families", "group.yaml", "sources.yaml"}, files)
}

func TestHashIsOverNamesAndContents(t *testing.T) {
	// Computed by hand outside this program: SHA-256 over 8-byte big-endian lengths, names and contents in order.
	const want = "f8ebfc673737b688c215ed8adf81d5786d8f6933d22797df15e7ce6dab6a606c"
	files := validFiles(t)
	hash := func() string {
		tables, problems := Load(files)
		require.Empty(t, problems)
		return tables.Hash
	}
	require.Equal(t, want, hash())

	files["README.md"] = &fstest.MapFile{Data: []byte("not part of the tables")}
	files[".swp.yaml"] = &fstest.MapFile{Data: []byte("[")}
	require.Equal(t, want, hash(), "only files that are read count")

	files["sources.yaml"].Data = append(files["sources.yaml"].Data, '\n')
	require.NotEqual(t, want, hash())
}

func TestHashKeepsFilesApart(t *testing.T) {
	require.NotEqual(t,
		contentHash(map[string][]byte{"a": []byte("bc"), "d": []byte("e")}),
		contentHash(map[string][]byte{"a": []byte("b"), "cd": []byte("e")}))
}

// Levenshtein distances of the literature's usual examples.
func TestEditDistance(t *testing.T) {
	require.Equal(t, 3, editDistance("kitten", "sitting"))
	require.Equal(t, 3, editDistance("saturday", "sunday"))
	require.Equal(t, 0, editDistance("käfer", "käfer"))
	require.Equal(t, 5, editDistance("", "käfer"))
	rapid.Check(t, func(t *rapid.T) {
		a, b := rapid.StringN(0, 8, -1).Draw(t, "a"), rapid.StringN(0, 8, -1).Draw(t, "b")
		require.Equal(t, editDistance(a, b), editDistance(b, a))
		require.Equal(t, a == b, editDistance(a, b) == 0)
	})
}

// FuzzLoad puts arbitrary content in place of one of the files.
func FuzzLoad(f *testing.F) {
	names := []string{"group.yaml", "characters.yaml", "sources.yaml", "families/Buprestidae.yaml", "families/Elateridae.yaml", "families/New.yaml"}
	valid := validFiles(f)
	for i, name := range names[:5] {
		f.Add(uint8(i), valid[name].Data)
	}
	f.Add(uint8(4), []byte("&a [*a]"))
	f.Add(uint8(1), []byte("characters:\n  - {id: a, kind: count, min: -1e308, max: 1e308}"))
	f.Add(uint8(5), []byte("family: New\ncharacters: {ventrites: {states: {rest: 1}}}\nforms: [{weight: .nan}]"))
	f.Fuzz(func(t *testing.T, file uint8, content []byte) {
		files := validFiles(t)
		files[names[int(file)%len(names)]] = &fstest.MapFile{Data: content}
		tables, problems := Load(files)
		require.Equal(t, tables == nil, len(problems) > 0)
		if tables != nil {
			tables.Lint()
			tables.Notes()
		}
	})
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		tables, problems := Embedded()
		if len(problems) > 0 {
			b.Fatal(problems[0])
		}
		tables.Lint()
	}
}
