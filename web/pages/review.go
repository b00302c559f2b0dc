package pages

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web/words"
)

// ReviewData is the reviewer's workplace.
type ReviewData struct {
	View        service.SubmissionView
	Form        Form
	HeldByOther bool
	// Looked: the reviewer comes from a blind look at it.
	Looked bool
	// Saved is the submission of which a review has just been saved, or empty.
	Saved string
	// Queue is the queue from which it was opened, to go on in, and NextPhoto the first photo of what comes next, or empty.
	Queue     service.QueueFilter
	NextPhoto string
	// Ask are the questions before it is stored.
	Ask []review.Doubt
}

// VerdictField is the name of a part of a verdict's input.
func VerdictField(observation, part string) string { return "verdict[" + observation + "]." + part }

// asked are the kinds of the questions, as the button that answers them sends them.
func (d ReviewData) asked() string {
	var kinds []string
	for _, doubt := range d.Ask {
		kinds = append(kinds, string(doubt.Kind))
	}
	return strings.Join(append(kinds, strings.FieldsFunc(d.Form.Get("sure"), func(r rune) bool { return r == ',' })...), ",")
}

// queueQuery is the filter of the queue as the form keeps it.
func (d ReviewData) queueQuery() string {
	return strings.TrimPrefix(inQueue("", d.Queue, "", ""), "?")
}

// doubtWords say what is to be known before a review is stored.
func doubtWords(ctx context.Context, doubt review.Doubt) string {
	switch doubt.Kind {
	case review.DoubtPartly:
		return words.N(ctx, "review.doubt-partly", doubt.Of, "Looked", doubt.Looked)
	case review.DoubtFar:
		return words.T(ctx, "review.doubt-far", "Name", doubt.Name, "Likelihood", Likelihood(ctx, doubt.P), "P", Probability(ctx, doubt.P), "Rival", hypothesis(ctx, doubt.Rival))
	}
	return words.T(ctx, "review.doubt-own", "Name", doubt.Name, "Factor", ratio(ctx, doubt.Factor))
}

// benchLines are the standing observations of a submission in the order in which they are looked at.
type benchLines struct {
	// Deciding move the name most, Rest are the others by part of the body.
	Deciding, Rest []Shown
}

// linesOf sorts what is to be judged. One's own stand with the rest: others judge them.
func linesOf(site Site, v service.SubmissionView) benchLines {
	var lines benchLines
	var characters []string
	for _, s := range ShownOf(v) {
		if s.Withdrawn == "" && s.By != site.Actor.Person {
			characters = append(characters, s.Character)
		}
	}
	deciding := review.Deciding(v.Assessment, characters)
	for _, s := range ShownOf(v) {
		switch {
		case s.Withdrawn != "":
		case s.By != site.Actor.Person && slices.Contains(deciding, s.Character):
			lines.Deciding = append(lines.Deciding, s)
		default:
			lines.Rest = append(lines.Rest, s)
		}
	}
	slices.SortStableFunc(lines.Deciding, func(a, b Shown) int {
		return cmp.Compare(slices.Index(deciding, a.Character), slices.Index(deciding, b.Character))
	})
	slices.SortStableFunc(lines.Rest, func(a, b Shown) int { return cmp.Compare(site.Book.place(a.Character), site.Book.place(b.Character)) })
	return lines
}

// place is where a character stands in the tables, which go by part of the body; what they lack stands last.
func (b Book) place(character string) int {
	if b.Tables == nil {
		return 0
	}
	at := slices.IndexFunc(b.Tables.Characters, func(c diagnosis.Character) bool { return c.ID == character })
	if at < 0 {
		return len(b.Tables.Characters)
	}
	return at
}

// measured says whether a state is a length.
func (b Book) measured(character string) bool {
	c := b.character(character)
	return c != nil && c.Kind == diagnosis.KindLength
}

// regionText is the marked place for the script: left, top, width and height as shares of the photo.
func regionText(s Shown) string {
	if s.Region == nil {
		return ""
	}
	return fmt.Sprintf("%g,%g,%g,%g", s.Region.X, s.Region.Y, s.Region.W, s.Region.H)
}

// lineVerdicts are the five verdicts in the words of a line; the digit of one is its position, from 1 on.
func lineVerdicts(ctx context.Context) []Choice {
	return []Choice{
		{string(review.VerdictConfirm), words.T(ctx, "review.confirm"), ""}, {string(review.VerdictDispute), words.T(ctx, "review.something-else"), ""},
		{string(review.VerdictNotVisible), words.T(ctx, "review.not-visible"), ""}, {string(review.VerdictPartMissing), words.T(ctx, "review.part-missing"), ""},
		{string(review.VerdictCannotJudge), words.T(ctx, "review.cannot-judge"), ""},
	}
}

// letter is the key of the nth choice, or nothing beyond z.
func letter(n int) string {
	if n < 0 || n > 25 {
		return ""
	}
	return string(rune('a' + n))
}

// betterStates are the states that a dispute can give instead.
func betterStates(c *diagnosis.Character, stated string) []diagnosis.State {
	var states []diagnosis.State
	for _, s := range c.States {
		if s.ID != stated {
			states = append(states, s)
		}
	}
	return states
}

// rankChoices are the names with which one can agree, the highest first.
func rankChoices(ctx context.Context, site Site, d review.Determination) []Choice {
	var choices []Choice
	for _, r := range d.Ranks(site.Book.Group.Rank) {
		choices = append(choices, Choice{Value: string(r), Label: words.T(ctx, "review.rank-name", "Rank", rankWord(ctx, string(r)), "Name", typed(d.NameAt(r)))})
	}
	return choices
}

// opinionBases are what an opinion can rest on; the key of one is its hint.
func opinionBases(ctx context.Context) []Choice {
	return []Choice{{"photos", words.T(ctx, "review.the-photos"), "p"}, {"specimen", words.T(ctx, "review.specimen-in-hand"), "h"}, {"dissected", words.T(ctx, "review.dissected"), "x"}}
}

// nameOr is the proposed name in a sentence.
func nameOr(ctx context.Context, name string) string {
	if name == "" {
		return words.T(ctx, "review.the-name")
	}
	return name
}
