package pages

import (
	"context"
	"regexp"
	"strconv"
	"strings"

	"golang.org/x/text/language"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/words"
)

// retold is a sentence that the record holds in English, in the language of who reads and with labels in the place of ids; one that is
// none of those whose ids begin so stays as it is.
func (s Site) retold(ctx context.Context, beginning, sentence string) string {
	id, values, ok := words.Recognize(beginning, sentence)
	if !ok {
		return sentence
	}
	if id == "sentence.warning-same" && !s.Measures() {
		id = "sentence.plain-same"
		delete(values, "decibans")
	}
	var args []any
	for place, value := range values {
		if place != "count" {
			args = append(args, capital(place), s.retoldValue(ctx, beginning, place, values))
		} else if _, err := strconv.Atoi(value); err != nil {
			return sentence
		}
	}
	if n, err := strconv.Atoi(values["count"]); err == nil {
		return words.N(ctx, id, n, args...)
	}
	return words.T(ctx, id, args...)
}

// retoldValue is a value of such a sentence, told by the name of its place.
func (s Site) retoldValue(ctx context.Context, beginning, place string, values map[string]string) string {
	value := values[place]
	switch place {
	case "missing":
		return s.retold(ctx, beginning, value)
	case "character":
		return s.of(value).Character(value)
	case "characters":
		return joinedBy(ctx, "sentence.and", s.labelsOfIDs(strings.Split(strings.Replace(value, " and ", ", ", 1), ", ")))
	case "state":
		return s.of(values["character"]).State(values["character"], value)
	case "answers":
		return s.answersRetold(value)
	case "kind":
		return contradictionShort(ctx, judgement.ContradictionKind(value))
	case "rank":
		return rankWord(ctx, value)
	case "hypothesis":
		return hypothesis(ctx, value)
	case "p", "least", "from", "to":
		return decimalRetold(ctx, value)
	case "remark":
		if s.Book.Tables == nil {
			return value
		}
		if _, remark, ok := s.Book.Resolve(values["old"]); ok {
			return remark
		}
	}
	return value
}

func (s Site) labelsOfIDs(ids []string) []string {
	labels := make([]string, len(ids))
	for i, id := range ids {
		labels[i] = s.of(id).Character(id)
	}
	return labels
}

// answersRetold puts labels in the place of ids in "CHARACTER STATE, CHARACTER STATE".
func (s Site) answersRetold(answers string) string {
	told := strings.Split(answers, ", ")
	for i, answer := range told {
		if character, state, ok := strings.Cut(answer, " "); ok {
			told[i] = s.of(character).Character(character) + " " + s.of(character).State(character, state)
		}
	}
	return strings.Join(told, ", ")
}

// decimalRetold is a number with as many decimals as it was written with.
func decimalRetold(ctx context.Context, number string) string {
	x, err := strconv.ParseFloat(number, 64)
	if err != nil {
		return number
	}
	_, decimals, _ := strings.Cut(number, ".")
	return words.Fixed(ctx, x, len(decimals))
}

// contradictionShort is the kind of what does not fit, in a word or two.
func contradictionShort(ctx context.Context, kind judgement.ContradictionKind) string {
	if id := "sentence.kind-" + string(kind); words.Has(id) {
		return words.T(ctx, id)
	}
	return string(kind)
}

var byDecibans = regexp.MustCompile(`, by \d+ decibans`)

// reasonWords say why something does not fit, of an animal of that sex. In English that is what the record says, without decibans where
// they are not shown; in other languages it is made of what stands there as ids, by the tables of the page.
func reasonWords(ctx context.Context, site Site, a judgement.Assessment, sex string, c judgement.Contradiction) string {
	about := site.of(c.Character)
	if words.Tag(ctx) == language.English || about.character(c.Character) == nil {
		if site.Measures() {
			return c.Reason
		}
		return byDecibans.ReplaceAllString(c.Reason, "")
	}
	switch c.Kind {
	case judgement.Excluded:
		return about.improbableWords(ctx, sex, c, "never")
	case judgement.Unusual:
		return about.improbableWords(ctx, sex, c, "rarely")
	case judgement.Combination:
		return about.combinationWords(ctx, sex, c)
	case judgement.Incompatible:
		return about.incompatibleWords(ctx, c)
	case judgement.BetterFit:
		return words.T(ctx, "sentence.reason-better-fit", "Rival", c.Family, "Family", a.Family, "Finding", about.finding(ctx, c.Character, c.State))
	}
	return words.T(ctx, "sentence.reason-unseen", "Character", about.Character(c.Character))
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

// improbableWords say of a state that occurs "never" or "rarely", and what is usual instead.
func (b Book) improbableWords(ctx context.Context, sex string, c judgement.Contradiction, how string) string {
	about, found := b.character(c.Character), b.finding(ctx, c.Character, c.State)
	f, ok := b.Family(c.Family)
	if !ok || cellOf(f, c.Character) == nil {
		return found
	}
	forms := judgement.FormsOf(f, sex)
	if about.Kind != diagnosis.KindLength {
		return words.T(ctx, "sentence.reason-"+how, "Finding", found, "Family", c.Family, "Usual", usualWords(ctx, b, about, forms))
	}
	least, most := lengthRange(forms, c.Character)
	return words.T(ctx, "sentence.reason-length-"+how, "Finding", found, "Family", c.Family, "From", number(ctx, least), "To", number(ctx, most))
}

// lengthRange is the shortest and the longest of some forms, in millimetres; 0 where none has a cell.
func lengthRange(forms []diagnosis.Form, character string) (least, most float64) {
	for i := range forms {
		cell := forms[i].Cells[character]
		if cell == nil {
			continue
		}
		if most == 0 {
			least = cell.Length.Min
		}
		least, most = min(least, cell.Length.Min), max(most, cell.Length.Max)
	}
	return least, most
}

// usualWords are what forms mostly show of a character.
func usualWords(ctx context.Context, b Book, c *diagnosis.Character, forms []diagnosis.Form) string {
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

// combinationWords say in which forms each of some states occurs that no form shows together.
func (b Book) combinationWords(ctx context.Context, sex string, c judgement.Contradiction) string {
	f, ok := b.Family(c.Family)
	if !ok {
		return b.finding(ctx, c.Character, c.State)
	}
	var told []string
	for _, s := range append([]judgement.Selected{{Character: c.Character, State: c.State}}, c.With...) {
		var names []string
		for _, form := range judgement.FormsOf(f, sex) {
			if b.mayShow(&form, s) {
				names = append(names, formLabel(form))
			}
		}
		told = append(told, words.T(ctx, "sentence.reason-occurs-in", "Finding", b.finding(ctx, s.Character, s.State), "Forms", strings.Join(names, ", ")))
	}
	return words.T(ctx, "sentence.reason-combination", "Family", c.Family, "Findings", strings.Join(told, "; "))
}

// mayShow says whether a form shows a state ever; one without a cell may show any, and so, here, may one with a length.
func (b Book) mayShow(form *diagnosis.Form, s judgement.Selected) bool {
	c, cell := b.character(s.Character), form.Cells[s.Character]
	if c == nil || cell == nil || c.Kind == diagnosis.KindLength {
		return true
	}
	i := c.State(s.State)
	return i >= 0 && cell.P[i] > 0
}

// incompatibleWords say why two statements cannot both be true, by the rule of the tables.
func (b Book) incompatibleWords(ctx context.Context, c judgement.Contradiction) string {
	first := b.finding(ctx, c.Character, c.State)
	if len(c.With) == 0 {
		return first
	}
	with := c.With[0]
	return words.T(ctx, "sentence.reason-incompatible", "First", first, "Second", b.finding(ctx, with.Character, with.State),
		"Because", b.becauseOf(judgement.Selected{Character: c.Character, State: c.State}, with))
}

// becauseOf is the reason of the rule that two statements break; empty where the tables have none any more.
func (b Book) becauseOf(x, y judgement.Selected) string {
	for _, rule := range b.Incompatible {
		if selects(rule.First, x) && selects(rule.Second, y) || selects(rule.First, y) && selects(rule.Second, x) {
			return rule.Because
		}
	}
	for _, rule := range b.AtMost {
		if rule.Less == x.Character && rule.More == y.Character || rule.Less == y.Character && rule.More == x.Character {
			return rule.Because
		}
	}
	return ""
}

func selects(s diagnosis.Selection, given judgement.Selected) bool {
	if s.Character != given.Character {
		return false
	}
	for _, state := range s.States {
		if state == given.State {
			return true
		}
	}
	return false
}

// resolveWords say what would settle it, as reasonWords.
func resolveWords(ctx context.Context, site Site, c judgement.Contradiction) string {
	about := site.of(c.Character)
	if words.Tag(ctx) == language.English || about.character(c.Character) == nil {
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
			told += " " + site.of(s.Character).lookAgain(ctx, s.Character)
		}
		return told
	}
	return about.lookAgain(ctx, c.Character)
}

func (b Book) lookAgain(ctx context.Context, character string) string {
	return words.T(ctx, "sentence.resolve-look", "Character", b.Character(character), "How", howTo(b, character)) + b.photosWords(ctx, character)
}

// photosWords name the views that can show a character, after a space; empty where there are none.
func (b Book) photosWords(ctx context.Context, character string) string {
	c := b.character(character)
	if c == nil || len(c.Views) == 0 {
		return ""
	}
	return " " + words.T(ctx, "sentence.resolve-photos", "Views", viewWords(ctx, b, c))
}

// expectWords say what those of the page's group show of a character of a wider one. In English that is what the record says; in other
// languages it is made by the tables of the wider group.
func (s Site) expectWords(ctx context.Context, group, character, recorded string) string {
	if words.Tag(ctx) == language.English || s.Book.Tables == nil {
		return recorded
	}
	if told := s.retold(ctx, "sentence.expect-", recorded); told != recorded {
		return told
	}
	b := s.book(group)
	c := b.character(character)
	if c == nil {
		return recorded
	}
	f, ok := b.Family(s.Book.Group.Taxon)
	if !ok {
		return recorded
	}
	var told []string
	for _, o := range typical(shares(ctx, f, c)) {
		often := strings.ReplaceAll(judgement.HowOften(o.P), " ", "-")
		told = append(told, words.T(ctx, "sheet.often-"+often)+" "+b.State(c.ID, o.State.ID))
	}
	return strings.Join(told, ", ")
}

// joinedBy lists words with commas, and the last by a text with the places Some and Last.
func joinedBy(ctx context.Context, id string, list []string) string {
	last := len(list) - 1
	if last < 1 {
		return strings.Join(list, "")
	}
	return words.T(ctx, id, "Some", strings.Join(list[:last], ", "), "Last", list[last])
}
