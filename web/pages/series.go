package pages

import (
	"context"
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/service"
	"revidit/web/words"
)

// SeriesData is the page of a beginner's series.
type SeriesData struct {
	View  service.SeriesView
	Lines []service.SubmissionLine
	// Seen is what the message at the end is made of, for the mentor of a running series; else nil.
	Seen      *service.SeriesSeen
	Reviewers []review.Person // to whom a curator may give it
	// Act is the form that came back with Form, or empty.
	Act  string
	Form Form
}

// Group is that of the tables which the series is of, empty where nothing tells.
func (d SeriesData) Group() string {
	switch {
	case d.View.Message != nil:
		return d.View.Message.Group
	case d.Seen != nil:
		return d.Seen.Group
	case len(d.Lines) > 0:
		return d.Lines[0].Group
	}
	return ""
}

func seriesURL(id, below string) templ.SafeURL {
	return templ.SafeURL("/series/" + url.PathEscape(id) + below)
}

// MixedCut stands between the parts of a confusion in a form: no id has it.
const MixedCut = "|"

func mixedValue(m audit.Mixed) string {
	return strings.Join([]string{m.Character, m.Stated, m.Seen}, MixedCut)
}

// Of what is proposed for a message: our own choice, no source.
const (
	leastRead  = 5   // looks at a region before it is said to be seen well
	wellRead   = 0.9 // of which so many bore the statement out
	leastMixed = 2   // specimens on which a confusion came, so that it recurs
	mostWell   = 5
)

// MessageForm is the form of a message with what is proposed for it.
func MessageForm(seen *service.SeriesSeen) Form {
	form := NewForm(nil)
	if seen == nil {
		return form
	}
	form.Set("group", seen.Group)
	for _, r := range seen.Read {
		if r.Looked >= leastRead && float64(r.Same) >= wellRead*float64(r.Looked) && len(form.Values["well"]) < mostWell {
			form.Values["well"] = append(form.Values["well"], r.Region)
		}
	}
	for _, m := range top(seen.Mixed, review.MostMixed) {
		if m.Specimens < leastMixed {
			continue
		}
		form.Values["mixed"] = append(form.Values["mixed"], mixedValue(m))
		if !slices.Contains(form.Values["practise"], m.Character) {
			form.Values["practise"] = append(form.Values["practise"], m.Character)
		}
	}
	return form
}

// mixedCharacters are the characters of confusions, each once.
func mixedCharacters(mixed []audit.Mixed) []string {
	var characters []string
	for _, m := range mixed {
		if !slices.Contains(characters, m.Character) {
			characters = append(characters, m.Character)
		}
	}
	return characters
}

// seriesStands says in a sentence where a series stands.
func seriesStands(ctx context.Context, v service.SeriesView) string {
	switch v.Status {
	case review.SeriesWaiting:
		return words.T(ctx, "series.stands-waiting")
	case review.SeriesRunning:
		return words.T(ctx, "series.stands-running", "Submissions", words.N(ctx, "common.submissions", v.Count.All), "Length", review.SeriesLength,
			"Waiting", v.Count.Waiting, "Mentor", name(ctx, v.Names, v.Mentor))
	case review.SeriesEnded:
		return words.T(ctx, "series.stands-ended", "Submissions", words.N(ctx, "common.submissions", v.Count.All))
	}
	return words.T(ctx, "series.stands-left")
}

// seriesLine is a series in a list of some.
func seriesLine(ctx context.Context, s review.Series, names map[string]string, reader string) string {
	switch {
	case s.Member == reader && s.Status == review.SeriesWaiting:
		return words.T(ctx, "series.own-waiting")
	case s.Member == reader && s.Status == review.SeriesRunning:
		return words.T(ctx, "series.own-running", "Mentor", name(ctx, names, s.Mentor))
	case s.Member == reader && s.Status == review.SeriesEnded:
		return words.T(ctx, "series.own-ended")
	case s.Member == reader:
		return words.T(ctx, "series.own-left")
	case s.Status == review.SeriesEnded:
		return words.T(ctx, "series.of-ended", "Name", name(ctx, names, s.Member))
	}
	return words.T(ctx, "series.of", "Name", name(ctx, names, s.Member))
}
