package service

import (
	"context"
	"maps"
	"slices"
	"strings"
	"unicode"

	"revidit/review"
	"revidit/review/judgement"
)

// SearchAnywhere is how many characters a text to search for must have to be found anywhere in a text; a shorter one is
// found at its beginning.
const SearchAnywhere = 3

// Find lists submissions that the actor may know of.
func (s *Service) Find(ctx context.Context, actor review.Actor, f SubmissionFilter, page Page) ([]SubmissionLine, string, error) {
	f.Viewer, f.Specimens, f.IDs = actor.Person, nil, nil
	if f.Status == review.StatusDraft {
		f.Owner = actor.Person // drafts are known to their owner alone
	}
	if f.Slips {
		f.Owner, f.Status = actor.Person, review.StatusDraft
	}
	if err := f.check(actor); err != nil {
		return nil, "", err
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	place := cursorPlace{List: "submissions", Person: actor.Person, Filter: f}
	if page.Cursor, err = s.cursors.open(place, page.Cursor); err != nil {
		return nil, "", err
	}
	read := func(p Page) ([]SubmissionLine, string, error) { return s.store.FindSubmissions(ctx, f, p) }
	show := func(found []SubmissionLine) ([]SubmissionLine, error) { return s.shownLines(ctx, actor, f, found) }
	lines, next, err := filled(page, actor.LooksBlind() && f.tells(), read, show)
	if err != nil {
		return nil, "", err
	}
	next, err = s.cursors.seal(place, next)
	return lines, next, err
}

// tells says whether it gives something away of a submission that the filter finds it.
func (f SubmissionFilter) tells() bool {
	return f.Family != "" || f.Text != "" || f.Doubtful || f.Parted || f.Series != "" || f.Owner != "" ||
		f.Determiner != "" || f.Judge != "" || f.Against != ""
}

// check refuses what nothing can be looked for by, and what a person said to who may not read it together.
func (f SubmissionFilter) check(actor review.Actor) error {
	var problems review.Problems
	if f.Status != "" && !f.Status.Valid() {
		problems.Addf("status", "must be one of draft, open, returned, confirmed, redetermined, undetermined, withdrawn")
	}
	if f.Said != SaidAnything && !slices.Contains(AllSaid, f.Said) {
		problems.Addf("said", "must be one of confirmed, disputed, agrees, another")
	}
	if f.Said != SaidAnything && f.Judge == "" {
		problems.Addf("judge", "name the person who said it")
	}
	if f.Against != "" && !slices.Contains(judgement.ContradictionKinds, f.Against) {
		problems.Addf("against", "must be one of excluded, incompatible, combination, better-fit, unusual, unseen")
	}
	if !f.From.IsZero() && !f.Until.IsZero() && !f.From.Before(f.Until) {
		problems.Addf("until", "is not after the beginning")
	}
	if err := problems.Err(); err != nil {
		return err
	}
	if f.Judge != "" && !review.May(actor, review.ActReadPerson, f.Judge) {
		return review.Forbidden(actor, review.ActReadPerson, f.Judge)
	}
	return nil
}

// finds says whether the filter finds a line by what is known to those who are to look blind. Case is folded plainly: a
// number in rare letters is passed over.
func (f SubmissionFilter) finds(l SubmissionLine) bool {
	number, text := strings.ToLower(l.CatalogueNumber), strings.ToLower(f.Text)
	found := strings.Contains
	if letters(text) < SearchAnywhere {
		found = strings.HasPrefix
	}
	return found(number, text) && f.Family == "" && !f.Doubtful && !f.Parted && f.Series == "" && f.Owner == "" &&
		f.Determiner == "" && f.Judge == "" && f.Against == ""
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

func (s *Service) shownLines(ctx context.Context, actor review.Actor, f SubmissionFilter, found []SubmissionLine) ([]SubmissionLine, error) {
	blind, err := s.blindOf(ctx, actor, found)
	if err != nil {
		return nil, err
	}
	lines := []SubmissionLine{}
	for _, l := range found {
		l = l.withoutLabel(actor)
		if l.Owner != actor.Person {
			l = l.veiled()
		} else if l.Series != "" {
			l.Confidence, l.Leading = 0, ""
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

// withoutLabel leaves out a photo that shows the labels, for who may not see what is withheld of them.
func (l SubmissionLine) withoutLabel(actor review.Actor) SubmissionLine {
	if slices.Contains(l.LabelPhotos, l.Photo) && !review.May(actor, review.ActReadWithheld, l.SpecimenOwner) {
		l.Photo = ""
	}
	return l
}

// veiled leaves out numbers that give away what other reviewers have said of a submission that is not closed.
func (l SubmissionLine) veiled() SubmissionLine {
	if l.Status == review.StatusOpen || l.Status == review.StatusReturned {
		l.Confidence, l.Leading, l.Contradictions, l.Sealed = 0, "", 0, true
	}
	return l
}

// blind leaves out everything that would give away a name to somebody who is to look blind: drawers are often named
// after what stands in them, and owners have nearly always determined. look is the submission to look at.
func (l SubmissionLine) blind(look string) SubmissionLine {
	l.Family, l.ScientificName, l.Qualifier, l.Doubted, l.Leading, l.Owner, l.OwnerName, l.Drawer = "", "", "", "", "", "", "", ""
	l.Confidence, l.Contradictions, l.Reviewers, l.Sealed, l.Blind, l.Look = 0, 0, 0, true, true, look
	return l
}

// blindOf are the specimens of which the actor is to look at something blind, each with the submission to look at (empty
// while it waits for its owner). A list does not know whether there is a character to ask for, so that it may hide what
// the submission itself then shows.
func (s *Service) blindOf(ctx context.Context, actor review.Actor, lines []SubmissionLine) (map[string]string, error) {
	if !actor.LooksBlind() || len(lines) == 0 {
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
	if len(blind) == 0 {
		return blind, nil
	}
	opened, err := s.store.OpenedBy(ctx, actor.Person, slices.Collect(maps.Keys(blind)))
	for specimen := range opened {
		delete(blind, specimen)
	}
	return blind, err
}

// drawn says whether a person who knows nothing of a submission is to look at it blind, and which one to open: none while
// it waits for its owner.
func (l SubmissionLine) drawn(person string) (look string, drawn bool) {
	switch l.Status {
	case review.StatusOpen:
		return l.ID, l.Draw != nil && l.Draw.Drawn(person)
	case review.StatusReturned:
		return "", l.Draw != nil && l.Draw.Drawn(person)
	}
	return l.ID, l.RecheckOpen
}

// MostCounted is how far submissions are counted: nobody acts on more, and counting them all takes the longer the more
// there are.
const MostCounted = 1000

// Counts are how many submissions stand in each status, drafts only the actor's own; one more than MostCounted stands for
// any number above it.
func (s *Service) Counts(ctx context.Context, actor review.Actor) (map[review.Status]int, error) {
	return s.store.CountByStatus(ctx, actor.Person)
}
