package judgement

import (
	"cmp"
	"slices"

	"revidit/review/diagnosis"
)

// Typical is what a family shows of a character, over all its forms.
type Typical struct {
	// Recorded: each form has a cell; otherwise nothing else is said.
	Recorded bool
	// Usual spans the middle nine tenths of every form, in millimetres; of a length.
	Usual [2]float64
	// States are those with at least typicalShare, of a count in the order of numbers, otherwise the commonest first. Most is the commonest
	// of all, whatever its share.
	States []Share
	Most   Share
}

// Share is a state, by its position among those of its character, with its share of a family.
type Share struct {
	State int
	P     float64
}

// typicalShare is the least share of a family that a typical state has.
const typicalShare = 0.05

// TypicalOf is what a family shows of a character.
func TypicalOf(f *diagnosis.Family, c *diagnosis.Character) Typical {
	t := Typical{Recorded: records(f, c.ID)}
	switch {
	case !t.Recorded:
	case c.Kind == diagnosis.KindLength:
		t.Usual = usualLengths(f, c)
	default:
		for s := range c.States {
			p, _ := f.Share(c.ID, s)
			if s == 0 || p > t.Most.P {
				t.Most = Share{s, p}
			}
			if p >= typicalShare {
				t.States = append(t.States, Share{s, p})
			}
		}
		if c.Kind == diagnosis.KindStates {
			slices.SortStableFunc(t.States, func(x, y Share) int { return cmp.Compare(y.P, x.P) })
		}
	}
	return t
}

func usualLengths(f *diagnosis.Family, c *diagnosis.Character) [2]float64 {
	usual := f.Forms[0].Cells[c.ID].Length.Usual
	for _, form := range f.Forms {
		l := form.Cells[c.ID].Length.Usual
		usual[0], usual[1] = min(usual[0], l[0]), max(usual[1], l[1])
	}
	return usual
}

// Usually says whether a share of a family is so large that the others are exceptions.
func Usually(share float64) bool { return share >= usuallyShare }

// Shares from which words are used. They lie between what the words of FORMAT.md come to in a cell.
const (
	nearlyAlwaysShare = 0.95
	usuallyShare      = 0.55
	oftenShare        = 0.25
)

// HowOften is a code for a share of a family, from sometimes to nearly-always.
func HowOften(share float64) string {
	switch {
	case share >= nearlyAlwaysShare:
		return "nearly-always"
	case share >= usuallyShare:
		return "usually"
	case share >= oftenShare:
		return "often"
	}
	return "sometimes"
}
