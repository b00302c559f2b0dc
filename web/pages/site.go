// Package pages holds the HTML of Revidit as typed components: each page is a function of what it shows. It reads no
// request and calls no service; package web does both and hands over the result.
//
// The *_templ.go files are generated from the *.templ files by `go tool templ generate`.
package pages

import (
	"context"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web/words"
)

// Site is what every page knows: who looks, at which address, and the tables that give names to ids.
type Site struct {
	Actor review.Actor // zero Person when nobody is logged in
	Path  string
	Here  string // the whole address, to come back to; empty where a form was sent
	// Unread is how much news is not read by who looks; 0 on error pages, which ask for nothing.
	Unread int
	// Book is that of the group that the page is about; zero on a page about none or several.
	Book Book
	// Books are those of all groups, in the order in which groups are offered; empty on error pages.
	Books []Book
	// Formerly are those of former tables, by which assessments that the page shows were made.
	Formerly []Book
	// Program: it is a program that is told what people read, with all numbers; IDs: it reads ids of characters and states in caveats.
	Program, IDs bool
}

// LoggedIn says whether somebody is.
func (s Site) LoggedIn() bool { return s.Actor.Person != "" }

// May says whether the one who looks may do something that depends on no submission.
func (s Site) May(action review.Action, owner string) bool { return review.May(s.Actor, action, owner) }

// Measures says whether decibans and bits are shown: to those who weigh what others have seen, and to programs. Members read words.
func (s Site) Measures() bool {
	return s.Program || s.Actor.Role.Reviews()
}

// at says whether the page stands under a path of the navigation.
func (s Site) at(path string) bool {
	return s.Path == path || path != "/" && strings.HasPrefix(s.Path, path+"/")
}

// Book gives words to the ids of the tables. A zero Book knows no words and gives the ids back.
type Book struct{ *diagnosis.Tables }

// Character is the label of a character; an id that the tables lack stays as it is.
func (b Book) Character(id string) string {
	if b.Tables != nil {
		if c, ok := b.Tables.Character(id); ok {
			return c.Label
		}
	}
	return id
}

// character is a character by its id, or nil where the tables lack it.
func (b Book) character(id string) *diagnosis.Character {
	if b.Tables == nil {
		return nil
	}
	c, _ := b.Tables.Character(id)
	return c
}

// State is the label of a state of a character, with its unit.
func (b Book) State(character, state string) string {
	if b.Tables == nil {
		return state
	}
	c, ok := b.Tables.Character(character)
	if !ok {
		return state
	}
	if c.Kind == diagnosis.KindLength {
		return state + " mm"
	}
	if i := c.State(state); i >= 0 {
		return c.States[i].Label
	}
	return state
}

// Region is what a region of the body is called.
func (b Book) Region(id string) string {
	if b.Tables == nil {
		return id
	}
	return b.Tables.Region(id)
}

// word is an English text of the tables that a record holds, in their language.
func (b Book) word(english string) string {
	if b.Tables == nil {
		return english
	}
	return b.Word(english)
}

// View is the label of a photo view.
func (b Book) View(ctx context.Context, id string) string {
	if b.Tables != nil {
		for _, v := range b.Tables.Group.Views {
			if v.ID == id {
				return v.Label
			}
		}
	}
	if id == "" {
		return words.T(ctx, "common.view-not-given")
	}
	return id
}

// Source is the citation of a work with the place in it, and whether it was read.
func (b Book) Source(ctx context.Context, c diagnosis.Citation) string {
	work := c.Source
	if s, ok := b.Tables.Source(c.Source); ok {
		work = s.Citation
	}
	if c.Place != "" {
		work += " " + c.Place + "."
	}
	return work + " " + basisWords(ctx, c.Basis)
}

// basisWords say whether a work was read, in brackets.
func basisWords(ctx context.Context, basis diagnosis.Basis) string {
	return coded(ctx, "common.cited-", string(basis))
}

// Region is a body region with its characters, in the order of the tables.
type Region struct {
	ID, Label  string
	Characters []diagnosis.Character
}

// Heading is the region as a heading.
func (r Region) Heading() string { return capital(r.Label) }

// Regions are the characters of the tables by body region, in order.
func (b Book) Regions() []Region {
	var regions []Region
	index := map[string]int{}
	for _, c := range b.Tables.Characters {
		i, ok := index[c.Region]
		if !ok {
			i = len(regions)
			index[c.Region] = i
			regions = append(regions, Region{ID: c.Region, Label: b.Region(c.Region)})
		}
		regions[i].Characters = append(regions[i].Characters, c)
	}
	return regions
}

// Says is what the diagnosis of a family says of a stated state, in words; empty where the tables say nothing.
func (b Book) Says(ctx context.Context, family, character, state string) string {
	f, ok := b.Family(family)
	if !ok {
		return ""
	}
	c, ok := b.Tables.Character(character)
	if !ok {
		return ""
	}
	if c.Kind == diagnosis.KindLength {
		return lengthsOf(ctx, f, character)
	}
	i := c.State(state)
	if i < 0 {
		return ""
	}
	share, known := f.Share(character, i)
	if !known {
		return words.T(ctx, "common.not-recorded", "Family", family)
	}
	return shareWords(ctx, share)
}

// shareWords tells a share of a family (0 to 1) as people say it.
func shareWords(ctx context.Context, p float64) string {
	switch {
	case p == 0:
		return words.T(ctx, "common.share-never")
	case p <= 0.03:
		return words.T(ctx, "common.share-rarely", "Share", Share(ctx, p))
	case p >= 0.97:
		return words.T(ctx, "common.share-nearly-always", "Share", Share(ctx, p))
	}
	return words.T(ctx, "common.share-in", "Share", Share(ctx, p))
}

// lengthsOf is the length of a family in words, over all its forms.
func lengthsOf(ctx context.Context, f *diagnosis.Family, character string) string {
	var all *diagnosis.Length
	differ := false
	for i := range f.Forms {
		cell := f.Forms[i].Cells[character]
		if cell == nil {
			continue
		}
		if all == nil {
			first := cell.Length
			all = &first
			continue
		}
		differ = differ || cell.Length != *all
		all.Min, all.Max = min(all.Min, cell.Length.Min), max(all.Max, cell.Length.Max)
		all.Usual = [2]float64{min(all.Usual[0], cell.Length.Usual[0]), max(all.Usual[1], cell.Length.Usual[1])}
	}
	switch {
	case all == nil:
		return words.T(ctx, "common.not-recorded", "Family", f.Name)
	case differ:
		return words.T(ctx, "common.length-over-forms", "Length", lengthWords(ctx, *all))
	}
	return lengthWords(ctx, *all)
}

func lengthWords(ctx context.Context, l diagnosis.Length) string {
	return words.T(ctx, "common.length-range", "From", number(ctx, l.Usual[0]), "To", number(ctx, l.Usual[1]), "Min", number(ctx, l.Min), "Max", number(ctx, l.Max))
}

// number is a number as people of a language write it; dotted is one as forms and addresses hold it.
func number(ctx context.Context, x float64) string { return words.Number(ctx, x) }

func dotted(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Share is a share of 0 to 1 in per cent; 0 and 1 are said only where they are exact.
func Share(ctx context.Context, p float64) string {
	switch {
	case p > 0 && p < 0.01:
		return words.T(ctx, "common.under", "Share", words.Percent(ctx, 0.01, 0))
	case p < 1 && p > 0.99:
		return words.T(ctx, "common.over", "Share", words.Percent(ctx, 0.99, 0))
	}
	return words.Percent(ctx, p, 0)
}

// Probability is a posterior probability with three decimals, never 0 or 1.
func Probability(ctx context.Context, p float64) string {
	switch {
	case p < 0.0005:
		return "< " + words.Fixed(ctx, 0.001, 3)
	case p > 0.9995:
		return "> " + words.Fixed(ctx, 0.999, 3)
	}
	return words.Fixed(ctx, p, 3)
}

// Likelihood is a probability in one word, of the words of Mastrandrea et al. 2010, Guidance Note for Lead Authors of the
// IPCC Fifth Assessment Report on Consistent Treatment of Uncertainties, table 1: very likely from 0.9, likely from 0.66,
// unlikely up to 0.33, very unlikely up to 0.1. What is between is open. The German ones are those of the German coordination
// office of the IPCC for the same table (from memory).
func Likelihood(ctx context.Context, p float64) string {
	switch {
	case p >= 0.9:
		return words.T(ctx, "common.very-likely")
	case p >= 0.66:
		return words.T(ctx, "common.likely")
	case p <= 0.1:
		return words.T(ctx, "common.very-unlikely")
	case p <= 0.33:
		return words.T(ctx, "common.unlikely")
	}
	return words.T(ctx, "common.open")
}

// Odds tells a probability as odds in words.
func Odds(ctx context.Context, p float64) string {
	switch {
	case !(p > 0 && p < 1):
		return ""
	case p > 0.45 && p < 0.55:
		return words.T(ctx, "common.odds-even")
	case p >= 0.5:
		return words.T(ctx, "common.odds-for", "Odds", about(ctx, p/(1-p)))
	}
	return words.T(ctx, "common.odds-against", "Odds", about(ctx, (1-p)/p))
}

func about(ctx context.Context, odds float64) string {
	if odds > mostOdds {
		return ratio(ctx, odds)
	}
	return words.T(ctx, "common.about", "Number", ratio(ctx, odds))
}

// mostOdds is the largest ratio that is told.
const mostOdds = 1000

func ratio(ctx context.Context, x float64) string {
	switch {
	case x > mostOdds:
		return words.T(ctx, "common.more-than", "Number", words.Number(ctx, mostOdds))
	case x < 10:
		return words.Number(ctx, float64(int(x*10+0.5))/10)
	}
	return words.Fixed(ctx, x, 0)
}

// Day is the day of a time, and Minute a time to the minute.
func Day(ctx context.Context, t time.Time) string { return words.Date(ctx, t) }

func Minute(ctx context.Context, t time.Time) string { return words.DateTime(ctx, t) }

// isoDay is the day of a time in UTC as programs read it (ISO 8601).
func isoDay(t time.Time) string { return t.UTC().Format(time.DateOnly) }

func capital(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// name is who an id stands for among names.
func name(ctx context.Context, names map[string]string, id string) string {
	if id == review.ProgramActor {
		return words.T(ctx, "common.the-program")
	}
	if n, ok := names[id]; ok {
		return named(ctx, n)
	}
	return words.T(ctx, "common.name-not-known")
}

// named is a name as Service.Names has it, in the reader's language where it is none.
func named(ctx context.Context, n string) string {
	written := service.WrittenName(n)
	shown := typed(written)
	if written == service.ErasedName {
		shown = words.T(ctx, "common.name-erased")
	}
	if written != n {
		return words.T(ctx, "common.no-account", "Name", shown)
	}
	return shown
}
