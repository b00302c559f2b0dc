package service

import (
	"context"
	"slices"
	"time"

	"revidit/review"
)

// Queue lists open submissions that the actor may review, the one where a look tells most first.
func (s *Service) Queue(ctx context.Context, actor review.Actor, f QueueFilter, page Page) ([]QueueLine, string, error) {
	if !review.May(actor, review.ActReadQueue, "") {
		return nil, "", review.Forbidden(actor, review.ActReadQueue, "")
	}
	page, err := checkPage(page)
	if err != nil {
		return nil, "", err
	}
	f.Viewer, f.Rechecks, f.Families, f.Machines = actor.Person, actor.LooksBlind(), actor.Families, actor.Machines
	place := cursorPlace{List: "queue", Person: actor.Person, Filter: f.asked()}
	if page.Cursor, err = s.cursors.open(place, page.Cursor); err != nil {
		return nil, "", err
	}
	if f.Weights, err = s.weightsOf(ctx, actor, f.Group); err != nil {
		return nil, "", err
	}
	if f.AsOf.IsZero() {
		f.AsOf = s.moment(actor).Now
	}
	read := func(p Page) ([]QueueLine, string, error) { return s.store.FindQueue(ctx, f, p) }
	show := func(found []QueueLine) ([]QueueLine, error) { return s.shownQueue(ctx, actor, f, found) }
	lines, next, err := filled(page, actor.LooksBlind() && f.tells(), read, show)
	if err != nil {
		return nil, "", err
	}
	next, err = s.cursors.seal(place, next)
	return lines, next, err
}

// asked is the filter without what changes between two pages of the same list.
func (f QueueFilter) asked() QueueFilter {
	f.AsOf, f.Weights = time.Time{}, nil
	return f
}

// tells says whether it gives something away of a submission that the filter finds it.
func (f QueueFilter) tells() bool { return f.Family != "" || f.Drawer != "" }

func (s *Service) shownQueue(ctx context.Context, actor review.Actor, f QueueFilter, found []QueueLine) ([]QueueLine, error) {
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
		if own, err := s.nothingButOwn(ctx, actor, l); err != nil {
			return nil, err
		} else if own {
			continue
		}
		look, hidden := blind[l.Specimen]
		if hidden && f.tells() || l.Recheck && !hidden {
			continue // that it is found would tell the name; or another submission of the specimen is known
		}
		l.SubmissionLine = l.withoutLabel(actor).veiled()
		if hidden {
			l = l.blindInQueue(look)
		}
		if l.Others() && !slices.Contains(l.KnownTo, actor.Person) {
			l.Gain, l.Region, l.LongestWaiting = 0, "", false
		}
		l.DaysWaited = int(f.AsOf.Sub(l.WaitsSince).Hours() / 24)
		l.Why = l.why()
		lines = append(lines, l)
	}
	return lines, nil
}

// nothingButOwn says whether nothing of a submission is left that the actor could judge. The observations tell, which no
// list knows: they are read of the few whose name is the actor's own.
func (s *Service) nothingButOwn(ctx context.Context, actor review.Actor, l QueueLine) (bool, error) {
	if !l.OwnName {
		return false, nil
	}
	b, err := s.store.Basis(ctx, Asked{Submission: l.ID, Person: actor.Person})
	if err != nil {
		return false, err
	}
	now, err := s.dossier(ctx, actor, &b, l.ID, "")
	if err != nil {
		return false, err
	}
	return now.Own().Everything, nil
}

// Others says whether somebody has looked already, so that the gain follows from what they said: it orders the queue, and
// is told to nobody who has not looked.
func (l QueueLine) Others() bool { return !l.Recheck && l.Reviewers > 0 }

// blindInQueue leaves out of a line of the queue what blind does, and how much a look is expected to tell: that follows
// from the states that were stated.
func (l QueueLine) blindInQueue(look string) QueueLine {
	l.SubmissionLine = l.blind(look)
	l.Gain, l.Region, l.LongestWaiting = 0, "", false
	return l
}

// QueueWhy is why a line of the queue stands where it stands.
type QueueWhy string

const (
	QueueRecheck QueueWhy = "recheck" // closed and drawn for a blind recheck
	QueueBlind   QueueWhy = "blind"   // drawn by chance for a blind look
	QueueOthers  QueueWhy = "others"  // others have looked, and what they say stays closed until the viewer has saved theirs
	QueueLongest QueueWhy = "longest" // waited longest of those left
	QueueWaited  QueueWhy = "waited"
	QueueGain    QueueWhy = "gain" // what one more look is expected to tell
)

// why is the code of why a line stands where it stands.
func (l QueueLine) why() QueueWhy {
	switch {
	case l.Recheck:
		return QueueRecheck
	case l.Blind:
		return QueueBlind
	case l.Others() && l.Region == "":
		return QueueOthers
	case l.LongestWaiting:
		return QueueLongest
	case l.Region == "":
		return QueueWaited
	}
	return QueueGain
}

// weightsOf are QueueFilter.Weights of a person.
func (s *Service) weightsOf(ctx context.Context, actor review.Actor, group string) (map[string]float64, error) {
	judge, err := s.Judge(ctx, group)
	if review.KindOf(err) == review.KindNotFound {
		return nil, nil // the queue of a group that is not there is empty
	}
	if err != nil {
		return nil, err
	}
	people, err := s.reliabilityOf(ctx, judge.Tables().Group.ID, []string{actor.Person})
	if err != nil {
		return nil, err
	}
	return review.WeightsOf(&people, actor, judge.Tables()), nil
}
