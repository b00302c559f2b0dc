package review

import (
	"context"
	"slices"
	"strings"
	"unicode"
)

// SearchAnywhere is how many characters a text to search for must have to be found anywhere in a text; a shorter one is
// found at its beginning.
const SearchAnywhere = 3

// Find lists submissions that the actor may know of.
func (s *Service) Find(ctx context.Context, actor Actor, f SubmissionFilter, page Page) ([]SubmissionLine, string, error) {
	f.Viewer, f.Specimens = actor.Person, nil
	if f.Status == StatusDraft {
		f.Owner = actor.Person // drafts are known to their owner alone
	}
	if f.Status != "" && !f.Status.Valid() {
		return nil, "", Invalidf("status", "must be one of draft, open, returned, confirmed, redetermined, undetermined, withdrawn")
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	read := func(p Page) ([]SubmissionLine, string, error) { return s.store.FindSubmissions(ctx, f, p) }
	show := func(found []SubmissionLine) ([]SubmissionLine, error) { return s.shownLines(ctx, actor, f, found) }
	return filled(page, actor.Role == RoleReviewer && f.tells(), read, show)
}

// tells says whether it gives something away of a submission that the filter finds it.
func (f SubmissionFilter) tells() bool {
	return f.Family != "" || f.Text != "" || f.Doubtful || f.Owner != ""
}

// finds says whether the filter finds a line by what is known to those who are to look blind. Case is folded plainly: a
// number in rare letters is passed over.
func (f SubmissionFilter) finds(l SubmissionLine) bool {
	number, text := strings.ToLower(l.CatalogueNumber), strings.ToLower(f.Text)
	found := strings.Contains
	if letters(text) < SearchAnywhere {
		found = strings.HasPrefix
	}
	return found(number, text) && f.Family == "" && !f.Doubtful && f.Owner == ""
}

// letters counts characters; an accent that is written apart belongs to the one before.
func letters(text string) int {
	n := 0
	for _, r := range text {
		if !unicode.Is(unicode.Mn, r) {
			n++
		}
	}
	return n
}

func (s *Service) shownLines(ctx context.Context, actor Actor, f SubmissionFilter, found []SubmissionLine) ([]SubmissionLine, error) {
	blind, err := s.blindOf(ctx, actor, found)
	if err != nil {
		return nil, err
	}
	lines := []SubmissionLine{}
	for _, l := range found {
		if l.Owner != actor.Person {
			l = l.veiled()
		}
		if look, hidden := blind[l.Specimen]; hidden {
			if f.tells() && !f.finds(l) {
				continue // that it is found would tell the name
			}
			l = l.blind(look)
		}
		lines = append(lines, l)
	}
	return lines, nil
}

// filled reads pages until one is full of lines that are shown. Where it would tell something that a line is left out,
// neither a short page nor a cursor may say that there is one: a page is filled up, and there is a next one only where
// that has something to show.
func filled[Line any](page Page, tells bool, read func(Page) ([]Line, string, error), show func([]Line) ([]Line, error)) ([]Line, string, error) {
	lines, next := []Line{}, page.Cursor
	for {
		found, cursor, err := read(Page{Size: page.Size - len(lines), Cursor: next})
		if err != nil {
			return nil, "", err
		}
		shown, err := show(found)
		if err != nil {
			return nil, "", err
		}
		lines, next = append(lines, shown...), cursor
		if next == "" || !tells {
			return lines, next, nil
		}
		if len(lines) == page.Size {
			break
		}
	}
	for after := next; after != ""; {
		found, cursor, err := read(Page{Size: page.Size, Cursor: after})
		if err != nil {
			return nil, "", err
		}
		shown, err := show(found)
		if err != nil {
			return nil, "", err
		}
		if len(shown) > 0 {
			return lines, next, nil
		}
		after = cursor
	}
	return lines, "", nil
}

// veiled leaves out numbers that give away what other reviewers have said of a submission that is not closed.
func (l SubmissionLine) veiled() SubmissionLine {
	if l.Status == StatusOpen || l.Status == StatusReturned {
		l.Confidence, l.Leading, l.Contradictions, l.Sealed = 0, "", 0, true
	}
	return l
}

// blind leaves out everything that would give away a name to somebody who is to look blind: drawers are often named
// after what stands in them, and owners have nearly always determined. look is the submission to look at.
func (l SubmissionLine) blind(look string) SubmissionLine {
	l.Family, l.ScientificName, l.Qualifier, l.Leading, l.Owner, l.OwnerName, l.Drawer = "", "", "", "", "", "", ""
	l.Confidence, l.Contradictions, l.Reviewers, l.Sealed, l.Blind, l.Look = 0, 0, 0, true, true, look
	return l
}

// blindOf are the specimens of which the actor is to look at something blind, each with the submission to look at (empty
// while it waits for its owner). A list does not know whether there is a character to ask for, so that it may hide what
// the submission itself then shows.
func (s *Service) blindOf(ctx context.Context, actor Actor, lines []SubmissionLine) (map[string]string, error) {
	if actor.Role != RoleReviewer || len(lines) == 0 {
		return nil, nil
	}
	known, blind := map[string]bool{}, map[string]string{}
	f := SubmissionFilter{Viewer: actor.Person}
	for _, l := range lines {
		if !slices.Contains(f.Specimens, l.Specimen) {
			f.Specimens = append(f.Specimens, l.Specimen)
		}
	}
	for cursor, more := "", true; more; more = cursor != "" {
		found, next, err := s.store.FindSubmissions(ctx, f, Page{Size: largestPage, Cursor: cursor})
		if err != nil {
			return nil, err
		}
		for _, l := range found {
			if slices.Contains(l.KnownTo, actor.Person) {
				known[l.Specimen] = true
			}
			if look, drawn := l.drawn(actor.Person); drawn && blind[l.Specimen] == "" {
				blind[l.Specimen] = look
			}
		}
		cursor = next
	}
	for specimen := range known {
		delete(blind, specimen)
	}
	return blind, nil
}

// drawn says whether a person who knows nothing of a submission is to look at it blind, and which one to open: none while
// it waits for its owner.
func (l SubmissionLine) drawn(person string) (look string, drawn bool) {
	switch l.Status {
	case StatusOpen:
		return l.ID, l.Draw != nil && l.Draw.Drawn(person)
	case StatusReturned:
		return "", l.Draw != nil && l.Draw.Drawn(person)
	}
	return l.ID, l.RecheckOpen
}

const (
	largestPage = 200
	// longestCursor has room for the weights of all regions, which a cursor of the queue carries.
	longestCursor = 2000
)

func checkPage(page Page) (Page, error) {
	if page.Size == 0 {
		page.Size = 50
	}
	if page.Size < 1 || page.Size > largestPage {
		return page, Invalidf("size", "must be from 1 to 200")
	}
	if len(page.Cursor) > longestCursor {
		return page, Invalidf("cursor", "is none that this service gave")
	}
	return page, nil
}

// Queue lists open submissions that the actor may review, the one where a look tells most first.
func (s *Service) Queue(ctx context.Context, actor Actor, f QueueFilter, page Page) ([]QueueLine, string, error) {
	if !May(actor, ActReadQueue, "") {
		return nil, "", forbidden(actor, ActReadQueue, "")
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	if f.Weights, err = s.weightsOf(ctx, actor, f.Group); err != nil {
		return nil, "", err
	}
	f.Viewer, f.Rechecks = actor.Person, actor.Role == RoleReviewer
	if f.AsOf.IsZero() {
		f.AsOf = s.moment(actor).Now
	}
	read := func(p Page) ([]QueueLine, string, error) { return s.store.FindQueue(ctx, f, p) }
	show := func(found []QueueLine) ([]QueueLine, error) { return s.shownQueue(ctx, actor, f, found) }
	return filled(page, actor.Role == RoleReviewer && f.tells(), read, show)
}

// tells says whether it gives something away of a submission that the filter finds it.
func (f QueueFilter) tells() bool { return f.Family != "" || f.Drawer != "" }

func (s *Service) shownQueue(ctx context.Context, actor Actor, f QueueFilter, found []QueueLine) ([]QueueLine, error) {
	plain := make([]SubmissionLine, len(found))
	for i, l := range found {
		plain[i] = l.SubmissionLine
	}
	blind, err := s.blindOf(ctx, actor, plain)
	if err != nil {
		return nil, err
	}
	lines := []QueueLine{}
	for _, l := range found {
		look, hidden := blind[l.Specimen]
		if hidden && f.tells() || l.Recheck && !hidden {
			continue // that it is found would tell the name; or another submission of the specimen is known
		}
		l.SubmissionLine = l.veiled()
		if hidden {
			l = l.blindInQueue(look)
		}
		if l.others() && !slices.Contains(l.KnownTo, actor.Person) {
			l.Gain, l.Region, l.LongestWaiting = 0, "", false
		}
		l.Reason = queueReason(l, f)
		lines = append(lines, l)
	}
	return lines, nil
}

// others says whether somebody has looked already, so that the gain follows from what they said: it orders the queue, and
// is told to nobody who has not looked.
func (l QueueLine) others() bool { return !l.Recheck && l.Reviewers > 0 }

// blindInQueue leaves out of a line of the queue what blind does, and how much a look is expected to tell: that follows
// from the states that were stated.
func (l QueueLine) blindInQueue(look string) QueueLine {
	l.SubmissionLine = l.blind(look)
	l.Gain, l.Region, l.LongestWaiting = 0, "", false
	return l
}
