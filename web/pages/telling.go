package pages

import (
	"cmp"
	"context"
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/words"
)

// telling puts the codes of an assessment into words: by the tables that it was made by, and where these are not at hand by its codes
// alone, with labels of the tables in force.
type telling struct {
	site Site
	a    *judgement.Assessment
	by   Book   // the tables that it was made by; zero where they are not at hand
	sex  string // of the specimen, for assessments of a time that did not name it
}

func (s Site) telling(a *judgement.Assessment, sex string) telling {
	return telling{s, a, s.madeBy(a.TablesHash), sex}
}

// madeBy is the book of the tables of a hash; zero where they are not at hand.
func (s Site) madeBy(hash string) Book {
	for _, books := range [][]Book{s.Books, s.Formerly, {s.Book}} {
		for _, b := range books {
			if b.Tables != nil && b.Hash == hash {
				return b
			}
		}
	}
	return Book{}
}

// Lacks says whether the tables that an assessment was made by are not among those of the site.
func (s Site) Lacks(a *judgement.Assessment) bool {
	return a != nil && a.TablesHash != "" && s.madeBy(a.TablesHash).Tables == nil
}

// InWords is an assessment with its words in the language of the context. sex is that of the specimen.
func InWords(ctx context.Context, site Site, a judgement.Assessment, sex string) judgement.Assessment {
	t := site.telling(&a, sex)
	told := a
	told.Remark = t.remark()
	told.Contradictions = t.contradictions(ctx, a.Contradictions)
	told.Warnings = append([]string{}, t.caveats(ctx)...)
	told.Forms, told.Next, told.Why = slices.Clone(a.Forms), slices.Clone(a.Next), slices.Clone(a.Why)
	for i := range told.Forms {
		told.Forms[i].Name = t.own().form(a.Forms[i])
	}
	for i := range told.Next {
		told.Next[i].Expect = t.expect(ctx, a.Next[i])
	}
	for i := range told.Why {
		told.Why[i].Silence = t.own().silence(a.Why[i])
	}
	return told
}

// ContradictionsInWords are some contradictions of an assessment with their words.
func ContradictionsInWords(ctx context.Context, site Site, a *judgement.Assessment, sex string, some []judgement.Contradiction) []judgement.Contradiction {
	return site.telling(a, sex).contradictions(ctx, some)
}

func (t telling) contradictions(ctx context.Context, some []judgement.Contradiction) []judgement.Contradiction {
	told := slices.Clone(some)
	for i, c := range some {
		told[i].Reason, told[i].Resolve = t.reason(ctx, c), t.resolve(ctx, c)
	}
	return told
}

// own is the book of the assessment's group: that which it was made by, or else the one in force.
func (t telling) own() Book {
	if t.by.Tables != nil {
		return t.by
	}
	return t.site.book(t.a.Group)
}

// of is the book that knows a character, the assessment's own first.
func (t telling) of(character string) Book {
	if t.by.character(character) != nil {
		return t.by
	}
	return t.site.of(character)
}

// remark is what became of an old name that was proposed; empty where none was.
func (t telling) remark() string {
	for _, c := range t.a.Caveats {
		if c.Kind == judgement.CaveatOldName && t.own().Tables != nil {
			_, remark, _ := t.own().Resolve(c.Name)
			return remark
		}
	}
	return t.own().word(t.a.Remark)
}

// expect says what those of the assessment's group show of a character of a wider one.
func (t telling) expect(ctx context.Context, n judgement.Next) string {
	if b := t.own(); b.Tables != nil && n.Group != "" {
		return t.site.expectWords(ctx, b.Group.Taxon, n)
	}
	return n.Expect
}

// form is what a form of a family is called.
func (b Book) form(l judgement.Likeness) string {
	if b.Tables != nil {
		if f, ok := b.Family(l.Family); ok {
			if i := slices.IndexFunc(f.Forms, func(f diagnosis.Form) bool { return f.ID == l.Form }); i >= 0 {
				return cmp.Or(f.Forms[i].Label, l.Form)
			}
		}
	}
	return cmp.Or(l.Name, l.Form)
}

// silence says what nobody has mentioned; empty of what was stated.
func (b Book) silence(w judgement.Weight) string {
	if c := b.character(w.Character); w.Silent && c != nil {
		return c.Silence
	}
	return b.word(w.Silence)
}

// expectWords say what those of a taxon show of a character of a wider group, by the tables of that.
func (s Site) expectWords(ctx context.Context, taxon string, n judgement.Next) string {
	if n.Expect != "" && words.Tag(ctx) == words.Languages[0] {
		return n.Expect // of a time that stored it
	}
	if told := s.retold(ctx, "sentence.expect-", n.Expect); told != n.Expect {
		return told
	}
	b := s.book(n.Group)
	c := b.character(n.Character)
	if c == nil {
		return n.Expect
	}
	f, ok := b.Family(taxon)
	if !ok {
		return n.Expect
	}
	return typicalWords(ctx, f, c)
}

// TypicalWords say what is typical of a family in a character, as in "usually saw-like, sometimes thread-like".
func (b Book) TypicalWords(ctx context.Context, f *diagnosis.Family, character string) string {
	if c := b.character(character); c != nil {
		return typicalWords(ctx, f, c)
	}
	return words.T(ctx, "sentence.expect-not-recorded")
}

func typicalWords(ctx context.Context, f *diagnosis.Family, c *diagnosis.Character) string {
	t := judgement.TypicalOf(f, c)
	switch {
	case !t.Recorded:
		return words.T(ctx, "sentence.expect-not-recorded")
	case c.Kind == diagnosis.KindLength:
		return words.T(ctx, "sentence.expect-length", "From", number(ctx, t.Usual[0]), "To", number(ctx, t.Usual[1]))
	case c.Kind == diagnosis.KindCount:
		return typicalCount(ctx, c, t)
	}
	return typicalStates(ctx, c, t)
}

func oftenWord(ctx context.Context, share float64) string {
	return words.T(ctx, "sheet.often-"+judgement.HowOften(share))
}

func typicalCount(ctx context.Context, c *diagnosis.Character, t judgement.Typical) string {
	if len(t.States) == 0 {
		return words.T(ctx, "sentence.expect-no-number")
	}
	most := words.T(ctx, "sentence.expect-state", "Often", oftenWord(ctx, t.Most.P), "State", c.States[t.Most.State].ID)
	first, last := c.States[t.States[0].State].ID, c.States[t.States[len(t.States)-1].State].ID
	switch {
	case first == last:
		return most
	case judgement.Usually(t.Most.P):
		return words.T(ctx, "sentence.expect-numbers-most", "From", first, "To", last, "Most", most)
	}
	return words.T(ctx, "sentence.expect-numbers", "From", first, "To", last)
}

// typicalStates name those that are as common, by the word for it, together.
func typicalStates(ctx context.Context, c *diagnosis.Character, t judgement.Typical) string {
	told, last := "", ""
	for _, s := range t.States {
		often, label := judgement.HowOften(s.P), c.States[s.State].Label
		switch {
		case often == last:
			told = words.T(ctx, "sentence.or", "Some", told, "Last", label)
			continue
		case last != "":
			told += ", "
		}
		told, last = told+words.T(ctx, "sentence.expect-state", "Often", oftenWord(ctx, s.P), "State", label), often
	}
	return told
}
