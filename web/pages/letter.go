package pages

import (
	"context"
	"strings"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

// LetterSite is what a letter knows of where its links lead.
type LetterSite struct {
	Site
	URL string // of the pages, without a slash at its end
}

func letterEnd(ctx context.Context) string { return "\n\n-- \n" + words.T(ctx, "letter.end") + "\n" }

// mostTold is how many news a letter tells; the rest is counted.
const mostTold = 30

// DigestLetter tells news: its subject, its text, and the address that ends such letters.
func DigestLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	subject = words.N(ctx, "letter.subject", len(d.Lines))
	if len(d.Lines) == 1 {
		subject = words.T(ctx, "letter.subject-one", "Subject", newsSubject(ctx, d.Lines[0]), "News", NewsWords(ctx, site.Site, d.Names, d.Lines[0].News))
	}
	lines := []string{words.T(ctx, "letter.hello", "Name", typed(d.Actor.Name)), "", words.T(ctx, "letter.happened")}
	for _, l := range top(d.Lines, mostTold) {
		told := NewsWords(ctx, site.Site, d.Names, l.News)
		if l.Waits {
			told = words.T(ctx, "letter.waits", "News", told)
		}
		lines = append(lines, "", "* "+newsTitle(ctx, l), "  "+told, "  "+Minute(ctx, l.At), "  "+site.URL+newsURL(l.News))
	}
	if more := len(d.Lines) - mostTold; more > 0 {
		lines = append(lines, "", words.T(ctx, "letter.more", "Number", itoa(more), "Address", site.URL+"/news"))
	}
	unsubscribe = site.URL + UnsubscribePath + d.Token
	lines = append(lines, "", words.T(ctx, "letter.choose", "Address", site.URL+"/mail"), words.T(ctx, "letter.no-more", "Address", unsubscribe))
	return PlainText(subject), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), unsubscribe
}

// Paths of what letters link to; a token stands behind them.
const (
	UnsubscribePath = "/unsubscribe/"
	ConfirmPath     = "/mail/confirm/"
)

// ConfirmLetter asks the reader of an address whether it is theirs.
func ConfirmLetter(ctx context.Context, site LetterSite, d service.LetterData) (subject, text, unsubscribe string) {
	lines := []string{words.T(ctx, "letter.confirm-hello"), "",
		words.T(ctx, "letter.confirm-chosen", "Name", typed(d.Actor.Name), "Address", site.URL), "",
		words.T(ctx, "letter.confirm-yours"), site.URL + ConfirmPath + d.Token, "",
		words.T(ctx, "letter.confirm-else")}
	return words.T(ctx, "letter.confirm-subject"), PlainText(strings.Join(lines, "\n")) + letterEnd(ctx), ""
}

// rhythmChoices are how often somebody is sent news.
func rhythmChoices(ctx context.Context) []Choice {
	some := words.T(ctx, "mail.where-any")
	return []Choice{
		{string(review.MailNever), words.T(ctx, "mail.rhythm-never"), ""},
		{string(review.MailWeekly), words.T(ctx, "mail.rhythm-weekly"), some},
		{string(review.MailDaily), words.T(ctx, "mail.rhythm-daily"), some},
		{string(review.MailAtOnce), words.T(ctx, "mail.rhythm-at-once"), words.T(ctx, "mail.at-once-means")},
	}
}
