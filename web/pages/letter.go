package pages

import (
	"context"
	"strings"

	"revidit/review"
	"revidit/review/service"
)

// LetterSite is what a letter knows of where its links lead.
type LetterSite struct {
	Site
	URL string // of the pages, without a slash at its end
}

const letterEnd = "\n\n-- \nRevidit: has looked again.\n"

// lettered is text of a letter: what somebody typed is isolated by characters, since there are no elements.
func lettered(text string) string { return isolates.Replace(text) }

// mostTold is how many news a letter tells; the rest is counted.
const mostTold = 30

// DigestLetter tells news: its subject, its text, and the address that ends such letters.
func DigestLetter(site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	subject = count(len(d.Lines), "piece of news", "pieces of news")
	if len(d.Lines) == 1 {
		subject = newsSubject(d.Lines[0]) + ": " + NewsWords(site.Site, d.Names, d.Lines[0].News)
	}
	var b strings.Builder
	b.WriteString("Hello " + typed(d.Actor.Name) + ",\n\nthis happened to what concerns you:\n")
	for _, l := range top(d.Lines, mostTold) {
		b.WriteString("\n* " + newsTitle(l))
		b.WriteString("\n  " + NewsWords(site.Site, d.Names, l.News))
		if l.Waits {
			b.WriteString(" (waits for you)")
		}
		b.WriteString("\n  " + Minute(context.TODO(), l.At) + "\n  " + site.URL + newsURL(l.News) + "\n")
	}
	if more := len(d.Lines) - mostTold; more > 0 {
		b.WriteString("\nand " + count(more, "more", "more") + ": " + site.URL + "/news\n")
	}
	unsubscribe = site.URL + UnsubscribePath + d.Token
	b.WriteString("\nChoose what you are sent: " + site.URL + "/mail\nNo more of these letters: " + unsubscribe)
	return "Revidit: " + lettered(subject), lettered(b.String()) + letterEnd, unsubscribe
}

// Paths of what letters link to; a token stands behind them.
const (
	UnsubscribePath = "/unsubscribe/"
	ConfirmPath     = "/mail/confirm/"
)

// ConfirmLetter asks the reader of an address whether it is theirs.
func ConfirmLetter(site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	text = "Hello,\n\n" + typed(d.Actor.Name) + " has chosen this address for news of Revidit, at " + site.URL + ".\n\n" +
		"Is it yours? Then open this and press the button, within three days:\n" + site.URL + ConfirmPath + d.Token + "\n\n" +
		"Otherwise leave it: nothing more is sent here."
	return "Revidit: is this your address?", lettered(text) + letterEnd, ""
}

// rhythmChoices are how often somebody is sent news.
var rhythmChoices = []Choice{
	{string(review.MailNever), "never", ""},
	{string(review.MailWeekly), "once a week", "where there is any"},
	{string(review.MailDaily), "once a day", "where there is any"},
	{string(review.MailAtOnce), "at once", "what waits for you; the rest once a day"},
}

// codeWords are kinds of news.
var codeWords = map[review.NewsCode]string{
	review.NewsReturned:        "a reviewer asks you for something",
	review.NewsAnswered:        "something was added to what you have looked at",
	review.NewsProposalWaits:   "a change of the tables waits for a second curator",
	review.NewsDisputed:        "a reviewer sees something else than you",
	review.NewsLookedAt:        "a reviewer has looked at yours",
	review.NewsConfirmed:       "a name stands",
	review.NewsRedetermined:    "another determination has followed",
	review.NewsUndetermined:    "it was left undetermined",
	review.NewsReopened:        "it is before reviewers again",
	review.NewsDoubted:         "the tables put the name of yours in doubt",
	review.NewsRelabelled:      "the label data of yours were changed",
	review.NewsProposalDecided: "another curator has decided on your change",
}

var faultWords = map[review.LetterFault]string{
	review.LetterDelayed: "The last letter could not be sent yet. It is tried again.",
	review.LetterRefused: "The last letter could not be delivered. Look whether the address is right.",
}
