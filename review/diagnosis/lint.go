package diagnosis

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

const (
	// impossibleShare is how much of a form may show what a rule calls impossible before the table is wrong. Words such
	// as rarely always leave a little.
	impossibleShare = 0.05
	// tellingDistance is how far apart look-alikes must be in at least one character (total variation, 0 to 1).
	tellingDistance = 0.5
	// sexShare is the largest part of a family that can be of one sex, with some room for rounded weights.
	sexShare = 0.55
)

// Lint returns what is well-formed and still wrong in loaded tables: a form that overrides nothing, a family that
// mostly shows what a rule calls impossible, look-alikes that nothing tells apart, a sex that outweighs the other, a
// character that no family knows. The result is sorted; it is empty for good tables.
func (t *Tables) Lint() []Problem {
	l := linter{tables: t, reported: map[[2]*Cell]bool{}}
	for i := range t.Families {
		f := &t.Families[i]
		l.overrides(f)
		l.sexes(f)
		l.formNames(f)
		l.rules(f)
		l.lookAlikes(f)
	}
	l.unknownCharacters()
	l.problems = append(l.problems, t.pictureless()...)
	l.problems = append(l.problems, t.partless()...)
	sortProblems(l.problems)
	return l.problems
}

// Notes returns what is no fault but worth knowing: sources that no cell cites, and the characters each family's table
// leaves out.
func (t *Tables) Notes() []Problem {
	var notes []Problem
	cited := map[string]bool{}
	for i := range t.Families {
		f := &t.Families[i]
		eachCell(f, func(c *Cell) { cited[c.Citation.Source] = true })
		var missing []string
		for _, c := range t.Characters {
			if _, known := f.knows(c.ID); !known {
				missing = append(missing, c.ID)
			}
		}
		if len(missing) > 0 {
			notes = append(notes, Problem{File: f.File, Message: "has no cell for " + strings.Join(missing, ", ")})
		}
	}
	for _, s := range t.Sources {
		if !cited[s.ID] {
			notes = append(notes, Problem{File: sourcesFile, Message: "no cell cites " + s.ID})
		}
	}
	sortProblems(notes)
	return notes
}

// eachCell visits the family's own cells and those of its forms, each once.
func eachCell(f *Family, visit func(*Cell)) {
	for _, c := range f.Cells {
		visit(c)
	}
	for i := range f.Forms {
		for _, id := range f.Forms[i].Own {
			visit(f.Forms[i].Cells[id])
		}
	}
}

// knows returns a cell of the character where every form has one.
func (f *Family) knows(character string) (*Cell, bool) {
	for i := range f.Forms {
		if f.Forms[i].Cells[character] == nil {
			return nil, false
		}
	}
	return f.Forms[0].Cells[character], true
}

type linter struct {
	tables   *Tables
	problems []Problem
	// reported are the pairs of cells already reported, which several forms may share.
	reported map[[2]*Cell]bool
}

// once is true the first time that it is asked about two cells.
func (l *linter) once(a, b *Cell) bool {
	pair := [2]*Cell{a, b}
	if l.reported[pair] {
		return false
	}
	l.reported[pair] = true
	return true
}

func (l *linter) problem(file string, line int, format string, args ...any) {
	l.problems = append(l.problems, Problem{File: file, Line: line, Message: fmt.Sprintf(format, args...)})
}

func (l *linter) overrides(f *Family) {
	for i := range f.Forms {
		form := &f.Forms[i]
		for _, id := range form.Own {
			own, base := form.Cells[id], f.Cells[id]
			if base != nil && slices.Equal(own.P, base.P) && own.Length == base.Length {
				l.problem(f.File, own.Line, "form %s: %s is the same as in the whole %s (line %d); remove it here", form.ID, id, l.tables.Group.Rank, base.Line)
			}
		}
	}
}

// notNaming are words that name no form by themselves.
var notNaming = []string{"a", "and", "in", "kin", "most", "of", "or", "other", "others", "proper", "the", "with"}

// formNames asks for a name that a person reads: forms are shown as what a specimen is most like. A label of scientific
// names alone says nothing to whoever does not know the name already.
func (l *linter) formNames(f *Family) {
	for _, form := range f.Forms {
		if len(f.Forms) > 1 && !slices.ContainsFunc(strings.FieldsFunc(form.Label, isNoLetter), commonWord) {
			l.problem(f.File, form.line, "form %s: the label %q is scientific names alone; say in plain words what it is or looks like", form.ID, form.Label)
		}
	}
}

func isNoLetter(r rune) bool { return !unicode.IsLetter(r) }

func commonWord(word string) bool {
	first, _ := utf8.DecodeRuneInString(word)
	return unicode.IsLower(first) && !slices.Contains(notNaming, word)
}

func (l *linter) sexes(f *Family) {
	for _, sex := range []string{"male", "female"} {
		sum, line := 0.0, 0
		for _, form := range f.Forms {
			if form.Sex == sex {
				sum += form.Weight
				line = form.line
			}
		}
		if sum > sexShare {
			l.problem(f.File, line, "forms that are %s weigh %.2f together, but a sex is about half of %s %s; the rest belongs to forms without sex",
				sex, sum, article(l.tables.Group.Rank), l.tables.Group.Rank)
		}
	}
}

// rules compares each form with what the rules call impossible. Whatever the dependence of two characters within a
// form, states of share p and q occur together in at least p + q - 1 of it (Fréchet's lower bound).
func (l *linter) rules(f *Family) {
	for i := range f.Forms {
		form := &f.Forms[i]
		for _, r := range l.tables.Incompatible {
			first, second := form.Cells[r.First.Character], form.Cells[r.Second.Character]
			if first == nil || second == nil || l.coversAll(r.First) || l.coversAll(r.Second) {
				continue
			}
			together := l.share(first, r.First) + l.share(second, r.Second) - 1
			if together > impossibleShare && l.once(first, second) {
				l.problem(f.File, second.Line, "form %s: at least %.2f of it shows %s (line %d) together with this %s, which the rule %s calls impossible: %s",
					form.ID, together, r.First.Character, first.Line, r.Second.Character, r.ID, r.Because)
			}
		}
		for _, r := range l.tables.AtMost {
			l.atMost(f, form, r)
		}
	}
}

// coversAll is true for a selection of every state, which says that the character does not apply (the texture of elytra
// that are absent). A table cannot code that: a form keeps the family's cell, and the rule catches the specimen.
func (l *linter) coversAll(s Selection) bool {
	c, _ := l.tables.Character(s.Character)
	return len(s.States) == len(c.States)
}

// share is how much of a cell the selection covers, 0 to 1.
func (l *linter) share(cell *Cell, s Selection) float64 {
	c, _ := l.tables.Character(s.Character)
	p := 0.0
	for _, state := range s.States {
		p += cell.P[c.State(state)]
	}
	return p
}

func (l *linter) atMost(f *Family, form *Form, r AtMost) {
	less, more := form.Cells[r.Less], form.Cells[r.More]
	if less == nil || more == nil {
		return
	}
	lessCharacter, _ := l.tables.Character(r.Less)
	moreCharacter, _ := l.tables.Character(r.More)
	for n := int(lessCharacter.Min) + 1; n <= int(lessCharacter.Max); n++ {
		together := atLeast(lessCharacter, less, n) - atLeast(moreCharacter, more, n)
		if together > impossibleShare && l.once(less, more) {
			l.problem(f.File, less.Line, "form %s: in at least %.2f of it %s is %d or more and %s (line %d) less, which the rule %s calls impossible: %s",
				form.ID, together, r.Less, n, r.More, more.Line, r.ID, r.Because)
			return
		}
	}
}

// atLeast returns the share of a count that is n or more.
func atLeast(c *Character, cell *Cell, n int) float64 {
	p := 0.0
	for i := range cell.P {
		if int(c.Min)+i >= n {
			p += cell.P[i]
		}
	}
	return p
}

func (l *linter) lookAlikes(f *Family) {
	for _, a := range f.LookAlikes {
		other, _ := l.tables.Family(a.Family)
		best, character := 0.0, ""
		for _, c := range l.tables.Characters {
			if d := distance(&c, f, other); d > best {
				best, character = d, c.ID
			}
		}
		if best < tellingDistance {
			l.problem(f.File, a.line, "no character tells %s from its look-alike %s (the best is %q, %.2f apart of at most 1); code the one that the tell names",
				f.Name, a.Family, character, best)
		}
	}
}

// distance is the total variation between two families in one character, all forms weighted; 0 where one of them
// lacks it, and for lengths.
func distance(c *Character, a, b *Family) float64 {
	sum := 0.0
	for s := range c.States {
		p, knownA := a.Share(c.ID, s)
		q, knownB := b.Share(c.ID, s)
		if !knownA || !knownB {
			return 0
		}
		sum += math.Abs(p - q)
	}
	return sum / 2
}

func (l *linter) unknownCharacters() {
	for _, c := range l.tables.Characters {
		known := slices.ContainsFunc(l.tables.Families, func(f Family) bool {
			_, known := f.knows(c.ID)
			return known
		})
		if !known {
			l.problem(charactersFile, c.line, "%s: no %s has a cell for this character, so it can say nothing; code it or remove it", c.ID, l.tables.Group.Rank)
		}
	}
}
