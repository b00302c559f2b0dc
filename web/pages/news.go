package pages

import (
	"context"
	"net/url"
	"slices"
	"time"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

// newsURL leads to what news is about, and notes that it was read.
func newsURL(n review.News) string { return "/news/" + url.PathEscape(n.ID) }

// unreadWords are a number of news that is not read, which is counted so far and no further.
func unreadWords(ctx context.Context, n int) string {
	if n > service.MostNewsCounted {
		return words.T(ctx, "news.over", "Number", itoa(service.MostNewsCounted))
	}
	return itoa(n)
}

// newsSubject names what news is about.
func newsSubject(ctx context.Context, l service.NewsLine) string {
	switch {
	case l.Code == review.NewsLoginTakenOff:
		return words.T(ctx, "news.of-account")
	case l.Proposal != "":
		return words.T(ctx, "news.of-tables")
	case l.CatalogueNumber == "":
		return words.T(ctx, "news.of-specimen")
	}
	return typed(l.CatalogueNumber)
}

// newsTitle names it, one's own with its name.
func newsTitle(ctx context.Context, l service.NewsLine) string {
	if l.Family == "" {
		return newsSubject(ctx, l)
	}
	return words.T(ctx, "news.with-name", "Subject", newsSubject(ctx, l), "Family", l.Family)
}

// codeWords are kinds of news.
func codeWords(ctx context.Context, code review.NewsCode) string {
	return coded(ctx, "news.code-", string(code))
}

// NewsWords say what has happened.
func NewsWords(ctx context.Context, site Site, names map[string]string, n review.News) string {
	who := name(ctx, names, n.Actor)
	switch n.Code {
	case review.NewsReturned:
		return returnedNews(ctx, site, who, n)
	case review.NewsAnswered:
		return words.T(ctx, "news.answered", "Who", who)
	case review.NewsProposalWaits:
		return words.T(ctx, "news.proposal-waits", "Who", who)
	case review.NewsProposalDecided:
		return decisionNews(ctx, who, n.About.Decision)
	case review.NewsDisputed:
		return disputedWords(ctx, who, n.About)
	case review.NewsLookedAt:
		return words.T(ctx, "news.looked-at", "Who", who)
	case review.NewsRelabelled:
		return words.T(ctx, "news.relabelled", "Who", who)
	case review.NewsConfirmed:
		return words.T(ctx, "news.confirmed")
	case review.NewsRedetermined:
		return words.T(ctx, "news.redetermined")
	case review.NewsUndetermined:
		return words.T(ctx, "news.undetermined")
	case review.NewsReopened:
		return words.T(ctx, "news.reopened")
	case review.NewsLoginTakenOff:
		return words.T(ctx, "news.museum-login-taken-off", "Who", who)
	case review.NewsDoubted:
		return words.T(ctx, "news.doubted")
	}
	return ""
}

func returnedNews(ctx context.Context, site Site, who string, n review.News) string {
	want := wantWords(ctx, n.About.Want)
	if n.About.View == "" {
		return words.T(ctx, "news.returned", "Who", who, "Want", want)
	}
	view := n.About.View
	for _, b := range site.Books {
		if b.Group.ID == n.Group {
			view = b.View(ctx, n.About.View)
		}
	}
	return words.T(ctx, "news.returned-view", "Who", who, "Want", want, "View", view)
}

func disputedWords(ctx context.Context, who string, about review.NewsAbout) string {
	renamed := about.Name == review.OpinionAnother
	switch {
	case about.Disputed == 0:
		return words.T(ctx, "news.renamed", "Who", who)
	case renamed:
		return words.N(ctx, "news.disputed-and-renamed", about.Disputed, "Who", who)
	}
	return words.N(ctx, "news.disputed", about.Disputed, "Who", who)
}

func decisionNews(ctx context.Context, who string, status review.ProposalStatus) string {
	switch status {
	case review.ProposalApproved:
		return words.T(ctx, "news.decided-approved", "Who", who)
	case review.ProposalRefused:
		return words.T(ctx, "news.decided-refused", "Who", who)
	}
	return words.T(ctx, "news.decided-withdrawn", "Who", who)
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

// newsGroup is the news of a page about one thing, the latest first; at least one.
type newsGroup []service.NewsLine

// unread says whether any of it is.
func (g newsGroup) unread() bool {
	return slices.ContainsFunc(g, func(l service.NewsLine) bool { return l.ReadAt == nil })
}

// gathered puts news about one thing together, where its latest stands.
func gathered(lines []service.NewsLine) []newsGroup {
	var groups []newsGroup
	place := map[string]int{}
	for _, l := range lines {
		about := l.Submission + " " + l.Specimen + " " + l.Proposal
		i, known := place[about]
		if !known {
			i = len(groups)
			place[about] = i
			groups = append(groups, nil)
		}
		groups[i] = append(groups[i], l)
	}
	return groups
}
