package judgement

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// onlyThese is the evidence of a case without some characters.
func (c specimenCase) without(characters ...string) Evidence {
	e := c.evidence()
	e.Stated = slices.DeleteFunc(e.Stated, func(s Stated) bool { return slices.Contains(characters, s.Character) })
	return e
}

// nextIDs are the characters to check next, of these tables.
func nextIDs(a Assessment) []string {
	var ids []string
	for _, n := range a.Next {
		if n.Group == "" {
			ids = append(ids, n.Character)
		}
	}
	return ids
}

// everyCase calls visit for each of the stored specimens.
func everyCase(t *testing.T, visit func(specimenCase)) {
	t.Helper()
	for name := range leastFirst {
		for _, c := range readCases(t, filepath.Join("testdata", name)) {
			visit(c)
		}
	}
}

// The tables say of plates grown together that many observers see no difference, and whoever looks has to wet the
// specimen: that comes late, whatever it would tell (common practice, no source).
func TestHardLooksComeLate(t *testing.T) {
	early, lists := 0, 0
	everyCase(t, func(c specimenCase) {
		a := shipped().Assess(c.without("ventrites-fused", "fore-coxal-cavities"))
		ids := nextIDs(a)
		if len(ids) < 8 {
			return
		}
		lists++
		if slices.ContainsFunc(ids[:5], func(id string) bool { return id == "ventrites-fused" || id == "fore-coxal-cavities" }) {
			early++
		}
	})
	require.Greater(t, lists, 500)
	require.LessOrEqual(t, float64(early), 0.02*float64(lists), "%d of %d lists", early, lists)
}

// Keys to families begin with the snout: it divides the beetles into two at one glance (common practice, no source).
func TestSnoutIsAskedFirst(t *testing.T) {
	asked := 0
	everyCase(t, func(c specimenCase) {
		ids := nextIDs(shipped().Assess(c.without("rostrum")))
		if slices.Contains(ids, "rostrum") {
			asked++
			require.Equal(t, "rostrum", ids[0], c.Species)
		}
	})
	require.Greater(t, asked, 500)
	require.Equal(t, "rostrum", nextIDs(shipped().Assess(Evidence{}))[0])
}

// One side of the beetle is finished before the pin is turned. A list may come back to a side for what is worth little,
// but does not go to and fro: of the first eight, no side is left and come back to.
func TestOneSideAfterTheOther(t *testing.T) {
	j := shipped()
	back, lists := 0, 0
	everyCase(t, func(c specimenCase) {
		e := c.without("rostrum", "ventrites", "prosternal-process", "first-ventrite")
		a := j.Assess(e)
		ids := nextIDs(a)
		if len(ids) < 8 {
			return
		}
		lists++
		if turns(j, ids[:8]) > 2 {
			back++
		}
	})
	require.Greater(t, lists, 500)
	require.LessOrEqual(t, float64(back), 0.05*float64(lists), "%d of %d lists", back, lists)
}

// turns is how often the specimen has to be turned at least to look at characters in their order: each stay is as long
// as one side shows what comes next. It is counted by the views alone.
func turns(j *Judge, ids []string) int {
	n, at := 0, ^sideSet(0)
	for _, id := range ids {
		sides := j.index.characters[j.tables.CharacterIndex(id)].sides
		if at&sides == 0 {
			n++
			at = sides
		} else {
			at &= sides
		}
	}
	return n
}

// A made-up group: what turning costs decides whether the more telling side comes first.
func TestTurningCosts(t *testing.T) {
	order := func(turning float64) []string {
		tables := *madeUp().tables
		tables.Group.Turning = turning
		return nextIDs(newJudge(&tables).Assess(Evidence{}))
	}
	free := order(0)
	require.Equal(t, "spine", free[0], "it tells most")
	dear := order(50)
	require.Greater(t, slices.Index(dear, "spine"), slices.Index(dear, "antenna"), "what tells much above is finished first")
	require.Positive(t, slices.Index(dear, "spine"))
	require.ElementsMatch(t, free, dear)

	below := *madeUp().tables
	below.Group.Turning = 50
	require.Equal(t, 2, newJudge(&below).sideAtHand(seenOf(newJudge(&below), "spine")), "the underside is up when it was looked at last")
}

// seenOf is the memory of an assessment in which characters were stated.
func seenOf(j *Judge, characters ...string) *scratch {
	s := &scratch{}
	for _, id := range characters {
		s.posterior.Seen = append(s.posterior.Seen, j.tables.CharacterIndex(id))
	}
	return s
}

// What the photos show needs neither turning nor a photo, and comes before what does.
func TestPhotosAtHandComeFirst(t *testing.T) {
	tables := *madeUp().tables
	tables.Group.Turning, tables.Group.Photo = 3, 50
	a := newJudge(&tables).Assess(Evidence{Views: []string{"below"}})
	require.Equal(t, "spine", a.Next[0].Character)
	require.False(t, a.Next[0].NeedsPhoto)
	a = newJudge(&tables).Assess(Evidence{Views: []string{"above"}})
	at := slices.IndexFunc(a.Next, func(n Next) bool { return n.Character == "spine" })
	require.Positive(t, at)
	require.True(t, a.Next[at].NeedsPhoto)
	require.False(t, a.Next[0].NeedsPhoto)
}

// The effort of a look divides what it tells: four times the effort at the same information comes later.
func TestEffortDivides(t *testing.T) {
	tables := *madeUp().tables
	tables.Characters = slices.Clone(tables.Characters)
	before := newJudge(&tables).Assess(Evidence{})
	require.Equal(t, "spine", before.Next[0].Character)
	tables.Characters[tables.CharacterIndex("spine")].Effort = 40
	after := newJudge(&tables).Assess(Evidence{})
	at := slices.IndexFunc(after.Next, func(n Next) bool { return n.Character == "spine" })
	require.Positive(t, at)
	last := after.Next[at]
	require.InDelta(t, 40, last.Effort, 0)
	require.InDelta(t, before.Next[0].Bits, last.Bits, 0, "what it tells stays as it is")
	for i, n := range after.Next[1:] {
		require.LessOrEqual(t, n.Bits/n.Effort, after.Next[i].Bits/after.Next[i].Effort)
	}
}

// Efforts are positive in every group, and no view is of a side that the index does not know.
func TestSidesOfEveryGroup(t *testing.T) {
	for _, tables := range diagnosis.All() {
		j := newJudge(tables)
		for i := range tables.Characters {
			require.Positive(t, tables.Characters[i].Effort)
			words := &j.index.characters[i]
			require.NotZero(t, words.sides)
			require.True(t, words.sides.has(words.side), tables.Characters[i].ID)
		}
		require.False(t, math.IsNaN(tables.Group.Turning))
	}
}
