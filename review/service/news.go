package service

import (
	"context"
	"time"

	"revidit/review"
)

// MostNewsCounted is how far news that is not read is counted.
const MostNewsCounted = 99

// NewsFilter narrows what a person is told.
type NewsFilter struct {
	Person string
	Codes  []review.NewsCode // any of them; none: nothing is told
	Unread bool              // only what is not read yet
	After  *time.Time        // only what is later; nil: all
	Before *time.Time        // only what is no later; nil: all
	IDs    []string          // only these; nil: all
}

// NewsLine is news in a list, with what tells its reader what it is about.
type NewsLine struct {
	review.News
	CatalogueNumber string `json:"catalogue_number,omitempty"`
	// Status is that of the submission now, and Family its name: of one's own submissions alone, since a name is not told to who is
	// to look blind.
	Status review.Status `json:"status,omitempty"`
	Family string        `json:"family,omitempty"`
	Owner  string        `json:"-"`
	// ProposalStatus is that of the proposed change now.
	ProposalStatus review.ProposalStatus `json:"proposal_status,omitempty"`
	// Waits: it waits for something that its reader has not done yet.
	Waits bool `json:"waits,omitempty"`
}

// NewsList is what a person is told, the latest first.
type NewsList struct {
	Lines  []NewsLine        `json:"items" nullable:"false"`
	Next   string            `json:"next,omitempty"`
	Unread int               `json:"unread" doc:"How much is not read; 100 stands for any number above 99"`
	Names  map[string]string `json:"names"` // of persons, by id
}

// News is what an actor is told.
func (s *Service) News(ctx context.Context, actor review.Actor, unread bool, page Page) (NewsList, error) {
	list := NewsList{Lines: []NewsLine{}}
	page, err := checkPage(page)
	if err != nil {
		return list, err
	}
	filter := NewsFilter{Person: actor.Person, Codes: review.NewsFor(actor), Unread: unread}
	place := cursorPlace{List: "news", Person: actor.Person, Filter: unread}
	if page.Cursor, err = s.cursors.open(place, page.Cursor); err != nil {
		return list, err
	}
	found, next, err := s.store.FindNews(ctx, filter, page)
	if err != nil {
		return list, err
	}
	var persons []string
	for _, l := range found {
		list.Lines = append(list.Lines, l.seenBy(actor))
		persons = append(persons, l.Actor)
	}
	if list.Next, err = s.cursors.seal(place, next); err != nil {
		return list, err
	}
	if list.Unread, err = s.store.CountNews(ctx, filter); err != nil {
		return list, err
	}
	list.Names, err = s.names(ctx, persons)
	return list, err
}

// seenBy is a line as its reader may see it.
func (l NewsLine) seenBy(actor review.Actor) NewsLine {
	l.News = l.News.SeenBy(actor)
	if l.Owner != actor.Person {
		l.Family = ""
	}
	switch l.Code {
	case review.NewsReturned:
		l.Waits = l.Status == review.StatusReturned
	case review.NewsAnswered:
		l.Waits = l.Status == review.StatusOpen && l.ReadAt == nil
	case review.NewsProposalWaits:
		l.Waits = l.ProposalStatus == review.ProposalOpen
	}
	return l
}

// UnreadNews is how much an actor has not read; one more than MostNewsCounted stands for any number above it.
func (s *Service) UnreadNews(ctx context.Context, actor review.Actor) (int, error) {
	return s.store.CountNews(ctx, NewsFilter{Person: actor.Person, Codes: review.NewsFor(actor), Unread: true})
}

// ReadNews notes that an actor has read news, and returns it.
func (s *Service) ReadNews(ctx context.Context, actor review.Actor, id string) (review.News, error) {
	n, err := s.store.ReadNews(ctx, actor.Person, id, s.moment(actor).Now)
	return n.SeenBy(actor), err
}

// ReadNewsUntil notes that an actor has read everything that is not later than a time: what came while the list was looked at
// stays unread.
func (s *Service) ReadNewsUntil(ctx context.Context, actor review.Actor, until time.Time) error {
	return s.store.ReadNewsUntil(ctx, actor.Person, until, s.moment(actor).Now)
}

// FollowNews notes that an actor has gone to what news is about: with it, everything is read that was told before of the same submission.
func (s *Service) FollowNews(ctx context.Context, actor review.Actor, id string) (review.News, error) {
	n, err := s.ReadNews(ctx, actor, id)
	if err != nil || n.Submission == "" {
		return n, err
	}
	return n, s.store.ReadNewsOf(ctx, actor.Person, n.Submission, n.At, s.moment(actor).Now)
}
