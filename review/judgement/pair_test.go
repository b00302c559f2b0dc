package judgement

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

const twinHead = `superfamily: Aoidea
common: made up
species: 100
species_source: made up
source: first
place: made up
basis: memory
characters:
  antenna: {states: {saw: always, thread: rarely}}
  length-mm: {length: {min: 4, usual: [5, 20], max: 30}}
`

// twins are tables of two families, Aidae and Didae, that differ in the cell given for each, after which further fields
// of the family may follow. Bidae and Cidae are beside them.
func twins(t *testing.T, a, b string) *diagnosis.Tables {
	t.Helper()
	files, err := diagnosis.Contents(os.DirFS("testdata/tables"))
	require.NoError(t, err)
	files["families/Aidae.yaml"] = "family: Aidae\n" + twinHead + "  " + a + "\n"
	files["families/Didae.yaml"] = "family: Didae\n" + twinHead + "  " + b + "\n"
	tables, problems := diagnosis.Load(diagnosis.FromContents(files))
	require.Empty(t, problems)
	return tables
}

func pairOf(t *testing.T, pairs []Pair, a, b string) Pair {
	t.Helper()
	i := slices.IndexFunc(pairs, func(p Pair) bool { return p.A == a && p.B == b })
	require.GreaterOrEqual(t, i, 0, "%s and %s are not listed", a, b)
	return pairs[i]
}

func TestPairsOfTwins(t *testing.T) {
	p := pairOf(t, newJudge(twins(t, "spine: {states: {free: always}}", "spine: {states: {free: always}}")).Pairs(0), "Aidae", "Didae")
	require.InDelta(t, 0.5, p.Expected, 1e-9)
	require.InDelta(t, 0, p.Error, 1e-9)
	require.Empty(t, p.Best, "nothing tells them apart")
	require.Empty(t, p.Help, "and sharper cells would not")
	require.Nil(t, p.Explained)
}

// One character that differs is read right 19 times in 20: the expectation is about 0.95² + 0.05², less what the model
// keeps back for misleading specimens and wrong tables.
func TestPairsOfTwinsWithOneCharacter(t *testing.T) {
	p := pairOf(t, newJudge(twins(t, "outline: {states: {long: always}}", "outline: {states: {round: always}}")).Pairs(0), "Aidae", "Didae")
	require.InDelta(t, 0.95*0.95+0.05*0.05, p.Expected, 0.06)
	require.Less(t, p.Expected, 0.95*0.95+0.05*0.05+4*p.Error)
	require.Less(t, p.Error, 0.01)
	require.Len(t, p.Best, 1)
	require.Equal(t, "outline", p.Best[0].Character)
}

func TestPairsNameTheMissingCell(t *testing.T) {
	p := pairOf(t, newJudge(twins(t, "spine: {states: {free: always}}", "outline: {states: {long: always}}")).Pairs(0), "Aidae", "Didae")
	require.InDelta(t, 0.5, p.Expected, 1e-9, "a gap tells nothing")
	// In the two other families that have a spine it is never free.
	require.Equal(t, "spine", p.Help[0].Character)
	require.Equal(t, "Didae", p.Help[0].Family)
	require.Greater(t, p.Help[0].Bits, 0.3)
}

func TestPairsNameTheCellToSharpen(t *testing.T) {
	p := pairOf(t, newJudge(twins(t, "outline: {states: {long: 0.7, round: 0.3}}", "outline: {states: {long: 0.3, round: 0.7}}")).Pairs(0), "Aidae", "Didae")
	require.Len(t, p.Help, 1)
	require.Equal(t, "outline", p.Help[0].Character)
	require.Empty(t, p.Help[0].Family)
	require.Greater(t, p.Help[0].Bits, 0.1)
}

func TestPairsAreExplainedFromEitherSide(t *testing.T) {
	plain := "spine: {states: {free: always}}"
	want := diagnosis.Inseparable{Because: "Made up.", Needs: "a dissection"}
	for _, family := range []string{"Aidae", "Didae"} {
		a := plain + "\ninseparable:\n  - {family: " + family + ", because: Made up., needs: a dissection}"
		b := plain
		if family == "Aidae" {
			a, b = b, a
		}
		p := pairOf(t, newJudge(twins(t, a, b)).Pairs(0), "Aidae", "Didae")
		want.Family = family
		require.Equal(t, &want, p.Explained)
	}
}

func TestPairsOfShippedTables(t *testing.T) {
	j := newJudge(diagnosis.Default())
	all := j.Pairs(0)
	require.NotEmpty(t, all, "some families cannot be told apart with a lens")
	require.True(t, slices.IsSortedFunc(all, func(a, b Pair) int { return int(math.Copysign(1, a.Expected-b.Expected)) }))
	for _, p := range all {
		require.Less(t, p.A, p.B)
		require.True(t, p.Expected > 0.45 && p.Expected < SeparationLine, p)
		require.True(t, p.Error > 0 && p.Error < 0.01, p)
	}

	// What is compared beside a pair changes nothing about it.
	largest := map[string]bool{}
	for _, i := range j.largest(60) {
		largest[j.Tables().Families[i].Name] = true
	}
	require.Len(t, largest, 60)
	var among []Pair
	for _, p := range all {
		if largest[p.A] && largest[p.B] {
			among = append(among, p)
		}
	}
	require.Equal(t, among, j.Pairs(60))
}

// reviewed is a specimen drawn from the tables by the words of Pair and without the code of the model: no wrong table
// and no misleading specimen, so that the truth is found a little more often than the model expects.
func (s simulation) reviewed(f *diagnosis.Family, common []string) Evidence {
	var e Evidence
	weights := make([]float64, len(f.Forms))
	for i, form := range f.Forms {
		weights[i] = form.Weight
	}
	form := f.Forms[s.pick(weights)]
	for _, id := range common {
		c, _ := s.tables.Character(id)
		state := s.look(c, form.Cells[id])
		if slices.Contains(c.OnlyLive, state) {
			continue
		}
		e.Stated = append(e.Stated, Stated{Character: id, State: state,
			Reports: []Report{{Kind: ReportStated, Accuracy: reviewerReads}}})
	}
	return e
}

// look is what a reviewer takes the state of a specimen for.
func (s simulation) look(c *diagnosis.Character, cell *diagnosis.Cell) string {
	if c.Kind == diagnosis.KindLength {
		l := cell.Length
		const percentile95 = 1.6449 // of the standard normal distribution
		mean, deviation := math.Log(l.Usual[0]*l.Usual[1])/2, math.Log(l.Usual[1]/l.Usual[0])/2/percentile95
		length := min(max(math.Exp(mean+deviation*s.random.NormFloat64()), l.Min), l.Max)
		length *= math.Exp(0.05 * s.random.NormFloat64())
		return strconv.FormatFloat(min(max(length, c.Min), c.Max), 'g', -1, 64)
	}
	state := s.pick(cell.P)
	if s.random.Float64() < reviewerReads {
		return c.States[state].ID
	}
	if c.Kind == diagnosis.KindCount {
		return c.States[min(max(state+1-2*s.random.IntN(2), 0), len(c.States)-1)].ID
	}
	for {
		if misread := s.reading(c, state); misread != state {
			return c.States[misread].ID
		}
	}
}

func TestPairsAgainstSimulatedReviews(t *testing.T) {
	j := newJudge(diagnosis.Default())
	s := simulation{tables: j.Tables(), random: rand.New(rand.NewPCG(13, 17))}
	even := map[string]float64{}
	for _, f := range s.tables.Families {
		even[f.Name] = 1
	}
	pairs := j.Pairs(0)
	for _, pair := range []Pair{pairs[0], pairs[len(pairs)/2], pairs[len(pairs)-1]} {
		one, _ := s.tables.Family(pair.A)
		two, _ := s.tables.Family(pair.B)
		var common []string
		for _, c := range s.tables.Characters {
			if records(one, c.ID) && records(two, c.ID) {
				common = append(common, c.ID)
			}
		}
		const each = 300
		sum := 0.0
		for _, f := range []*diagnosis.Family{one, two} {
			for range each {
				e := s.reviewed(f, common)
				e.Prior = even
				p := map[string]float64{}
				for _, r := range j.Assess(e).Ranking {
					p[r.Family] = r.P
				}
				sum += p[f.Name] / (p[pair.A] + p[pair.B])
			}
		}
		mean := sum / (2 * each)
		// Four standard errors of 600 posteriors with a deviation of at most 0.3 are 0.05; the model is the more careful one.
		require.InDelta(t, pair.Expected, mean, 0.06, "%s and %s", pair.A, pair.B)
	}
}

// A member from above sees less than a reviewer who looks at everything: never more than eight characters, each in a
// view of the upper side, and less sure of the family on the whole. (A single pair may go the other way within its error.)
func TestUpperSideTellsLess(t *testing.T) {
	j := newJudge(diagnosis.Default())
	ids := j.UpperSide()
	require.Len(t, ids, memberStates)
	for _, id := range ids {
		c, ok := j.tables.Character(id)
		require.True(t, ok)
		require.True(t, slices.ContainsFunc(j.tables.Group.Views, func(v diagnosis.View) bool {
			return v.Orientation == fromAbove && slices.Contains(c.Views, v.ID)
		}), id)
	}
	pairs := j.Pairs(60)
	require.NotEmpty(t, pairs)
	careful, above := 0.0, 0.0
	for _, p := range pairs {
		require.GreaterOrEqual(t, p.Above, 0.5-3*p.AboveError)
		careful, above = careful+p.Expected, above+p.Above
	}
	require.Less(t, above, careful)
}
