package pages

import (
	"context"
	"slices"
	"strings"

	"revidit/review/diagnosis"
	"revidit/web/words"
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
func viewWords(ctx context.Context, b Book, c *diagnosis.Character) string {
	var views []string
	for _, v := range c.Views {
		views = append(views, b.View(ctx, v))
	}
	return strings.Join(views, "; ")
}

// kindWords say how a character is recorded.
func kindWords(ctx context.Context, c *diagnosis.Character) string {
	switch c.Kind {
	case diagnosis.KindCount:
		return words.T(ctx, "character.kind-count", "From", number(ctx, c.Min), "To", number(ctx, c.Max))
	case diagnosis.KindLength:
		return words.T(ctx, "character.kind-length", "From", number(ctx, c.Min), "To", number(ctx, c.Max))
	}
	return words.N(ctx, "character.kind-states", len(c.States))
}

// confusedWords say which states people mix up.
func confusedWords(ctx context.Context, c *diagnosis.Character, pair diagnosis.Confused) string {
	label := func(id string) string {
		if i := c.State(id); i >= 0 {
			return c.States[i].Label
		}
		return id
	}
	return words.T(ctx, "character.mixed-up", "A", label(pair.States[0]), "B", label(pair.States[1]), "Times", number(ctx, pair.Weight))
}

// linked is a rule of the tables that ties a character to others.
type linked struct {
	Others  []string // character ids
	Words   string
	Because string
}

// linksOf are the rules that a character takes part in.
func linksOf(ctx context.Context, b Book, c *diagnosis.Character) []linked {
	var found []linked
	for _, d := range b.Dependent {
		if !slices.Contains(d.Characters, c.ID) {
			continue
		}
		others := slices.DeleteFunc(slices.Clone(d.Characters), func(id string) bool { return id == c.ID })
		found = append(found, linked{others, words.T(ctx, "character.partly-same", "Exponent", number(ctx, d.Exponent)), d.Because})
	}
	for _, rule := range b.Incompatible {
		for _, side := range [][2]diagnosis.Selection{{rule.First, rule.Second}, {rule.Second, rule.First}} {
			if side[0].Character == c.ID {
				apart := words.T(ctx, "character.cannot-go", "A", statesWords(ctx, b, side[0]), "B", statesWords(ctx, b, side[1]))
				found = append(found, linked{[]string{side[1].Character}, apart, rule.Because})
			}
		}
	}
	for _, rule := range b.AtMost {
		switch c.ID {
		case rule.Less:
			found = append(found, linked{[]string{rule.More}, words.T(ctx, "character.not-less"), rule.Because})
		case rule.More:
			found = append(found, linked{[]string{rule.Less}, words.T(ctx, "character.not-more"), rule.Because})
		}
	}
	return found
}

// statesWords are the states of a selection in words.
func statesWords(ctx context.Context, b Book, s diagnosis.Selection) string {
	var labels []string
	for _, id := range s.States {
		labels = append(labels, words.T(ctx, "character.quoted", "State", b.State(s.Character, id)))
	}
	return strings.Join(labels, " "+words.T(ctx, "character.or")+" ")
}
