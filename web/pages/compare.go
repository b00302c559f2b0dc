package pages

import (
	"context"
	"math"

	"revidit/review/diagnosis"
	"revidit/web/words"
)

// CompareData is a comparison of two families. A and B are nil until both are chosen.
type CompareData struct {
	A, B *diagnosis.Family
	Form Form
	Rows []Compared // the character that tells most first
}

// Compared is a character with how much it is expected to tell between the two, in bits of the one bit that there is to know.
type Compared struct {
	Character *diagnosis.Character
	Bits      float64
}

// telling are the rows that tell anything worth a look; the rest is alike.
func (d CompareData) telling() (telling, alike []Compared) {
	for _, r := range d.Rows {
		if r.Bits >= leastTelling {
			telling = append(telling, r)
		} else {
			alike = append(alike, r)
		}
	}
	return telling, alike
}

func tellingOf(d CompareData) []Compared {
	rows, _ := d.telling()
	return rows
}

func alikeOf(d CompareData) []diagnosis.Character {
	_, rows := d.telling()
	var found []diagnosis.Character
	for _, r := range rows {
		found = append(found, *r.Character)
	}
	return found
}

// leastTelling is the information, in bits, below which a character is listed as alike. The steps are our own choice.
const leastTelling = 0.02

// tellsWords say what a number of bits means between two that are taken for equally likely. Where both kinds of mistake
// are equally frequent, 0.7 bits is a mistake in about 19 looks, 0.35 one in 6 and 0.1 one in 3 (1 − H(p), H the binary
// entropy).
func tellsWords(ctx context.Context, bits float64) string {
	switch {
	case bits >= 0.7:
		return words.T(ctx, "compare.nearly-always")
	case bits >= 0.35:
		return words.T(ctx, "compare.often")
	case bits >= 0.1:
		return words.T(ctx, "compare.a-hint")
	}
	return words.T(ctx, "compare.a-faint-hint")
}

// shares are the states of a character in a family over all its forms, the commonest first; none where it has no cell.
func shares(ctx context.Context, f *diagnosis.Family, c *diagnosis.Character) []occurring {
	whole := &diagnosis.Cell{P: make([]float64, len(c.States))}
	for i := range c.States {
		p, known := f.Share(c.ID, i)
		if !known {
			return nil
		}
		whole.P[i] = p
	}
	return present(ctx, c, whole)
}

// typical are the states of shares that are worth a drawing.
func typical(all []occurring) []occurring {
	var found []occurring
	for i, o := range all {
		if i == 0 || o.P >= plain {
			found = append(found, o)
		}
	}
	return found
}

// differs says in words where two families part most in a character; empty where one has no cell.
func differs(ctx context.Context, a, b *diagnosis.Family, c *diagnosis.Character) string {
	most, gap := -1, 0.0
	var pa, pb float64
	for i := range c.States {
		x, known := a.Share(c.ID, i)
		y, alsoKnown := b.Share(c.ID, i)
		if !known || !alsoKnown {
			return ""
		}
		if math.Abs(x-y) > gap {
			most, gap, pa, pb = i, math.Abs(x-y), x, y
		}
	}
	if most < 0 {
		return words.T(ctx, "compare.same")
	}
	return words.T(ctx, "compare.differs", "State", c.States[most].Label, "ShareA", shareShort(ctx, pa), "A", a.Name, "ShareB", shareShort(ctx, pb), "B", b.Name)
}

// shareShort is a share in a comparison.
func shareShort(ctx context.Context, p float64) string {
	switch p {
	case 0:
		return words.T(ctx, "compare.never")
	case 1:
		return words.T(ctx, "compare.always")
	}
	return Share(ctx, p)
}

// tell is what one family's look-alikes say about the other; empty where they say nothing.
func tell(f, other *diagnosis.Family) string {
	for _, l := range f.LookAlikes {
		if l.Family == other.Name {
			return l.Tell
		}
	}
	return ""
}
