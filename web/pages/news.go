package pages

import (
	"context"
	"net/url"
	"time"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/service"
)

// newsURL leads to what news is about, and notes that it was read.
func newsURL(n review.News) string { return "/news/" + url.PathEscape(n.ID) }

// unreadWords are a number of news that is not read, which is counted so far and no further.
func unreadWords(n int) string {
	if n > service.MostNewsCounted {
		return "over " + itoa(service.MostNewsCounted)
	}
	return itoa(n)
}

// newsSubject names what news is about.
func newsSubject(l service.NewsLine) string {
	switch {
	case l.Proposal != "":
		return "A change of the tables"
	case l.CatalogueNumber == "":
		return "A specimen without a number"
	}
	return typed(l.CatalogueNumber)
}

// newsTitle names it, one's own with its name.
func newsTitle(l service.NewsLine) string {
	if l.Family == "" {
		return newsSubject(l)
	}
	return newsSubject(l) + ", " + l.Family
}

// NewsWords say what has happened.
func NewsWords(site Site, names map[string]string, n review.News) string {
	who := name(context.TODO(), names, n.Actor)
	switch n.Code {
	case review.NewsReturned:
		return who + " asks for " + wantWords(context.TODO(), n.About.Want) + viewWanted(site, n)
	case review.NewsAnswered:
		return who + " has added something since you looked"
	case review.NewsProposalWaits:
		return who + " proposes it; it waits for a second curator"
	case review.NewsProposalDecided:
		return decisionNews(who, n.About.Decision)
	case review.NewsDisputed:
		return disputedWords(who, n.About)
	case review.NewsLookedAt:
		return who + " has looked at it"
	case review.NewsRelabelled:
		return who + " has changed its label data"
	}
	return happenedWords[n.Code]
}

var happenedWords = map[review.NewsCode]string{
	review.NewsConfirmed:    "The name stands",
	review.NewsRedetermined: "Another determination has followed it",
	review.NewsUndetermined: "It was left undetermined",
	review.NewsReopened:     "It is before reviewers again",
	review.NewsDoubted:      "The diagnosis tables have changed, and put its name in doubt",
}

func viewWanted(site Site, n review.News) string {
	if n.About.View == "" {
		return ""
	}
	for _, b := range site.Books {
		if b.Group.ID == n.Group {
			return ": " + b.View(context.TODO(), n.About.View)
		}
	}
	return ": " + n.About.View
}

func disputedWords(who string, about review.NewsAbout) string {
	words := who
	if about.Disputed > 0 {
		words += " sees something else in " + count(about.Disputed, "character", "characters")
	}
	if about.Name != review.OpinionAnother {
		return words
	}
	if about.Disputed > 0 {
		words += ", and"
	}
	return words + " gives another name"
}

func decisionNews(who string, status review.ProposalStatus) string {
	switch status {
	case review.ProposalApproved:
		return who + " agrees with it"
	case review.ProposalRefused:
		return who + " does not agree with it"
	}
	return who + " has taken it back"
}

// instantText is a time to the microsecond, as forms send it back.
func instantText(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000Z07:00") }

// currentPage marks a link of the navigation that leads to where the page stands.
func currentPage(site Site, path string) templ.Attributes {
	if !site.at(path) {
		return nil
	}
	return templ.Attributes{"aria-current": "page"}
}
