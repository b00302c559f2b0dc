package pages

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
)

var proposalWords = map[review.ProposalStatus]string{
	review.ProposalOpen: "waits for a second curator", review.ProposalApproved: "agreed", review.ProposalRefused: "not agreed",
	review.ProposalWithdrawn: "taken back", review.ProposalReleased: "in a release",
}

var proposalMeans = map[review.ProposalStatus]string{
	review.ProposalOpen: "Another curator has to look at it.", review.ProposalApproved: "The next release takes it in.",
	review.ProposalRefused: "It changes nothing.", review.ProposalWithdrawn: "Who proposed it took it back.",
	review.ProposalReleased: "It is part of a release.",
}

// proposalStatuses are all of them, in the order of a proposal's life.
var proposalStatuses = []review.ProposalStatus{review.ProposalOpen, review.ProposalApproved, review.ProposalRefused,
	review.ProposalWithdrawn, review.ProposalReleased}

// ownApprovalWords mark a change that no second person has looked at.
const ownApprovalWords = "agreed to by who proposed it, the only curator then"

// mayApproveOwn: the only curator of a club approves a change of their own.
func (d ChangeData) mayApproveOwn(actor review.Actor) bool {
	return d.Alone && d.Proposal.By == actor.Person && d.Proposal.Status == review.ProposalOpen
}

// Names of the parts of the form that changes a cell. Rest is the row of the states that are not listed.
const (
	Rest       = "rest"
	NumberWord = "number" // the choice of the select that means: see the number beside it
)

// RowField is the name of a part of a row: "state", "word" or "number".
func RowField(i int, part string) string { return "rows[" + itoa(i) + "]." + part }

// RestField is the name of a part of the row of the rest.
func RestField(part string) string { return "rest." + part }

// frequencies are the words of the tables' format, the commonest first.
var frequencies = []string{"always", "usually", "often", "sometimes", "rarely", "never"}

var frequencyChoices = func() []Choice {
	choices := []Choice{{"", "not listed", ""}}
	for _, word := range frequencies {
		choices = append(choices, Choice{Value: word, Label: word})
	}
	return append(choices, Choice{Value: NumberWord, Label: "a share:"})
}()

// CellPlace is which cell of the tables a change is about.
type CellPlace struct {
	Family    *diagnosis.Family
	Form      string // "" is the family's own cell
	Character *diagnosis.Character
}

// words name the cell.
func (p CellPlace) words() string {
	return p.Character.Label + " " + formWords(p.Family, p.Form)
}

// spareRows are the empty rows that a form for a number has besides those that are written.
const spareRows = 4

// TypedCell is a cell as the form that changes it shows it. Named states have a row each, those that are written first
// in their order, so that the order in the file stays; a number has a row for each number or range that is written.
func TypedCell(c *diagnosis.Character, edit diagnosis.CellEdit) Form {
	f := NewForm(nil)
	row := 0
	add := func(state, word string) {
		f.Set(RowField(row, "state"), state)
		setWord(f, func(part string) string { return RowField(row, part) }, word)
		row++
	}
	for _, s := range edit.States {
		if s.State == Rest {
			setWord(f, RestField, s.Word)
			continue
		}
		add(s.State, s.Word)
	}
	if c.Kind == diagnosis.KindStates {
		for _, s := range c.States {
			if !slices.ContainsFunc(edit.States, func(w diagnosis.StateWord) bool { return w.State == s.ID }) {
				add(s.ID, "")
			}
		}
	}
	if l := edit.Length; l != nil {
		f.Set("length.min", dotted(l.Min))
		f.Set("length.usual_min", dotted(l.Usual[0]))
		f.Set("length.usual_max", dotted(l.Usual[1]))
		f.Set("length.max", dotted(l.Max))
	}
	f.Set("source", edit.Citation.Source)
	f.Set("place", edit.Citation.Place)
	f.Set("basis", string(edit.Citation.Basis))
	f.Set("note", edit.Note)
	return f
}

func setWord(f Form, field func(string) string, word string) {
	if word == "" || slices.Contains(frequencies, word) {
		f.Set(field("word"), word)
		return
	}
	f.Set(field("word"), NumberWord)
	f.Set(field("number"), word)
}

// rows is how many rows the form of a cell shows.
func rows(c *diagnosis.Character, f Form) int {
	if c.Kind == diagnosis.KindStates {
		return len(c.States)
	}
	used := 0
	for i := range MaxRows(c) {
		if f.Get(RowField(i, "state")) != "" || f.Get(RowField(i, "word")) != "" {
			used = i + 1
		}
	}
	return min(used+spareRows, MaxRows(c))
}

// MaxRows is how many rows the form of a cell has at most.
func MaxRows(c *diagnosis.Character) int { return len(c.States) + spareRows }

func sourceChoices(b Book) []Choice {
	choices := []Choice{{"", "the one of the whole " + b.Group.Rank, ""}}
	for _, s := range b.Sources {
		choices = append(choices, Choice{Value: s.ID, Label: shortened(s.Citation, 90)})
	}
	return choices
}

// shortened cuts a text to a number of letters.
func shortened(text string, letters int) string {
	all := []rune(text)
	if len(all) <= letters {
		return text
	}
	return strings.TrimSpace(string(all[:letters-1])) + "…"
}

var basisChoices = []Choice{{"", "as in the rest of its table", ""}, {string(diagnosis.BasisRead), "read there for this cell", ""},
	{string(diagnosis.BasisInPart), "read there for a part of this cell", ""}, {string(diagnosis.BasisMemory), "cited from memory", ""}}

// line is one line of a cell beside the same of another.
type line struct{ Term, State, Before, After string }

// lines lists what two edits of the same cell say of each state. before may be of a cell that is not there.
func lines(b Book, c *diagnosis.Character, before, after diagnosis.CellEdit) []line {
	var found []line
	place := func(state string) *line {
		for i := range found {
			if found[i].State == state {
				return &found[i]
			}
		}
		found = append(found, line{Term: stateTerm(c, state), State: state})
		return &found[len(found)-1]
	}
	for _, s := range after.States {
		place(s.State).After = s.Word
	}
	for _, s := range before.States {
		place(s.State).Before = s.Word
	}
	if c.Kind == diagnosis.KindLength {
		found = append(found, line{Term: "Length", Before: editLength(before.Length), After: editLength(after.Length)})
	}
	return append(found, line{Term: "Source", Before: sourceOfEdit(b, before), After: sourceOfEdit(b, after)},
		line{Term: "Note", Before: typed(before.Note), After: typed(after.Note)})
}

// same says whether a line is the same on both sides.
func (l line) same() bool { return l.Before == l.After }

func stateTerm(c *diagnosis.Character, state string) string {
	if state == Rest {
		return "all others"
	}
	if i := c.State(state); i >= 0 {
		return c.States[i].Label
	}
	return state
}

func editLength(l *diagnosis.Length) string {
	if l == nil {
		return ""
	}
	return lengthWords(context.TODO(), *l)
}

func sourceOfEdit(b Book, e diagnosis.CellEdit) string {
	if e.Citation == (diagnosis.Citation{}) {
		if len(e.States) == 0 && e.Length == nil {
			return ""
		}
		return "as in the rest of its table"
	}
	return shortSource(b, e.Citation)
}

// frequencyWords are a word or a number of a cell, as people read it.
func frequencyWords(word string) string {
	if p, err := strconv.ParseFloat(word, 64); err == nil && p >= 0 && p <= 1 {
		return Share(context.TODO(), p)
	}
	return word
}
