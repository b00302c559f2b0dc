package diagnosis

import (
	"encoding/csv"
	"fmt"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func embedded(t testing.TB) *Tables {
	t.Helper()
	tables, problems := Embedded()
	requireNone(t, problems)
	return tables
}

func requireNone(t testing.TB, problems []Problem) {
	t.Helper()
	for _, p := range problems {
		t.Error(p.String())
	}
	if len(problems) > 0 {
		t.FailNow()
	}
}

// shippedCharacters loads all but the families, so that a slip in one family fails one test and not all of them.
func shippedCharacters(t testing.TB) *Tables {
	t.Helper()
	folder, err := fs.Sub(data, "data/coleoptera")
	require.NoError(t, err)
	l := newLoader(folder)
	l.readGroup()
	l.readSources()
	l.readCharacters()
	requireNone(t, l.problems)
	return l.tables
}

func TestShippedTablesHaveNoProblems(t *testing.T) {
	tables := embedded(t)
	requireNone(t, tables.Lint())
	for _, n := range tables.Notes() {
		t.Log("note:", n)
	}
	require.Same(t, Default(), Default())
	require.Equal(t, tables.Hash, Default().Hash)
}

// The families of the first release, by its plan.
func TestShippedTablesHoldTheFirstThirtyFamilies(t *testing.T) {
	tables := embedded(t)
	for _, name := range strings.Fields(`Brentidae Buprestidae Cantharidae Carabidae Cerambycidae Chrysomelidae Cleridae
		Coccinellidae Curculionidae Dermestidae Dytiscidae Elateridae Erotylidae Geotrupidae Gyrinidae Histeridae
		Hydrophilidae Lampyridae Lucanidae Lycidae Meloidae Melyridae Mordellidae Nitidulidae Ptinidae Scarabaeidae
		Staphylinidae Tenebrionidae Trogidae Trogossitidae`) {
		_, ok := tables.Family(name)
		require.True(t, ok, name)
	}
}

func TestShippedCellsAreDistributionsWithSources(t *testing.T) {
	tables := embedded(t)
	for i := range tables.Families {
		f := &tables.Families[i]
		require.True(t, slices.IsSortedFunc(tables.Families, func(a, b Family) int { return strings.Compare(a.Name, b.Name) }))
		eachCell(f, func(c *Cell) {
			_, ok := tables.Source(c.Citation.Source)
			require.True(t, ok, "%s:%d", c.File, c.Line)
			require.NotEmpty(t, c.Citation.Place, "%s:%d", c.File, c.Line)
			character, _ := tables.Character(c.Character)
			require.Len(t, c.P, len(character.States))
			sum := 0.0
			for _, p := range c.P {
				sum += p
			}
			if character.Kind != KindLength {
				require.InDelta(t, 1, sum, 1e-12, "%s:%d", c.File, c.Line)
			}
		})
		weights := 0.0
		for _, form := range f.Forms {
			weights += form.Weight
		}
		require.InDelta(t, 1, weights, 1e-12, f.Name)
	}
}

func readCSV(t *testing.T, name string) [][]string {
	t.Helper()
	file, err := os.Open(name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 1)
	return rows[1:]
}

// testdata/characters.csv is the vocabulary that tools outside this repository rely on.
func TestCharactersKeepTheFixedVocabulary(t *testing.T) {
	tables := shippedCharacters(t)
	rows := readCSV(t, "testdata/characters.csv")
	require.Len(t, rows, 47)
	for _, row := range rows {
		id, region, states := row[0], row[1], row[2]
		c, ok := tables.Character(id)
		require.True(t, ok, id)
		require.Equal(t, region, c.Region, id)
		switch states {
		case "count":
			require.Equal(t, KindCount, c.Kind, id)
		case "millimetres":
			require.Equal(t, KindLength, c.Kind, id)
		default:
			require.Equal(t, KindStates, c.Kind, id)
			fixed := strings.Split(states, "|")
			require.Equal(t, fixed, c.stateIDs()[:len(fixed)], "%s: further states may follow the fixed ones", id)
		}
		for _, s := range c.States {
			require.NotEmpty(t, s.Label, "%s %s", id, s.ID)
			require.True(t, c.Kind == KindCount || s.Hint != "", "%s %s needs a hint", id, s.ID)
		}
	}
}

// By the remarks of the vocabulary: body-form overlaps, and absent vesicles can only be stated on live material.
func TestCharactersThatNeedCare(t *testing.T) {
	tables := shippedCharacters(t)
	for _, c := range tables.Characters {
		require.Equal(t, c.ID == "body-form", c.NeverExcludes, c.ID)
		if c.ID == "side-vesicles" {
			require.Equal(t, []string{"absent"}, c.OnlyLive)
			continue
		}
		require.Empty(t, c.OnlyLive, c.ID)
	}
}

// Audiovisual Core: Controlled Vocabularies for subjectPart and subjectOrientation (TDWG 2023), see testdata/README.md.
func TestViewsUseAudiovisualCoreTerms(t *testing.T) {
	column := func(name string, i int) []string {
		var list []string
		for _, row := range readCSV(t, "testdata/audiovisual_core/"+name) {
			list = append(list, row[i])
		}
		return list
	}
	parts, orientations := column("subject_part.csv", 2), column("subject_orientation.csv", 2)
	var pairs []string
	for _, row := range readCSV(t, "testdata/audiovisual_core/insect_parts_and_views.csv") {
		pairs = append(pairs, row[1]+" "+row[3])
	}
	tables := shippedCharacters(t)
	require.NotEmpty(t, tables.Group.Views)
	for _, v := range tables.Group.Views {
		require.Contains(t, parts, v.Part, v.ID)
		require.Contains(t, orientations, v.Orientation, v.ID)
		require.Contains(t, pairs, v.Part+" "+v.Orientation, v.ID)
	}
}

// Nobody counts a segment that is not there, so a rule must meet exactly the pairs where the counted number exceeds the
// true one on some foot. The numbers are parsed from the ids here and written out in characters.yaml.
func TestTarsiRulesMeetExactlyTheImpossiblePairs(t *testing.T) {
	tables := shippedCharacters(t)
	feet := func(id string) (n [3]int) {
		_, err := fmt.Sscanf(id, "%d-%d-%d", &n[0], &n[1], &n[2])
		require.NoError(t, err, id)
		return n
	}
	ruled := func(hidden, counted string) bool {
		return slices.ContainsFunc(tables.Incompatible, func(r Incompatible) bool {
			return r.First.Character == "tarsi-true" && r.Second.Character == "tarsi-counted" &&
				slices.Contains(r.First.States, hidden) && slices.Contains(r.Second.States, counted)
		})
	}
	c, _ := tables.Character("tarsi-true")
	for _, hidden := range c.stateIDs() {
		for _, counted := range c.stateIDs() {
			if hidden == "other" || counted == "other" {
				require.False(t, ruled(hidden, counted))
				continue
			}
			h, n := feet(hidden), feet(counted)
			impossible := n[0] > h[0] || n[1] > h[1] || n[2] > h[2]
			require.Equal(t, impossible, ruled(hidden, counted), "true %s, counted %s", hidden, counted)
		}
	}
}

func TestDependentExponentsWeaken(t *testing.T) {
	for _, g := range shippedCharacters(t).Dependent {
		require.Less(t, g.Exponent, 1.0, g.ID)
		// Two characters together must still say more than one of them.
		require.Greater(t, float64(len(g.Characters))*g.Exponent, 1.0, g.ID)
	}
}
