package review

import (
	"strings"
	"time"
)

// Period is a stretch of time: from its beginning on, and before its end. A zero time is no bound.
type Period struct {
	From, Until time.Time
}

// dayLayout is how a day is written.
const dayLayout = time.DateOnly

// ParsePeriod reads two days in UTC, of which the last one belongs to the period; either may be empty. What is wrong is told by
// the field.
func ParsePeriod(from, to string) (p Period, err error) {
	var problems Problems
	day := func(field, text string) time.Time {
		if text = strings.TrimSpace(text); text == "" {
			return time.Time{}
		}
		t, err := time.Parse(dayLayout, text)
		if err != nil || t.Year() < 1 {
			problems.Addf(field, "must be a day, such as 2026-05-14")
		}
		return t
	}
	p.From, p.Until = day("from", from), day("to", to)
	if !p.Until.IsZero() {
		p.Until = p.Until.AddDate(0, 0, 1)
	}
	if err := problems.Err(); err != nil {
		return Period{}, err
	}
	if !p.From.IsZero() && !p.Until.IsZero() && !p.From.Before(p.Until) {
		return Period{}, Invalidf("to", "is before the beginning")
	}
	return p, nil
}

// All says whether it has no bounds.
func (p Period) All() bool { return p.From.IsZero() && p.Until.IsZero() }

// Over says whether nothing can come into it any more.
func (p Period) Over(now time.Time) bool { return !p.Until.IsZero() && !now.Before(p.Until) }

// Days are its first and last day, as ParsePeriod reads them.
func (p Period) Days() (from, to string) {
	if !p.From.IsZero() {
		from = p.From.UTC().Format(dayLayout)
	}
	if !p.Until.IsZero() {
		to = p.Until.UTC().AddDate(0, 0, -1).Format(dayLayout)
	}
	return from, to
}

// Key is the period as text, empty without bounds; ParsePeriod reads what stands on either side of the two dots.
func (p Period) Key() string {
	if p.All() {
		return ""
	}
	from, to := p.Days()
	return from + ".." + to
}
