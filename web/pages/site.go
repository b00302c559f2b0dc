// Package pages holds the HTML of Revidit as typed components: each page is a function of what it shows. It reads no
// request and calls no service; package web does both and hands over the result.
//
// The *_templ.go files are generated from the *.templ files by `go tool templ generate`.
package pages

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"revidit/review"
	"revidit/review/diagnosis"
)

// Site is what every page knows: who looks, at which address, and the tables that give names to ids.
type Site struct {
	Actor review.Actor // zero Person when nobody is logged in
	Path  string
	// Unread is how much news is not read by who looks; 0 on error pages, which ask for nothing.
	Unread int
	// Book is that of the group that the page is about; zero on a page about none or several.
	Book Book
	// Books are those of all groups, in the order in which groups are offered; empty on error pages.
	Books []Book
}

// LoggedIn says whether somebody is.
func (s Site) LoggedIn() bool { return s.Actor.Person != "" }

// May says whether the one who looks may do something that depends on no submission.
func (s Site) May(action review.Action, owner string) bool { return review.May(s.Actor, action, owner) }

// Measures says whether decibans and bits are shown: to those who weigh what others have seen. Members read words.
func (s Site) Measures() bool {
	return s.Actor.Role == review.RoleReviewer || s.Actor.Role == review.RoleCurator
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

// View is the label of a photo view.
func (b Book) View(id string) string {
	if b.Tables != nil {
		for _, v := range b.Tables.Group.Views {
			if v.ID == id {
				return v.Label
			}
		}
	}
	if id == "" {
		return "view not given"
	}
	return id
}

// Source is the citation of a work with the place in it, and whether it was read.
func (b Book) Source(c diagnosis.Citation) string {
	work := c.Source
	if s, ok := b.Tables.Source(c.Source); ok {
		work = s.Citation
	}
	if c.Place != "" {
		work += " " + c.Place + "."
	}
	return work + " " + basisWords[c.Basis]
}

var basisWords = map[diagnosis.Basis]string{
	diagnosis.BasisRead:   "(read for this table)",
	diagnosis.BasisInPart: "(read in part for this table, the rest from memory)",
	diagnosis.BasisMemory: "(cited from memory)",
}

// Region is a body region with its characters, in the order of the tables.
type Region struct {
	ID         string
	Characters []diagnosis.Character
}

// Title is the region as a heading.
func (r Region) Title() string { return capital(strings.ReplaceAll(r.ID, "-", " ")) }

// Regions are the characters of the tables by body region, in order.
func (b Book) Regions() []Region {
	var regions []Region
	index := map[string]int{}
	for _, c := range b.Tables.Characters {
		i, ok := index[c.Region]
		if !ok {
			i = len(regions)
			index[c.Region] = i
			regions = append(regions, Region{ID: c.Region})
		}
		regions[i].Characters = append(regions[i].Characters, c)
	}
	return regions
}

// Says is what the diagnosis of a family says of a stated state, in words; empty where the tables say nothing.
func (b Book) Says(family, character, state string) string {
	f, ok := b.Family(family)
	if !ok {
		return ""
	}
	c, ok := b.Tables.Character(character)
	if !ok {
		return ""
	}
	if c.Kind == diagnosis.KindLength {
		return lengthsOf(f, character)
	}
	i := c.State(state)
	if i < 0 {
		return ""
	}
	share, known := f.Share(character, i)
	if !known {
		return "not recorded for " + family
	}
	return shareWords(share)
}

// shareWords tells a share of a family (0 to 1) as people say it.
func shareWords(p float64) string {
	switch {
	case p == 0:
		return "never"
	case p <= 0.03:
		return "rarely (" + Share(p) + ")"
	case p >= 0.97:
		return "nearly always (" + Share(p) + ")"
	}
	return "in " + Share(p)
}

// lengthsOf is the length of a family in words, over all its forms.
func lengthsOf(f *diagnosis.Family, character string) string {
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
		return "not recorded for " + f.Name
	case differ:
		return lengthWords(*all) + ", over all its forms"
	}
	return lengthWords(*all)
}

func lengthWords(l diagnosis.Length) string {
	return fmt.Sprintf("mostly %s–%s mm, at the extremes %s–%s mm", number(l.Usual[0]), number(l.Usual[1]), number(l.Min), number(l.Max))
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// Share is a share of 0 to 1 in per cent; 0 and 1 are said only where they are exact.
func Share(p float64) string {
	switch {
	case p > 0 && p < 0.01:
		return "under 1 %"
	case p < 1 && p > 0.99:
		return "over 99 %"
	}
	return fmt.Sprintf("%.0f %%", p*100)
}

// Probability is a posterior probability with three decimals, never 0 or 1.
func Probability(p float64) string {
	switch {
	case p < 0.0005:
		return "< 0.001"
	case p > 0.9995:
		return "> 0.999"
	}
	return fmt.Sprintf("%.3f", p)
}

// Likelihood is a probability in one word, of the words of Mastrandrea et al. 2010, Guidance Note for Lead Authors of the
// IPCC Fifth Assessment Report on Consistent Treatment of Uncertainties, table 1: very likely from 0.9, likely from 0.66,
// unlikely up to 0.33, very unlikely up to 0.1. What is between is open.
func Likelihood(p float64) string {
	switch {
	case p >= 0.9:
		return "very likely"
	case p >= 0.66:
		return "likely"
	case p <= 0.1:
		return "very unlikely"
	case p <= 0.33:
		return "unlikely"
	}
	return "open"
}

// Odds tells a probability as odds in words.
func Odds(p float64) string {
	switch {
	case !(p > 0 && p < 1):
		return ""
	case p > 0.45 && p < 0.55:
		return "about even"
	case p >= 0.5:
		return about(p/(1-p)) + " to 1 for it"
	}
	return about((1-p)/p) + " to 1 against it"
}

func about(odds float64) string {
	if odds > 1000 {
		return "more than 1000"
	}
	return "about " + ratio(odds)
}

func ratio(x float64) string {
	if x > 1000 {
		return "more than 1000"
	}
	if x < 10 {
		return strconv.FormatFloat(float64(int(x*10+0.5))/10, 'f', -1, 64)
	}
	return strconv.Itoa(int(x + 0.5))
}

// Day is a date in UTC, ISO 8601.
func Day(t time.Time) string { return t.UTC().Format("2006-01-02") }

// Minute is a time in UTC to the minute.
func Minute(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") + " UTC" }

func capital(s string) string {
	if s == "" {
		return s
	}
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + many
}

// name is who an id stands for among names.
func name(names map[string]string, id string) string {
	if n, ok := names[id]; ok {
		return typed(n)
	}
	return "(name not known)"
}
