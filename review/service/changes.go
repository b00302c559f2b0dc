package service

import (
	"context"
	"slices"
	"time"

	"revidit/review"
)

// Turn is an event after which a submission stands otherwise.
type Turn struct {
	Submission string
	Seq        int
	Kind       string
	At         time.Time
}

// Came is what is different in the collection at the end of a period.
type Came string

const (
	CameIn       Came = "came"     // before reviewers now, and not before
	CameSettled  Came = "settled"  // confirmed or undetermined now, and not before
	CameChanged  Came = "changed"  // followed by another determination now, and not before
	CameReopened Came = "reopened" // closed before, and before reviewers now
	CameOut      Came = "went"     // taken back now, and not before
)

// AllCame are all of them, in the order in which they are shown.
var AllCame = []Came{CameSettled, CameChanged, CameIn, CameReopened, CameOut}

// cameBy are the kinds of events by which it comes about.
var cameBy = map[Came][]string{CameIn: {"submitted"}, CameSettled: {"confirmed", "undetermined"}, CameChanged: {"redetermined"},
	CameReopened: {"reopened"}, CameOut: {"withdrawn"}}

// ChangeLine is a submission that stands otherwise at the end of a period than at its beginning.
type ChangeLine struct {
	SubmissionLine
	At     time.Time     `json:"at" doc:"When it came about"`
	Before review.Status `json:"before" doc:"At the beginning; empty: not before reviewers yet"`
	After  review.Status `json:"after" doc:"At the end; open also stands for returned"`
	// Follower is the name that follows it, of CameChanged.
	Follower *review.Determination `json:"follower,omitempty" doc:"Of changed: the determination that follows it"`
}

// CameCounts are how many events brought about each; one more than MostCounted stands for any number above it.
type CameCounts map[Came]int

// Changes are how the collection at the end of a period differs from what it was at the beginning, of one kind, the latest
// first. Where something happened twice meanwhile, the difference is told once.
func (s *Service) Changes(ctx context.Context, actor review.Actor, which Came, period review.Period, page Page) ([]ChangeLine, string, error) {
	if err := mayReadChanges(actor, which); err != nil {
		return nil, "", err
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	from, to := period.Days()
	place := cursorPlace{List: "changes", Person: actor.Person, Filter: []string{string(which), from, to}}
	if page.Cursor, err = s.cursors.open(place, page.Cursor); err != nil {
		return nil, "", err
	}
	read := func(p Page) ([]Turn, string, error) { return s.store.FindTurns(ctx, cameBy[which], period, p) }
	lines, next, err := s.changeLines(ctx, actor, which, period, page, read)
	if err != nil {
		return nil, "", err
	}
	next, err = s.cursors.seal(place, next)
	return lines, next, err
}

func mayReadChanges(actor review.Actor, which Came) error {
	if !slices.Contains(AllCame, which) {
		return review.Invalidf("which", "must be one of settled, changed, came, reopened, went")
	}
	if !review.May(actor, review.ActReadChanges, "") {
		return review.Forbidden(actor, review.ActReadChanges, "")
	}
	return nil
}

// mostTurnPages bounds how many pages of events are looked through for one page of differences.
const mostTurnPages = 5

func (s *Service) changeLines(ctx context.Context, actor review.Actor, which Came, period review.Period, page Page, read func(Page) ([]Turn, string, error)) (lines []ChangeLine, next string, err error) {
	lines, next = []ChangeLine{}, page.Cursor
	for range mostTurnPages {
		found, cursor, err := read(Page{Size: page.Size - len(lines), Cursor: next})
		if err != nil {
			return nil, "", err
		}
		some, err := s.differences(ctx, actor, which, period, found)
		if err != nil {
			return nil, "", err
		}
		lines, next = append(lines, some...), cursor
		if next == "" || len(lines) == page.Size {
			break
		}
	}
	return lines, next, nil
}

// differences are the lines of those events that make a difference between beginning and end.
func (s *Service) differences(ctx context.Context, actor review.Actor, which Came, period review.Period, found []Turn) ([]ChangeLine, error) {
	var ids []string
	for _, t := range found {
		ids = append(ids, t.Submission)
	}
	slices.Sort(ids)
	ids = slices.Compact(ids)
	all, err := s.store.TurnsOf(ctx, ids)
	if err != nil {
		return nil, err
	}
	var lines []ChangeLine
	for _, t := range found {
		if l, differs := differenceBy(which, t, all[t.Submission], period); differs {
			lines = append(lines, l)
		}
	}
	return s.filledIn(ctx, actor, which, lines)
}

// differenceBy is the difference that an event makes: that it is the last to bring it about, and that there is one.
func differenceBy(which Came, t Turn, all []Turn, period review.Period) (ChangeLine, bool) {
	l := ChangeLine{SubmissionLine: SubmissionLine{ID: t.Submission}, At: t.At}
	last := Turn{}
	for _, other := range all {
		if !period.Until.IsZero() && !other.At.Before(period.Until) {
			break
		}
		if other.At.Before(period.From) {
			l.Before = turned(other.Kind, l.Before)
		}
		if slices.Contains(cameBy[which], other.Kind) {
			last = other
		}
		l.After = turned(other.Kind, l.After)
	}
	if last.Seq != t.Seq {
		return l, false
	}
	closed := func(st review.Status) bool { return st != "" && st != review.StatusOpen }
	switch which {
	case CameIn:
		return l, l.Before == "" && l.After != ""
	case CameReopened:
		return l, closed(l.Before) && l.After == review.StatusOpen
	case CameSettled:
		return l, l.After != l.Before && (l.After == review.StatusConfirmed || l.After == review.StatusUndetermined)
	case CameChanged:
		return l, l.After == review.StatusRedetermined && l.Before != l.After
	}
	return l, l.After == review.StatusWithdrawn && l.Before != l.After
}

// turned is where a submission stands after an event; whether it was returned is told by none of them.
func turned(kind string, before review.Status) review.Status {
	switch kind {
	case "submitted", "reopened":
		return review.StatusOpen
	case "confirmed":
		return review.StatusConfirmed
	case "redetermined":
		return review.StatusRedetermined
	case "undetermined":
		return review.StatusUndetermined
	case "withdrawn":
		return review.StatusWithdrawn
	}
	return before
}

// filledIn are the lines with what a list tells of their submissions to the actor; without those that cannot be told of.
func (s *Service) filledIn(ctx context.Context, actor review.Actor, which Came, lines []ChangeLine) ([]ChangeLine, error) {
	if len(lines) == 0 {
		return nil, nil
	}
	var ids []string
	for _, l := range lines {
		ids = append(ids, l.ID)
	}
	f := SubmissionFilter{Viewer: actor.Person, IDs: ids}
	known := map[string]SubmissionLine{}
	for page := (Page{Size: largestPage}); ; {
		found, next, err := s.store.FindSubmissions(ctx, f, page)
		if err != nil {
			return nil, err
		}
		shown, err := s.shownLines(ctx, actor, SubmissionFilter{Viewer: actor.Person, Doubtful: true}, found) // nothing that is to be looked at blind
		if err != nil {
			return nil, err
		}
		for _, l := range shown {
			known[l.ID] = l
		}
		if page.Cursor = next; next == "" {
			break
		}
	}
	lines = slices.DeleteFunc(lines, func(l ChangeLine) bool { _, ok := known[l.ID]; return !ok })
	for i := range lines {
		lines[i].SubmissionLine = known[lines[i].ID]
	}
	if which != CameChanged {
		return lines, nil
	}
	return lines, s.followers(ctx, lines)
}

// followers sets what follows submissions.
func (s *Service) followers(ctx context.Context, lines []ChangeLine) error {
	var ids, after []string
	for _, l := range lines {
		ids = append(ids, l.ID)
	}
	unread := s.unread()
	found, err := s.store.SubmissionsWith(ctx, ids, unread.add)
	if err != nil {
		return err
	}
	for _, sub := range found {
		after = append(after, sub.FollowedBy)
	}
	next, err := s.store.SubmissionsWith(ctx, after, unread.add)
	for i, l := range lines {
		if f, ok := next[found[l.ID].FollowedBy]; ok {
			lines[i].Follower = &f.Determination
		}
	}
	return err
}

// CountChanges is how often each came about in a period.
func (s *Service) CountChanges(ctx context.Context, actor review.Actor, period review.Period) (CameCounts, error) {
	if err := mayReadChanges(actor, CameIn); err != nil {
		return nil, err
	}
	counts := CameCounts{}
	for _, which := range AllCame {
		n, err := s.store.CountTurns(ctx, cameBy[which], period, MostCounted+1)
		if err != nil {
			return nil, err
		}
		counts[which] = n
	}
	return counts, nil
}
