package key_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/key"
)

func states(character string, ids ...string) key.Saying {
	return key.Saying{Character: character, States: ids}
}

// small is a key of two couplets, told by hand.
func small() *key.Key {
	checked := func(family, id string) []key.Ending {
		return []key.Ending{{Family: family, Check: []key.Saying{states("d", id), states("e", id)}, Enough: 2}}
	}
	return &key.Key{Couplets: []key.Couplet{
		{Number: 1, Leads: [2]key.Lead{
			{Says: []key.Saying{states("a", "1"), states("b", "1"), states("c", "1")}, Endings: checked("One", "1")},
			{Says: []key.Saying{states("a", "2"), states("b", "2"), states("c", "2")}, To: 2}}},
		{Number: 2, From: 1, Leads: [2]key.Lead{
			{Says: []key.Saying{{Character: "mm", UpTo: 5}}, Endings: checked("Two", "2")},
			{Says: []key.Saying{{Character: "mm", Over: 5}}, Endings: checked("Three", "3")}}},
	}}
}

func follow(seen map[string]string, mm float64) key.Way {
	return small().Follow(func(id string) (key.Seen, bool) {
		if id == "mm" {
			return key.Seen{MM: mm}, mm > 0
		}
		return key.Seen{State: seen[id]}, seen[id] != ""
	}, func(int) int { return 0 })
}

// TestFollow: the rules of the first page of a key, by hand.
func TestFollow(t *testing.T) {
	for name, c := range map[string]struct {
		seen   map[string]string
		mm     float64
		family string
		steps  int
		tried  int
	}{
		"all fits":                       {map[string]string{"a": "1", "b": "1", "c": "1", "d": "1", "e": "1"}, 0, "One", 1, 1},
		"most fits":                      {map[string]string{"a": "2", "b": "1", "c": "1", "d": "1", "e": "1"}, 0, "One", 1, 1},
		"the first decides between two":  {map[string]string{"a": "2", "b": "1", "d": "3", "e": "3"}, 9, "Three", 2, 1},
		"what is unseen takes no part":   {map[string]string{"c": "2", "d": "2"}, 5, "Two", 2, 1},
		"a failed check leads back":      {map[string]string{"a": "1", "b": "1", "c": "2", "d": "2", "e": "2"}, 3, "Two", 2, 2},
		"the last of equals is turned":   {map[string]string{"a": "2", "d": "3", "e": "3"}, 3, "Three", 2, 2},
		"nothing fits: the most does":    {map[string]string{"a": "2", "b": "2", "d": "3", "e": "4"}, 3, "Three", 2, 3},
		"nothing seen: somebody guesses": {map[string]string{"d": "1", "e": "1"}, 0, "One", 1, 1},
	} {
		way := follow(c.seen, c.mm)
		require.Len(t, way.Endings, 1, name)
		require.Equal(t, c.family, way.Endings[0].Family, name)
		require.Equal(t, []int{c.steps, c.tried}, []int{way.Steps, way.Tried}, name)
	}
}
