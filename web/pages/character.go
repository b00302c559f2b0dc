package pages

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"revidit/review/diagnosis"
)

// holders are the families that show a state, by how often.
type holders struct {
	State                  diagnosis.State
	Mostly, Partly, Rarely []holder
}

// holder is a family with the share of it that shows a state.
type holder struct {
	Family string
	P      float64
}

// Shares at which a state counts as the rule of a family, and as rare in it; the latter is what the format of the
// tables calls unusual.
const (
	mostShare = 0.5
	rareShare = 0.03
)

// holdersOf sorts the families by each state of a character, the largest share first. unknown are those whose tables
// leave the character out.
func holdersOf(b Book, c *diagnosis.Character) (list []holders, unknown []string) {
	for i, s := range c.States {
		h := holders{State: s}
		for j := range b.Families {
			f := &b.Families[j]
			p, known := f.Share(c.ID, i)
			switch {
			case !known && i == 0:
				unknown = append(unknown, f.Name)
			case !known || p == 0:
			case p <= rareShare:
				h.Rarely = append(h.Rarely, holder{f.Name, p})
			case p < mostShare:
				h.Partly = append(h.Partly, holder{f.Name, p})
			default:
				h.Mostly = append(h.Mostly, holder{f.Name, p})
			}
		}
		for _, some := range [][]holder{h.Mostly, h.Partly, h.Rarely} {
			slices.SortStableFunc(some, func(a, b holder) int { return descending(a.P, b.P) })
		}
		list = append(list, h)
	}
	return list, unknown
}

// measured are the families with a length, the smallest first.
func measured(b Book, c *diagnosis.Character) []*diagnosis.Family {
	var found []*diagnosis.Family
	for i := range b.Families {
		if cellOf(&b.Families[i], c.ID) != nil {
			found = append(found, &b.Families[i])
		}
	}
	slices.SortStableFunc(found, func(x, y *diagnosis.Family) int {
		return descending(cellOf(y, c.ID).Length.Usual[1], cellOf(x, c.ID).Length.Usual[1])
	})
	return found
}

// viewWords names the views that can show a character.
func viewWords(b Book, c *diagnosis.Character) string {
	var words []string
	for _, v := range c.Views {
		words = append(words, b.View(context.TODO(), v))
	}
	return strings.Join(words, "; ")
}

// kindWords say how a character is recorded.
func kindWords(c *diagnosis.Character) string {
	switch c.Kind {
	case diagnosis.KindCount:
		return "a number from " + number(context.TODO(), c.Min) + " to " + number(context.TODO(), c.Max)
	case diagnosis.KindLength:
		return "a length from " + number(context.TODO(), c.Min) + " to " + number(context.TODO(), c.Max) + " mm"
	}
	return "one of " + count(len(c.States), "state", "states")
}

// confusedWords say which states people mix up.
func confusedWords(c *diagnosis.Character, pair diagnosis.Confused) string {
	label := func(id string) string {
		if i := c.State(id); i >= 0 {
			return c.States[i].Label
		}
		return id
	}
	return fmt.Sprintf("%s and %s: %s times as often as any other two", label(pair.States[0]), label(pair.States[1]), number(context.TODO(), pair.Weight))
}

// linked is a rule of the tables that ties a character to others.
type linked struct {
	Others  []string // character ids
	Words   string
	Because string
}

// linksOf are the rules that a character takes part in.
func linksOf(b Book, c *diagnosis.Character) []linked {
	var found []linked
	for _, d := range b.Dependent {
		if !slices.Contains(d.Characters, c.ID) {
			continue
		}
		others := slices.DeleteFunc(slices.Clone(d.Characters), func(id string) bool { return id == c.ID })
		found = append(found, linked{others, "says partly the same; stated together, each counts to the power of " + number(context.TODO(), d.Exponent), d.Because})
	}
	for _, rule := range b.Incompatible {
		for _, side := range [][2]diagnosis.Selection{{rule.First, rule.Second}, {rule.Second, rule.First}} {
			if side[0].Character == c.ID {
				words := statesWords(b, side[0]) + " cannot go with " + statesWords(b, side[1])
				found = append(found, linked{[]string{side[1].Character}, words, rule.Because})
			}
		}
	}
	for _, rule := range b.AtMost {
		switch c.ID {
		case rule.Less:
			found = append(found, linked{[]string{rule.More}, "cannot be less than this one", rule.Because})
		case rule.More:
			found = append(found, linked{[]string{rule.Less}, "cannot be more than this one", rule.Because})
		}
	}
	return found
}

// statesWords are the states of a selection in words.
func statesWords(b Book, s diagnosis.Selection) string {
	var words []string
	for _, id := range s.States {
		words = append(words, "“"+b.State(s.Character, id)+"”")
	}
	return strings.Join(words, " or ")
}
