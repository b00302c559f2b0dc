package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// leading are the characters that tell most between two families of the shipped tables.
func leading(t *testing.T, a, b string, n int) []string {
	t.Helper()
	list, err := newJudge(diagnosis.Default()).Separating(a, b)
	require.NoError(t, err)
	var ids []string
	for _, s := range list[:n] {
		ids = append(ids, s.Character)
	}
	return ids
}

// What is known to tell these families apart is among the first that the tables name. Common practice, no source.
func TestSeparatingNamesTheWellKnownCharacters(t *testing.T) {
	for _, test := range []struct {
		a, b       string
		characters []string
		among      int
	}{
		{"Elateridae", "Buprestidae", []string{"prosternal-process", "pronotum-hind-corners"}, 3},
		{"Gyrinidae", "Dytiscidae", []string{"eyes"}, 1},
		{"Carabidae", "Tenebrionidae", []string{"tarsi-counted", "tarsi-true", "first-ventrite"}, 3},
		{"Carabidae", "Staphylinidae", []string{"first-ventrite", "elytra-cover", "antenna-cleaner"}, 3},
		{"Coccinellidae", "Chrysomelidae", []string{"tarsi-counted", "antenna-club-segments"}, 2},
		{"Cantharidae", "Lycidae", []string{"elytra-surface"}, 1},
		{"Scarabaeidae", "Lucanidae", []string{"antenna-elbowed", "club-plates"}, 3},
		{"Ochodaeidae", "Hybosoridae", []string{"middle-tibia-spur"}, 1},
		{"Laemophloeidae", "Silvanidae", []string{"pronotum-side-line"}, 1},
		{"Lycidae", "Lampyridae", []string{"middle-coxae-distance"}, 2},
		{"Elateridae", "Throscidae", []string{"antenna-club-segments"}, 1},
		{"Silvanidae", "Cryptophagidae", []string{"elytra-surface"}, 1},
	} {
		t.Run(test.a+" "+test.b, func(t *testing.T) {
			require.Subset(t, leading(t, test.a, test.b, test.among), test.characters)
		})
	}
}

func TestSeparatingListsEveryCharacterBestFirst(t *testing.T) {
	j := newJudge(diagnosis.Default())
	list, err := j.Separating("Elateridae", "Buprestidae")
	require.NoError(t, err)
	require.Len(t, list, len(j.Tables().Characters))
	require.True(t, slices.IsSortedFunc(list, func(a, b Separator) int {
		if a.Bits >= b.Bits {
			return 0
		}
		return 1
	}))
	mirrored, err := j.Separating("Buprestidae", "Elateridae")
	require.NoError(t, err)
	for i, s := range list {
		require.True(t, s.Bits >= 0 && s.Bits <= 1, s)
		require.Equal(t, s, mirrored[i])
	}
}

func TestSeparatingByACharacterThatOneLacks(t *testing.T) {
	list, err := madeUp().Separating("Bidae", "Cidae")
	require.NoError(t, err)
	i := slices.IndexFunc(list, func(s Separator) bool { return s.Character == "outline" })
	require.Equal(t, Separator{"outline", 0}, list[i])
	list, err = madeUp().Separating("Aidae", "Bidae")
	require.NoError(t, err)
	require.Equal(t, "spine", list[0].Character)
	i = slices.IndexFunc(list, func(s Separator) bool { return s.Character == "club-segments" })
	require.Zero(t, list[i].Bits, "both are the same")
}

// The shares of testdata/tables, worked out by hand: of the 0.8 of Aidae that are not many-segmented, 75 of 87 are saw-like; the rest is
// always thread-like.
func TestTypical(t *testing.T) {
	tables := madeUp().Tables()
	aidae, _ := tables.Family("Aidae")
	antenna, _ := tables.Character("antenna")
	typical := TypicalOf(aidae, antenna)
	require.True(t, typical.Recorded)
	require.Len(t, typical.States, 2)
	require.Equal(t, typical.Most, typical.States[0])
	require.Equal(t, antenna.State("saw"), typical.Most.State)
	require.InDelta(t, 0.8*75/87, typical.Most.P, 1e-9)
	cidae, _ := tables.Family("Cidae")
	outline, _ := tables.Character("outline")
	require.Equal(t, Typical{}, TypicalOf(cidae, outline))
}

func TestSeparatingResolvesOldNames(t *testing.T) {
	today, err := madeUp().Separating("Aidae", "Bidae")
	require.NoError(t, err)
	old, err := madeUp().Separating("Aaidae", "Bidae")
	require.NoError(t, err)
	require.Equal(t, today, old)
}

func TestSeparatingRefuses(t *testing.T) {
	for _, test := range []struct {
		a, b string
	}{
		{"Zidae", "Bidae"},
		{"Aidae", ""},
		{"Aidae", "Aidae"},
		{"Aidae", "Aaidae"},
	} {
		list, err := madeUp().Separating(test.a, test.b)
		require.Nil(t, list)
		require.Error(t, err)
	}
}

// Bladders tell only where they are seen: on a dead beetle nobody can say that there are none.
func TestSeparatingLeavesOutWhatOnlyLiveOnesShow(t *testing.T) {
	tables := twins(t, "bladders: {states: {absent: always}}", "bladders: {states: {present: always}}")
	dead, err := newJudge(tables).Separating("Aidae", "Didae")
	require.NoError(t, err)
	c, _ := tables.Character("bladders")
	c.OnlyLive = nil
	live, err := newJudge(tables).Separating("Aidae", "Didae")
	require.NoError(t, err)
	require.Equal(t, "bladders", dead[0].Character)
	require.InDelta(t, live[0].Bits/2, dead[0].Bits, 0.01, "half of the reports are silent")
}
