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
func doubtWords(doubt review.Doubt) string {
	switch doubt.Kind {
	case review.DoubtPartly:
		return fmt.Sprintf("You have looked at %d of %s. Saving opens what others have said: a look at the others after that is no look of its own any more. What you passed over stays not looked at.",
			doubt.Looked, count(doubt.Of, "character", "characters"))
	case review.DoubtFar:
		return fmt.Sprintf("By its characters, with your verdicts, %s is %s (%s); %s is likelier. You agree with it all the same: that is kept beside the characters, which stay what they are.",
			doubt.Name, Likelihood(context.TODO(), doubt.P), Probability(context.TODO(), doubt.P), hypothesis(context.TODO(), doubt.Rival))
	}
	return fmt.Sprintf("Your own verdicts speak against the name that you give: they make %s %s times less likely. Perhaps one of them is a slip.", doubt.Name, ratio(context.TODO(), doubt.Factor))
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
var lineVerdicts = []Choice{
	{string(review.VerdictConfirm), "confirm", ""}, {string(review.VerdictDispute), "something else", ""},
	{string(review.VerdictNotVisible), "not visible", ""}, {string(review.VerdictPartMissing), "part missing", ""},
	{string(review.VerdictCannotJudge), "cannot judge", ""},
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
func rankChoices(site Site, d review.Determination) []Choice {
	var choices []Choice
	for _, r := range d.Ranks(site.Book.Group.Rank) {
		choices = append(choices, Choice{Value: string(r), Label: string(r) + ": " + typed(d.NameAt(r))})
	}
	return choices
}

// opinionBases are what an opinion can rest on; the key of one is its hint.
var opinionBases = []Choice{{"photos", "the photos", "p"}, {"specimen", "the specimen in hand", "h"}, {"dissected", "dissected", "x"}}

// nameOr is the proposed name in a sentence.
func nameOr(name string) string {
	if name == "" {
		return "the name"
	}
	return name
}
