package diagnosis

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

const (
	goodParts = `plates:
  - {id: above, title: From above, view: antenna}
  - {id: under, title: From below, view: below}
parts:
  - id: antenna
    name: feeler
    term: antenna
    definition: A jointed feeler of the head.
    places:
      - {plate: above, at: [10, 20], side: left}
  - id: club
    name: club of the feeler
    term: clava
    definition: Its last, wider segments.
    within: antenna
    places: [{plate: above}, {plate: under, at: [5, 5], side: right}]
    source: guide
    place: page 3
`
	goodAbove = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 60"><title>t</title><desc>d</desc><g class="antenna"><path d="M0 0h4"/><g class="club"><path d="M4 0h4"/></g></g></svg>`
	goodUnder = `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 60"><title>t</title><desc>d</desc><g class="club"><path d="M4 0h4"/></g></svg>`
	goodTerms = `terms:
  - id: serrate
    term: serrate
    name: saw-like
    definition: With teeth like a saw.
    states: {antenna-form: [serrate]}
    parts: [antenna]
    see: [club]
  - id: straight
    term: straight
    definition: Not bent.
    states: {antenna-elbowed: [no]}
    see: [serrate]
`
)

// partFiles is testdata/valid with parts, plates and a glossary; every character is of the antenna.
func partFiles(t testing.TB) fstest.MapFS {
	files := validFiles(t)
	characters := string(files[charactersFile].Data)
	files[charactersFile] = &fstest.MapFile{Data: []byte(strings.ReplaceAll(characters, "    how:", "    parts: [antenna]\n    how:"))}
	for name, text := range map[string]string{partsFile: goodParts, "plates/above.svg": goodAbove, "plates/under.svg": goodUnder, glossaryFile: goodTerms} {
		files[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return files
}

func TestPartsAndGlossary(t *testing.T) {
	tables, problems := Load(partFiles(t))
	require.Empty(t, problems)
	require.Empty(t, tables.Lint())

	club, ok := tables.Part("club")
	require.True(t, ok)
	require.Equal(t, "antenna", club.Within)
	require.Equal(t, []string{"guide", "page 3"}, []string{club.Source, club.SourcePlace})
	place, ok := club.On("under")
	require.True(t, ok)
	require.Equal(t, Place{Plate: "under", Labelled: true, X: 5, Y: 5, Side: SideRight}, place)
	unlabelled, _ := club.On("above")
	require.False(t, unlabelled.Labelled)
	above, ok := tables.Plate("above")
	require.True(t, ok)
	require.Equal(t, [4]float64{0, 0, 40, 60}, above.Box)
	require.Equal(t, goodAbove, above.SVG())
	require.Len(t, tables.AskedOf("antenna"), len(tables.Characters))
	require.Empty(t, tables.AskedOf("club"))

	terms := tables.TermsOf("antenna-form", "serrate")
	require.Len(t, terms, 1)
	require.Equal(t, "saw-like", terms[0].Name)
	require.Empty(t, tables.TermsOf("antenna-form", "filiform"))
	require.Len(t, tables.TermsOf("antenna-elbowed", ""), 1)
}

// What is optional leaves the hash of older releases as it was, and what is there is in the hash and in the contents that a
// release is stored with.
func TestPartsAreInTheHashWhereTheyAre(t *testing.T) {
	without, problems := Load(validFiles(t))
	require.Empty(t, problems)
	require.Empty(t, without.Parts)
	require.Empty(t, without.Lint())
	require.Nil(t, without.PlateOf(&without.Characters[0]))

	with, problems := Load(partFiles(t))
	require.Empty(t, problems)
	stored, err := Contents(partFiles(t))
	require.NoError(t, err)
	again, problems := Load(FromContents(stored))
	require.Empty(t, problems)
	require.Equal(t, with.Hash, again.Hash)
	for _, name := range []string{partsFile, glossaryFile, "plates/above.svg"} {
		require.Contains(t, stored, name)
		files := partFiles(t)
		files[name] = &fstest.MapFile{Data: append([]byte(strings.Replace(stored[name], "definition: A", "definition: The", 1)), '\n')}
		other, problems := Load(files)
		require.Empty(t, problems)
		require.NotEqual(t, with.Hash, other.Hash, name)
	}
}

func TestEachBadPartDrawsItsOneProblem(t *testing.T) {
	for _, c := range []badCase{
		{File: partsFile, Replace: "    term: clava\n", With: "", Problem: `parts.yaml:11: club: the field "term" is missing`},
		{File: partsFile, Replace: "    term: clava\n", With: "    term: clava\n    colour: red\n",
			Problem: `parts.yaml:14: club: unknown field "colour"; known are id, name, term, definition, within, places, source, place`},
		{File: partsFile, Replace: "id: club", With: "id: antenna", Problem: `parts.yaml:11: antenna: the part is given twice; keep one`},
		{File: partsFile, Replace: "parts:\n", With: "  - {id: above, title: Again, view: antenna}\nparts:\n", Problem: `parts.yaml:4: plate above: the plate is given twice; keep one`},
		{File: partsFile, Replace: "view: below", With: "view: belly", Problem: `parts.yaml:3: plate under: unknown view "belly" (did you mean below?); views are defined in group.yaml`},
		{File: partsFile, Replace: "within: antenna", With: "within: antena", Problem: `parts.yaml:11: club: within: unknown part "antena" (did you mean antenna?)`},
		{File: partsFile, Replace: "    definition: A jointed", With: "    within: antenna\n    definition: A jointed",
			Problem: "parts.yaml:5: antenna: within goes round in a circle"},
		{File: partsFile, Replace: "at: [10, 20]", With: "at: [10, 70]", Problem: "parts.yaml:10: antenna: at 10, 70 is outside the plate above, whose viewBox is [0 0 40 60]"},
		{File: partsFile, Replace: "at: [10, 20]", With: "at: [10]", Problem: "parts.yaml:10: antenna: must be two numbers, such as [12, 40]"},
		{File: partsFile, Replace: "at: [10, 20], side: left", With: "at: [10, 20]",
			Problem: "parts.yaml:10: antenna: at and side go together: where the label's line ends, and on which side it stands"},
		{File: partsFile, Replace: "side: left", With: "side: top", Problem: `parts.yaml:10: antenna: must be left or right, not "top"`},
		{File: partsFile, Replace: "[{plate: above}, {plate: under,", With: "[{plate: under}, {plate: under,",
			Problem: `parts.yaml:16: club: lies twice on the plate "under"; keep one`},
		{File: partsFile, Replace: "    places: [{plate: above}, {plate: under, at: [5, 5], side: right}]\n", With: "    places: []\n",
			Problem: "parts.yaml:16: club: places is empty; a part lies on one plate at least"},
		{File: partsFile, Replace: "    source: guide\n", With: "",
			Problem: "parts.yaml:11: club: source and place go together: the work, and the place in it; leave both out for from memory"},
		{File: partsFile, Replace: "source: guide", With: "source: guides", Problem: `parts.yaml:17: club: unknown source "guides" (did you mean guide?); add it to sources.yaml`},
		{File: "plates/under.svg", Remove: true, Problem: "plates/under.svg: is missing: every plate of parts.yaml has a drawing"},
		{File: "plates/under.svg", Replace: `viewBox="0 0 40 60"`, With: `viewBox="0 0 40"`, Problem: "plates/under.svg: needs a viewBox of four numbers, the last two above 0"},
		{File: "plates/under.svg", Replace: `<path d="M4 0h4"/>`, With: `<image/>`, Problem: "plates/under.svg: must hold shapes only, no image element"},
		{File: "plates/under.svg", Replace: `<path d="M4 0h4"/>`, With: `<g class="antenna"/>`, Problem: "plates/under.svg: shows the part antenna, which parts.yaml does not place on it"},
		{File: "plates/under.svg", Replace: `<path d="M4 0h4"/>`, With: `<g class="clu"/>`, Problem: `plates/under.svg: the class "clu" is no part (did you mean club?)`},
		{File: "plates/above.svg", Replace: `<g class="club">`, With: "<g>",
			Problem: "parts.yaml:11: club: lies on the plate above, but no group of plates/above.svg has the class club"},
		{File: glossaryFile, Replace: "states: {antenna-form: [serrate]}", With: "states: {antenna-form: [saw]}",
			Problem: `glossary.yaml:6: serrate: unknown state "saw"; known are filiform, serrate, clavate`},
		{File: glossaryFile, Replace: "parts: [antenna]", With: "parts: [feeler]", Problem: `glossary.yaml:7: serrate: unknown part "feeler"; parts are defined in parts.yaml`},
		{File: glossaryFile, Replace: "see: [serrate]", With: "see: [serate]", Problem: `glossary.yaml:9: straight: see: "serate" is no other term or part (did you mean serrate?)`},
		{File: glossaryFile, Replace: "see: [serrate]", With: "see: [straight]", Problem: `glossary.yaml:9: straight: see: "straight" is no other term or part`},
		{File: glossaryFile, Replace: "id: straight", With: "id: club", Problem: "glossary.yaml:9: club: the id stands for another term or part already; keep one"},
		{File: glossaryFile, Replace: "    definition: Not bent.\n", With: "", Problem: `glossary.yaml:9: straight: the field "definition" is missing`},
	} {
		t.Run(c.Problem, func(t *testing.T) {
			files := partFiles(t)
			c.apply(t, files)
			tables, problems := Load(files)
			require.Nil(t, tables)
			var got []string
			for _, p := range problems {
				got = append(got, p.String())
			}
			require.Equal(t, []string{c.Problem}, got)
		})
	}
}

func TestACharacterNamesKnownParts(t *testing.T) {
	files := partFiles(t)
	characters := string(files[charactersFile].Data)
	files[charactersFile] = &fstest.MapFile{Data: []byte(strings.Replace(characters, "[antenna]", "[anten]", 1))}
	_, problems := Load(files)
	require.Len(t, problems, 1)
	require.Contains(t, problems[0].String(), `unknown part "anten" (did you mean antenna?); parts are defined in parts.yaml`)

	files[charactersFile] = &fstest.MapFile{Data: []byte(strings.Replace(characters, "    parts: [antenna]\n", "", 1))}
	tables, problems := Load(files)
	require.Empty(t, problems)
	lint := tables.Lint()
	require.Len(t, lint, 1)
	require.Contains(t, lint[0].String(), "names no part")
}

// Every question of the beetles can be shown on a plate: its first part lies on one, and the best plate has a label to it
// (the whole beetle, which needs none, and legs as a whole, aside).
func TestEveryCharacterHasItsPlaceOnAPlate(t *testing.T) {
	tables := embedded(t)
	require.NotEmpty(t, tables.Plates)
	for i := range tables.Characters {
		c := &tables.Characters[i]
		require.NotEmpty(t, c.Parts, c.ID)
		plate := tables.PlateOf(c)
		require.NotNil(t, plate, c.ID)
		labelled := false
		for _, id := range c.Parts {
			part, ok := tables.Part(id)
			require.True(t, ok, "%s names the part %s", c.ID, id)
			require.NotEmpty(t, part.Places, id)
			if place, ok := part.On(plate.ID); ok {
				labelled = labelled || place.Labelled
			}
		}
		if c.Region != "body" && c.ID != "legs-packed" {
			require.True(t, labelled, "%s: the plate %s has a label to none of %v", c.ID, plate.ID, c.Parts)
		}
	}
}
