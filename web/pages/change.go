package pages

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/words"
)

var proposalIDs = map[review.ProposalStatus]string{
	review.ProposalOpen: "change.waits", review.ProposalApproved: "change.agreed", review.ProposalRefused: "change.not-agreed",
	review.ProposalWithdrawn: "change.taken-back", review.ProposalReleased: "change.released",
}

var proposalMeansIDs = map[review.ProposalStatus]string{
	review.ProposalOpen: "change.waits-means", review.ProposalApproved: "change.agreed-means", review.ProposalRefused: "change.not-agreed-means",
	review.ProposalWithdrawn: "change.taken-back-means", review.ProposalReleased: "change.released-means",
}

// proposalWords say how a proposal stands, and proposalMeans what that means.
func proposalWords(ctx context.Context, s review.ProposalStatus) string {
	return words.T(ctx, proposalIDs[s])
}

func proposalMeans(ctx context.Context, s review.ProposalStatus) string {
	return words.T(ctx, proposalMeansIDs[s])
}

// proposalStatuses are all of them, in the order of a proposal's life.
var proposalStatuses = []review.ProposalStatus{review.ProposalOpen, review.ProposalApproved, review.ProposalRefused,
	review.ProposalWithdrawn, review.ProposalReleased}

// ownApprovalWords mark a change that no second person has looked at.
func ownApprovalWords(ctx context.Context) string { return words.T(ctx, "change.own-approval") }

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

func frequencyChoices(ctx context.Context) []Choice {
	choices := []Choice{{"", words.T(ctx, "change.not-listed"), ""}}
	for _, word := range frequencies {
		choices = append(choices, Choice{Value: word, Label: words.T(ctx, "sheet.often-"+word)})
	}
	return append(choices, Choice{Value: NumberWord, Label: words.T(ctx, "change.a-share")})
}

// CellPlace is which cell of the tables a change is about.
type CellPlace struct {
	Family    *diagnosis.Family
	Form      string // "" is the family's own cell
	Character *diagnosis.Character
}

// words name the cell.
func (p CellPlace) words(ctx context.Context) string {
	return p.Character.Label + " " + formWords(ctx, p.Family, p.Form)
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

func sourceChoices(ctx context.Context, b Book) []Choice {
	choices := []Choice{{"", words.T(ctx, "change.whole-rank", "Rank", rankWord(ctx, b.Group.Rank)), ""}}
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

func basisChoices(ctx context.Context) []Choice {
	return []Choice{{"", words.T(ctx, "change.as-rest"), ""}, {string(diagnosis.BasisRead), words.T(ctx, "change.basis-read"), ""},
		{string(diagnosis.BasisInPart), words.T(ctx, "change.basis-in-part"), ""}, {string(diagnosis.BasisMemory), words.T(ctx, "change.basis-memory"), ""}}
}

// line is one line of a cell beside the same of another.
type line struct{ Term, State, Before, After string }

// lines lists what two edits of the same cell say of each state. before may be of a cell that is not there.
func lines(ctx context.Context, b Book, c *diagnosis.Character, before, after diagnosis.CellEdit) []line {
	var found []line
	place := func(state string) *line {
		for i := range found {
			if found[i].State == state {
				return &found[i]
			}
		}
		found = append(found, line{Term: stateTerm(ctx, c, state), State: state})
		return &found[len(found)-1]
	}
	for _, s := range after.States {
		place(s.State).After = s.Word
	}
	for _, s := range before.States {
		place(s.State).Before = s.Word
	}
	if c.Kind == diagnosis.KindLength {
		found = append(found, line{Term: words.T(ctx, "change.length"), Before: editLength(ctx, before.Length), After: editLength(ctx, after.Length)})
	}
	return append(found, line{Term: words.T(ctx, "change.source"), Before: sourceOfEdit(ctx, b, before), After: sourceOfEdit(ctx, b, after)},
		line{Term: words.T(ctx, "change.note"), Before: typed(before.Note), After: typed(after.Note)})
}

// same says whether a line is the same on both sides.
func (l line) same() bool { return l.Before == l.After }

func stateTerm(ctx context.Context, c *diagnosis.Character, state string) string {
	if state == Rest {
		return words.T(ctx, "change.all-others")
	}
	if i := c.State(state); i >= 0 {
		return c.States[i].Label
	}
	return state
}

func editLength(ctx context.Context, l *diagnosis.Length) string {
	if l == nil {
		return ""
	}
	return lengthWords(ctx, *l)
}

func sourceOfEdit(ctx context.Context, b Book, e diagnosis.CellEdit) string {
	if e.Citation == (diagnosis.Citation{}) {
		if len(e.States) == 0 && e.Length == nil {
			return ""
		}
		return words.T(ctx, "change.as-rest")
	}
	return shortSource(ctx, b, e.Citation)
}

// frequencyWords are a word or a number of a cell, as people read it.
func frequencyWords(ctx context.Context, word string) string {
	if p, err := strconv.ParseFloat(word, 64); err == nil && p >= 0 && p <= 1 {
		return Share(ctx, p)
	}
	if slices.Contains(frequencies, word) {
		return words.T(ctx, "sheet.often-"+word)
	}
	return word
}
