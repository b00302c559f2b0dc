package pages

import (
	"cmp"
	"context"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"golang.org/x/text/language"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/words"
)

// reasonWords say why something does not fit, of an animal of that sex, and resolveWords what would settle it.
func reasonWords(ctx context.Context, site Site, a judgement.Assessment, sex string, c judgement.Contradiction) string {
	return site.telling(&a, sex).reason(ctx, c)
}

func resolveWords(ctx context.Context, site Site, a judgement.Assessment, c judgement.Contradiction) string {
	return site.telling(&a, "").resolve(ctx, c)
}

// Reason is reasonWords, for files.
func Reason(ctx context.Context, site Site, a judgement.Assessment, sex string, c judgement.Contradiction) string {
	return reasonWords(ctx, site, a, sex, c)
}

func (t telling) reason(ctx context.Context, c judgement.Contradiction) string {
	if c.Reason != "" {
		return t.recordedReason(ctx, c)
	}
	return t.reasonBy(ctx, t.by, t.a.Sex, c)
}

var byDecibans = regexp.MustCompile(`, by \d+ decibans`)

// recordedReason is that of an assessment of a time that stored words. In English that is what the record says, without decibans where
// they are not shown; in other languages it is made of what stands there as ids.
func (t telling) recordedReason(ctx context.Context, c judgement.Contradiction) string {
	about := t.of(c.Character)
	switch {
	case words.Tag(ctx) != language.English && about.character(c.Character) != nil:
		if t.by.Tables != nil {
			about = t.by
		}
		return t.reasonBy(ctx, about, t.sex, recognized(c))
	case t.site.Measures():
		return c.Reason
	}
	return byDecibans.ReplaceAllString(c.Reason, "")
}

// recognized is a contradiction with the codes that its words stand for.
func recognized(c judgement.Contradiction) judgement.Contradiction {
	if c.Kind != judgement.BetterFit {
		return c
	}
	if id, values, ok := words.Recognize("sentence.reason-better-fit", c.Reason); ok {
		c.Decibans, _ = strconv.Atoi(values["decibans"]) // where they stand there
		c.Plainly = strings.HasPrefix(id, "sentence.reason-better-fit-plainly")
	}
	return c
}

// reasonBy tells by some tables what these decide, of an animal of that sex.
func (t telling) reasonBy(ctx context.Context, by Book, sex string, c judgement.Contradiction) string {
	switch c.Kind {
	case judgement.Excluded:
		return t.improbable(ctx, by, sex, c, "never")
	case judgement.Unusual:
		return t.improbable(ctx, by, sex, c, "rarely")
	case judgement.Combination:
		return t.combination(ctx, by, sex, c)
	case judgement.Incompatible:
		return t.incompatible(ctx, by, c)
	case judgement.BetterFit:
		return t.betterFit(ctx, c)
	}
	return words.T(ctx, "sentence.reason-unseen", "Character", t.of(c.Character).Character(c.Character))
}

func (t telling) finding(ctx context.Context, character, state string) string {
	return t.of(character).finding(ctx, character, state)
}

// finding is a character with its state, in a sentence.
func (b Book) finding(ctx context.Context, character, state string) string {
	form := "state"
	if c := b.character(character); c != nil {
		switch c.Kind {
		case diagnosis.KindLength:
			form = "length"
		case diagnosis.KindCount:
			form = "count"
		}
	}
	return words.T(ctx, "sentence.finding-"+form, "Character", b.Character(character), "State", b.State(character, state))
}

// formsIn are the forms of a family that an animal of that sex can have; none where the tables are not at hand or lack it.
func (b Book) formsIn(family, sex string) []diagnosis.Form {
	if b.Tables == nil {
		return nil
	}
	f, ok := b.Family(family)
	if !ok {
		return nil
	}
	return judgement.FormsOf(f, sex)
}

// improbable says of a state that it occurs "never" or "rarely", and what is usual instead.
func (t telling) improbable(ctx context.Context, by Book, sex string, c judgement.Contradiction, how string) string {
	about, found, forms := by.character(c.Character), t.finding(ctx, c.Character, c.State), by.formsIn(c.Family, sex)
	lacks := func(f diagnosis.Form) bool { return f.Cells[c.Character] == nil }
	switch {
	case about == nil || len(forms) == 0 || slices.ContainsFunc(forms, lacks):
		return words.T(ctx, "sentence.reason-"+how+"-plain", "Finding", found, "Family", c.Family)
	case about.Kind == diagnosis.KindLength:
		least, most := lengthRange(forms, c.Character)
		return words.T(ctx, "sentence.reason-length-"+how, "Finding", found, "Family", c.Family, "From", threeDigits(ctx, least), "To", threeDigits(ctx, most))
	}
	return words.T(ctx, "sentence.reason-"+how, "Finding", found, "Family", c.Family, "Usual", usualWords(ctx, about, forms))
}

// lengthRange is the shortest and the longest of forms that all have a cell, in millimetres.
func lengthRange(forms []diagnosis.Form, character string) (least, most float64) {
	for i := range forms {
		l := forms[i].Cells[character].Length
		if i == 0 {
			least, most = l.Min, l.Max
		}
		least, most = min(least, l.Min), max(most, l.Max)
	}
	return least, most
}

// threeDigits is a number with no more than three digits that count.
func threeDigits(ctx context.Context, x float64) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 3, 64), 64)
	if err != nil {
		return number(ctx, x)
	}
	return number(ctx, rounded)
}

// usualWords are what forms mostly show of a character.
func usualWords(ctx context.Context, c *diagnosis.Character, forms []diagnosis.Form) string {
	states, how := judgement.Usual(c, forms)
	labels := make([]string, len(states))
	for i, state := range states {
		labels[i] = c.States[state].Label
		if c.Kind != diagnosis.KindCount {
			labels[i] = words.T(ctx, "common.quoted", "Text", labels[i])
		}
	}
	switch how {
	case judgement.Several:
		return words.T(ctx, "sentence.usual-several")
	case judgement.Equally:
		return words.T(ctx, "sentence.usual-equally", "States", joinedBy(ctx, "sentence.or", labels))
	}
	return words.T(ctx, "sentence.usual-"+string(how), "State", labels[0])
}

// combination says in which forms each of some states occurs that no form shows together.
func (t telling) combination(ctx context.Context, by Book, sex string, c judgement.Contradiction) string {
	forms := by.formsIn(c.Family, sex)
	var told []string
	for _, s := range append([]judgement.Selected{{Character: c.Character, State: c.State}}, c.With...) {
		found, names := t.finding(ctx, s.Character, s.State), by.showing(forms, s)
		if len(names) > 0 {
			found = words.T(ctx, "sentence.reason-occurs-in", "Finding", found, "Forms", strings.Join(names, ", "))
		}
		told = append(told, found)
	}
	id := "sentence.reason-combination"
	if len(forms) == 0 {
		id = "sentence.reason-combination-plain"
	}
	return words.T(ctx, id, "Family", c.Family, "Findings", strings.Join(told, "; "))
}

// showing are the names of the forms that show a state ever.
func (b Book) showing(forms []diagnosis.Form, s judgement.Selected) (names []string) {
	c := b.character(s.Character)
	for i := range forms {
		if c == nil || judgement.Occurs(&forms[i], c, s.State) {
			names = append(names, cmp.Or(forms[i].Label, forms[i].ID))
		}
	}
	return names
}

// incompatible says why two statements cannot both be true, by the rule of the tables.
func (t telling) incompatible(ctx context.Context, by Book, c judgement.Contradiction) string {
	first := t.finding(ctx, c.Character, c.State)
	if len(c.With) == 0 {
		return first
	}
	with := c.With[0]
	second, because := t.finding(ctx, with.Character, with.State), by.becauseOf(c)
	if because == "" {
		return words.T(ctx, "sentence.reason-incompatible-plain", "First", first, "Second", second)
	}
	return words.T(ctx, "sentence.reason-incompatible", "First", first, "Second", second, "Because", because)
}

// becauseOf is the reason of the rule that two statements break: of a time that did not store which, the first one that they do. Empty
// where there is none at hand.
func (b Book) becauseOf(c judgement.Contradiction) string {
	if b.Tables == nil {
		return ""
	}
	x, y := judgement.Selected{Character: c.Character, State: c.State}, c.With[0]
	for _, rule := range b.Incompatible {
		if c.Rule == rule.ID || c.Rule == "" && (selects(rule.First, x) && selects(rule.Second, y) || selects(rule.First, y) && selects(rule.Second, x)) {
			return rule.Because
		}
	}
	for _, rule := range b.AtMost {
		if c.Rule == rule.ID || c.Rule == "" && (rule.Less == x.Character && rule.More == y.Character || rule.Less == y.Character && rule.More == x.Character) {
			return rule.Because
		}
	}
	return ""
}

func selects(s diagnosis.Selection, given judgement.Selected) bool {
	return s.Character == given.Character && slices.Contains(s.States, given.State)
}

// betterFit says which name explains better what was stated, by how much where that is shown, and what tells it.
func (t telling) betterFit(ctx context.Context, c judgement.Contradiction) string {
	id := "sentence.reason-better-fit-most"
	if c.Plainly {
		id = "sentence.reason-better-fit-plainly"
	}
	args := []any{"Rival", c.Family, "Family", t.a.Family, "Finding", t.finding(ctx, c.Character, c.State)}
	if t.site.Measures() && c.Decibans > 0 {
		return words.T(ctx, id+"-by", append(args, "Decibans", c.Decibans)...)
	}
	return words.T(ctx, id, args...)
}

// resolve says what would settle it. In English that is what a record of a time that stored words says.
func (t telling) resolve(ctx context.Context, c judgement.Contradiction) string {
	about := t.of(c.Character)
	if c.Character == "" || c.Resolve != "" && (words.Tag(ctx) == language.English || about.character(c.Character) == nil) {
		return c.Resolve
	}
	switch c.Kind {
	case judgement.Unseen:
		return words.T(ctx, "sentence.resolve-add") + about.photosWords(ctx, c.Character)
	case judgement.Combination, judgement.Incompatible:
		told := words.T(ctx, "sentence.resolve-one-of-them")
		if c.Kind == judgement.Incompatible {
			told = words.T(ctx, "sentence.resolve-one-of-two")
		}
		told += " " + about.lookAgain(ctx, c.Character)
		for _, s := range c.With {
			told += " " + t.of(s.Character).lookAgain(ctx, s.Character)
		}
		return told
	}
	return about.lookAgain(ctx, c.Character)
}

func (b Book) lookAgain(ctx context.Context, character string) string {
	told := words.T(ctx, "sentence.resolve-look", "Character", b.Character(character), "How", howTo(b, character))
	return strings.TrimRight(told, " ") + b.photosWords(ctx, character)
}

// photosWords name the views that can show a character, after a space; empty where there are none.
func (b Book) photosWords(ctx context.Context, character string) string {
	c := b.character(character)
	if c == nil {
		return ""
	}
	var views []string
	for _, v := range b.Group.Views {
		if slices.Contains(c.Views, v.ID) {
			views = append(views, v.Label)
		}
	}
	if len(views) == 0 {
		return ""
	}
	return " " + words.T(ctx, "sentence.resolve-photos", "Views", strings.Join(views, "; "))
}
