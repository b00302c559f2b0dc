package nature

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

func sheetOf(t *testing.T, w *World, ids ...string) Sheet {
	t.Helper()
	sheet := Sheet{Freely: true}
	for _, id := range ids {
		require.GreaterOrEqual(t, w.Tables.CharacterIndex(id), 0, id)
		sheet.Characters = append(sheet.Characters, w.Tables.CharacterIndex(id))
	}
	slices.Sort(sheet.Characters)
	return sheet
}

var everyday = []string{"antenna-form", "antenna-club-segments", "tarsi-counted", "elytra-cover", "pygidium", "rostrum", "lustre", "body-length-mm"}

// TestExpertsKnow: in the long run an expert is right as often as they say. By Bayes' theorem that is so in the world that they know, and
// accounts are drawn there step by step, without it. 1,500 accounts: the standard error of the share is below 0.013.
func TestExpertsKnow(t *testing.T) {
	w := AsTables(diagnosis.Default(), 11)
	e := NewExpert(w, sheetOf(t, w, everyday...))
	weights := make([]float64, len(e.families))
	for f, forms := range e.families {
		for g := range forms {
			weights[f] += forms[g].weight
		}
	}
	d := w.dice(accountOf, -1)
	var one, any tally
	for one.n < 1500 {
		family := pick(d, weights)
		a := e.account(d, family)
		knowsOne, knowsAny := e.Families(a)
		if any.n < 1500 {
			any.add(knowsAny, family)
		}
		if a.At >= 0 {
			one.add(knowsOne, family)
		}
	}
	t.Logf("exactly one mistake: says %.3f, right %.3f; however many: %.3f, %.3f", one.says/one.n, one.right/one.n, any.says/any.n, any.right/any.n)
	require.InDelta(t, one.says/one.n, one.right/one.n, 0.04)
	require.InDelta(t, any.says/any.n, any.right/any.n, 0.04)
}

type tally struct{ n, says, right float64 }

func (l *tally) add(p []float64, family int) {
	top := slices.Max(p)
	l.n++
	l.says += top
	if p[family] == top {
		l.right++
	}
}

// TestAllThatCanBeSaid: over all that a person can say of a specimen of a form the probabilities sum to 1, whether the characters
// vary together or not, and those of no mistake and of one sum to less.
func TestAllThatCanBeSaid(t *testing.T) {
	w := AsTables(diagnosis.Default(), 12)
	e := NewExpert(w, sheetOf(t, w, "antenna-form", "antenna-club-segments", "rostrum"))
	require.Len(t, e.bundles, 2, "outline and club vary together")
	form := &e.families[w.Tables.FamilyIndex("Curculionidae")][0]
	var sum chance
	states := func(at int) int { return len(w.Tables.Characters[e.sheet.Characters[at]].States) }
	for x := range states(0) {
		for y := range states(1) {
			for z := range states(2) {
				a := Account{Person: 3, said: []value{{state: x}, {state: y}, {state: z}}}
				sum = sum.or(e.said(form, e.sights(a.Person, a)), 1)
			}
		}
	}
	require.InDelta(t, 1, sum.any, 1e-9)
	require.Less(t, sum.none+sum.one, 1.0)
	require.Greater(t, sum.none+sum.one, 0.8)
}

// TestLengthsSaid: what can be said of a length has the density 1 over all logarithms.
func TestLengthsSaid(t *testing.T) {
	l := diagnosis.Length{Min: 2, Usual: [2]float64{3, 9}, Max: 10}
	sum := 0.0
	const step = 0.001
	for y := math.Log(0.05); y < math.Log(500); y += step {
		sum += ofLength(l, y).any * step
	}
	require.InDelta(t, 1, sum, 1e-6)
}

// TestOneMistake: a mistake is made where it is asked for, and equal numbers give equal accounts.
func TestOneMistake(t *testing.T) {
	w := AsTables(diagnosis.Default(), 13)
	sheet := sheetOf(t, w, everyday...)
	e := NewExpert(w, sheet)
	family := w.Tables.FamilyIndex("Scarabaeidae")
	for at := range sheet.Characters {
		for n := range 5 {
			a, ok := e.Mistaken(family, at, n)
			require.True(t, ok)
			require.Equal(t, at, a.At)
			again, _ := e.Mistaken(family, at, n)
			require.Equal(t, a, again)
			told, err := w.Account(sheet, w.Written(sheet, a))
			require.NoError(t, err)
			length := slices.Index(sheet.Characters, w.Tables.CharacterIndex("body-length-mm"))
			require.InDelta(t, a.said[length].length, told.said[length].length, 0.005)
			told.said[length] = a.said[length]
			require.Equal(t, a.said, told.said)
		}
	}
	_, err := w.Account(sheet, []string{"bent", "3", "5-5-5", "complete", "covered", "none", "metallic", "9"})
	require.ErrorContains(t, err, "antenna-form")
}
