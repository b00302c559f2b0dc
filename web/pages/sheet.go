package pages

import (
	"context"
	"slices"
	"strings"

	"revidit/review/diagnosis"
	"revidit/web/words"
)

// occurring is a state of a cell with how often it occurs.
type occurring struct {
	State diagnosis.State
	P     float64
	Words string
}

// plain is the least share at which a state is shown with its drawing; below it words are enough.
const plain = 0.05

// present are the states of a cell that occur, the commonest first.
func present(ctx context.Context, c *diagnosis.Character, cell *diagnosis.Cell) []occurring {
	var found []occurring
	for i, p := range cell.P {
		if p > 0 {
			found = append(found, occurring{State: c.States[i], P: p, Words: frequency(ctx, cell, i)})
		}
	}
	slices.SortStableFunc(found, func(a, b occurring) int { return descending(a.P, b.P) })
	return found
}

func descending(a, b float64) int {
	switch {
	case a > b:
		return -1
	case a < b:
		return 1
	}
	return 0
}

// common are the states that are shown one by one, and scarce the rest in one line. The commonest is always common.
func common(ctx context.Context, c *diagnosis.Character, cell *diagnosis.Cell) (common []occurring, scarce string) {
	var rest []string
	for i, o := range present(ctx, c, cell) {
		if i == 0 || o.P >= plain {
			common = append(common, o)
			continue
		}
		rest = append(rest, o.State.Label+" ("+o.Words+")")
	}
	return common, strings.Join(rest, "; ")
}

func commonOf(ctx context.Context, c *diagnosis.Character, cell *diagnosis.Cell) []occurring {
	found, _ := common(ctx, c, cell)
	return found
}

func scarceOf(ctx context.Context, c *diagnosis.Character, cell *diagnosis.Cell) string {
	_, rest := common(ctx, c, cell)
	return rest
}

func frequency(ctx context.Context, cell *diagnosis.Cell, i int) string {
	share := Share(ctx, cell.P[i])
	word := ""
	if i < len(cell.Words) {
		word = cell.Words[i]
	}
	if word == "" || strings.ContainsAny(word, "0123456789") {
		word = wordFor(cell.P[i])
	}
	if word == "always" && cell.P[i] < 1 {
		word = "nearly-always" // always is a weight: beside rarely it leaves a little
	}
	return words.T(ctx, "sheet.often-"+word) + ", " + share
}

// wordFor is the key of a word for a share that the tables give as a number. The steps are our own choice.
func wordFor(p float64) string {
	switch {
	case p == 1:
		return "always"
	case p >= 0.95:
		return "nearly-always"
	case p >= 0.5:
		return "usually"
	case p >= 0.15:
		return "often"
	case p >= 0.04:
		return "sometimes"
	}
	return "rarely"
}

func absentStates(ctx context.Context, c *diagnosis.Character, cell *diagnosis.Cell) string {
	var labels []string
	for i, s := range c.States {
		if cell.P[i] == 0 {
			labels = append(labels, s.Label)
		}
	}
	if c.Kind == diagnosis.KindCount && len(labels) > 0 {
		return words.T(ctx, "sheet.any-other")
	}
	return strings.Join(labels, "; ")
}

// recorded are the characters of a region that a family has cells for; missing are the others.
func recorded(f *diagnosis.Family, r Region) (found, missing []diagnosis.Character) {
	for _, c := range r.Characters {
		if cellOf(f, c.ID) != nil {
			found = append(found, c)
		} else {
			missing = append(missing, c)
		}
	}
	return found, missing
}

// cellOf is the family's own cell of a character, otherwise that of its first form that has one, or nil.
func cellOf(f *diagnosis.Family, character string) *diagnosis.Cell {
	if cell := f.Cells[character]; cell != nil {
		return cell
	}
	for i := range f.Forms {
		if cell := f.Forms[i].Cells[character]; cell != nil {
			return cell
		}
	}
	return nil
}

func recordedIn(f *diagnosis.Family, r Region) []diagnosis.Character {
	found, _ := recorded(f, r)
	return found
}

// unrecorded are the characters for which a family has no cell.
func unrecorded(b Book, f *diagnosis.Family) []diagnosis.Character {
	var missing []diagnosis.Character
	for _, r := range b.Regions() {
		_, without := recorded(f, r)
		missing = append(missing, without...)
	}
	return missing
}

// lengths are the length characters that a family has a cell for.
func lengths(b Book, f *diagnosis.Family) []diagnosis.Character {
	var found []diagnosis.Character
	for _, c := range b.Characters {
		if c.Kind == diagnosis.KindLength && cellOf(f, c.ID) != nil {
			found = append(found, c)
		}
	}
	return found
}

// shortSource is the beginning of a citation, up to its year, with the place in the work and how it was consulted.
func shortSource(ctx context.Context, b Book, c diagnosis.Citation) string {
	source := c.Source
	if s, ok := b.Tables.Source(c.Source); ok {
		source, _, _ = strings.Cut(s.Citation, ".  ")
		if i := strings.IndexAny(source, "0123456789"); i >= 0 && i+4 <= len(source) {
			source = source[:i+4]
		}
	}
	source = strings.TrimRight(source, ". ")
	if c.Place != "" {
		source += ", " + c.Place
	}
	return source + " " + basisWords(ctx, c.Basis)
}

// sourcesOf are the works that a family's cells cite, whole, in the order of the tables.
func sourcesOf(b Book, f *diagnosis.Family) []string {
	used := map[string]bool{}
	for i := range f.Forms {
		for _, cell := range f.Forms[i].Cells {
			used[cell.Citation.Source] = true
		}
	}
	var found []string
	for _, s := range b.Sources {
		if used[s.ID] {
			found = append(found, s.Citation)
		}
	}
	return found
}
