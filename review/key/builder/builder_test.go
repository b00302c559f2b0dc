package builder_test

import (
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
	"revidit/review/key"
	"revidit/review/key/builder"
)

// some are families with many forms, with one, and with look-alikes among each other.
var some = []string{"Buprestidae", "Cantharidae", "Carabidae", "Cerambycidae", "Chrysomelidae", "Coccinellidae", "Curculionidae", "Dytiscidae",
	"Elateridae", "Lampyridae", "Meloidae", "Scarabaeidae", "Staphylinidae", "Tenebrionidae"}

// ofSome is made once for all tests.
var ofSome = sync.OnceValues(func() (*key.Key, error) {
	return builder.Build(diagnosis.Default(), builder.Choice{Families: some, Reader: builder.Reader{Ordinary: 0.85}})
})

func made(t *testing.T, families []string) *key.Key {
	t.Helper()
	k, err := builder.Build(diagnosis.Default(), builder.Choice{Families: families, Reader: builder.Reader{Ordinary: 0.85}})
	require.NoError(t, err)
	return k
}

// reached are the families at which a specimen can come out, both leads taken where nothing decides.
func reached(k *key.Key, at int, look key.Look) []string {
	c := &k.Couplets[at-1]
	_, lead := c.Weigh(look)
	leads := []int{lead}
	if lead < 0 {
		leads = []int{0, 1}
	}
	var names []string
	for _, i := range leads {
		if to := c.Leads[i].To; to > 0 {
			names = append(names, reached(k, to, look)...)
		}
		for _, e := range c.Leads[i].Endings {
			names = append(names, e.Family)
		}
	}
	return names
}

// TestEveryFormComesOut: a specimen in which each character is as usual in its form comes out at its own family.
func TestEveryFormComesOut(t *testing.T) {
	tables := diagnosis.Default()
	k, err := ofSome()
	require.NoError(t, err)
	require.Equal(t, some, k.Families)
	for _, name := range some {
		f, _ := tables.Family(name)
		for i := range f.Forms {
			look := func(id string) (key.Seen, bool) { return key.Usual(tables, &f.Forms[i], id) }
			require.Contains(t, reached(k, 1, look), name, "%s, %s", name, f.Forms[i].Label)
		}
	}
}

// TestHowKeysArePrinted: what the trade asks of a dichotomous key, common practice, no source: both leads tell of the same characters
// in the same order and exclude each other; each couplet but the first is led to once, from a lower number, which it names; nothing is
// asked twice on a way, and nothing of what one character alone has decided already.
func TestHowKeysArePrinted(t *testing.T) {
	tables := diagnosis.Default()
	k, err := ofSome()
	require.NoError(t, err)
	ledTo := map[int]int{}
	for i, c := range k.Couplets {
		require.Equal(t, i+1, c.Number)
		require.Len(t, c.Leads[1].Says, len(c.Leads[0].Says))
		require.LessOrEqual(t, len(c.Leads[0].Says), key.MostCharacters)
		for q, one := range c.Leads[0].Says {
			other := c.Leads[1].Says[q]
			require.Equal(t, one.Character, other.Character)
			character, known := tables.Character(one.Character)
			require.True(t, known)
			require.Less(t, character.Effort, float64(key.PreparingEffort), "no preparation was asked for")
			if character.Kind == diagnosis.KindLength {
				require.True(t, one.UpTo == other.Over && one.UpTo > 0 || other.UpTo == one.Over && one.Over > 0)
				continue
			}
			require.NotEmpty(t, one.States)
			require.NotEmpty(t, other.States)
			for _, s := range one.States {
				require.GreaterOrEqual(t, character.State(s), 0)
				require.NotContains(t, other.States, s)
			}
		}
		for _, l := range c.Leads {
			require.Equal(t, l.To == 0, len(l.Endings) > 0)
			if l.To > 0 {
				require.Greater(t, l.To, c.Number)
				require.Equal(t, c.Number, k.Couplets[l.To-1].From)
				ledTo[l.To]++
			}
		}
	}
	for n := 2; n <= len(k.Couplets); n++ {
		require.Equal(t, 1, ledTo[n], "couplet %d", n)
	}
	for i := range k.Couplets {
		askedOnce(t, k, i+1)
	}
}

// askedOnce goes back from a couplet.
func askedOnce(t *testing.T, k *key.Key, at int) {
	for number, from := at, k.Couplets[at-1].From; from > 0; number, from = from, k.Couplets[from-1].From {
		before := &k.Couplets[from-1]
		taken := 0
		if before.Leads[1].To == number {
			taken = 1
		}
		for q, said := range before.Leads[0].Says {
			for p, says := range k.Couplets[at-1].Leads[0].Says {
				if says.Character != said.Character || says.States == nil {
					continue
				}
				a, b := [2][]string{said.States, before.Leads[1].Says[q].States}, [2][]string{says.States, k.Couplets[at-1].Leads[1].Says[p].States}
				same := slices.Equal(a[0], b[0]) && slices.Equal(a[1], b[1]) || slices.Equal(a[0], b[1]) && slices.Equal(a[1], b[0])
				require.False(t, same, "couplets %d and %d ask the same of %s", from, at, says.Character)
				if len(before.Leads[0].Says) == 1 {
					for _, s := range slices.Concat(b[0], b[1]) {
						require.Contains(t, a[taken], s, "couplet %d asks what couplet %d has decided", at, from)
					}
				}
			}
		}
	}
}

// TestEqualKeys: equal choices give equal keys, in whatever order families are named.
func TestEqualKeys(t *testing.T) {
	few := slices.Clone(some[:5])
	one := made(t, few)
	slices.Reverse(few)
	require.Equal(t, one, made(t, few))
	require.Equal(t, diagnosis.Default().Hash, one.Hash)
}

func TestNothingToTellApart(t *testing.T) {
	_, err := builder.Build(diagnosis.Default(), builder.Choice{Families: []string{"Elateridae", "Nonidae"}})
	require.ErrorIs(t, err, builder.ErrTooFew)
}
