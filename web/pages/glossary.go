package pages

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/a-h/templ"

	"revidit/review/diagnosis"
)

// glossaryEntry is a headword: a part or a term, or plain words that lead to one of them.
type glossaryEntry struct {
	Head string
	Part *diagnosis.Part
	Term *diagnosis.Term
	// See is the headword that plain words lead to, under the id SeeID; empty for a part or term.
	See, SeeID string
}

// glossaryGroup are the headwords of one letter.
type glossaryGroup struct {
	Letter  string
	Entries []glossaryEntry
}

// glossaryURL is the place of a part or term in the glossary.
func glossaryURL(b Book, id string) templ.SafeURL {
	return tableURL(b, "glossary") + templ.SafeURL("#"+glossaryID(id))
}

func glossaryID(id string) string { return "word-" + id }

// glossary are all headwords by letter: the trade's terms with what they mean, and plain words that lead to them.
func (b Book) glossary() []glossaryGroup {
	var entries []glossaryEntry
	add := func(id, term, name string, entry glossaryEntry) {
		entry.Head = term
		entries = append(entries, entry)
		if name != "" && !strings.HasPrefix(strings.ToLower(name), strings.ToLower(term)) {
			entries = append(entries, glossaryEntry{Head: name, See: term, SeeID: id})
		}
	}
	for i := range b.Parts {
		p := &b.Parts[i]
		add(p.ID, p.Term, p.Name, glossaryEntry{Part: p})
	}
	for i := range b.Terms {
		t := &b.Terms[i]
		add(t.ID, t.Term, t.Name, glossaryEntry{Term: t})
	}
	slices.SortStableFunc(entries, func(x, y glossaryEntry) int {
		return cmp.Compare(strings.ToLower(x.Head), strings.ToLower(y.Head))
	})
	var groups []glossaryGroup
	for _, e := range entries {
		first, _ := utf8.DecodeRuneInString(e.Head)
		letter := string(unicode.ToUpper(first))
		if len(groups) == 0 || groups[len(groups)-1].Letter != letter {
			groups = append(groups, glossaryGroup{Letter: letter})
		}
		last := &groups[len(groups)-1]
		last.Entries = append(last.Entries, e)
	}
	return groups
}

// hasGlossary says whether the tables explain words.
func (b Book) hasGlossary() bool { return b.Tables != nil && len(b.Parts)+len(b.Terms) > 0 }

// hasPlates says whether the tables have plates.
func (b Book) hasPlates() bool { return b.Tables != nil && len(b.Plates) > 0 }

// shownState is a state that a term is the word for.
type shownState struct {
	Character *diagnosis.Character
	State     string
}

// statesOf are the states that a term is the word for.
func statesOf(b Book, t *diagnosis.Term) []shownState {
	var found []shownState
	for _, s := range t.Shown {
		for _, state := range s.States {
			found = append(found, shownState{b.character(s.Character), state})
		}
	}
	return found
}

// pictured is the first of the states that has a drawing, and false where none has.
func pictured(b Book, states []shownState) (shownState, bool) {
	i := slices.IndexFunc(states, func(s shownState) bool { return b.hasPicture(s.Character.ID, s.State) })
	if i < 0 {
		return shownState{}, false
	}
	return states[i], true
}

// plateOfPart is the plate on which a part is best seen: the first with a label to it.
func plateOfPart(b Book, p *diagnosis.Part) *diagnosis.Plate {
	best := p.Places[0]
	if i := slices.IndexFunc(p.Places, func(place diagnosis.Place) bool { return place.Labelled }); i >= 0 {
		best = p.Places[i]
	}
	plate, _ := b.Plate(best.Plate)
	return plate
}

// seen is what a term refers to besides.
func (b Book) seen(id string) string {
	if t, ok := b.Term(id); ok {
		return t.Term
	}
	return b.partName(id)
}

// explainsWords says whether any group of the page does.
func (s Site) explainsWords() bool {
	return s.LoggedIn() && (s.Book.hasGlossary() || slices.ContainsFunc(s.Books, Book.hasGlossary))
}
