package service

import (
	"context"
	"errors"
	"math/rand/v2"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/jobs"
)

// load reads a submission with what belongs to it, and checks that the actor may know of it, is not to look at it blind
// first, and has decided on the present version of the evidence. Everything that shows a submission goes through here.
func (s *Service) load(ctx context.Context, actor review.Actor, id string, version int) (*review.Dossier, error) {
	now, b, err := s.loadBlind(ctx, actor, id, version)
	if err != nil {
		return nil, err
	}
	return now, s.hiddenSpecimen(ctx, actor, b)
}

// loadBlind is load for those who are to look blind and are shown no more than the question.
func (s *Service) loadBlind(ctx context.Context, actor review.Actor, id string, version int) (*review.Dossier, *Basis, error) {
	b, err := s.store.Basis(ctx, Asked{Submission: id, Person: actor.Person})
	if err != nil {
		return nil, nil, err
	}
	now, err := s.dossier(ctx, actor, &b, id, "")
	if err != nil {
		return nil, nil, err
	}
	if !review.MayRead(actor, now.Submission) {
		return nil, nil, review.Errorf(review.KindNotFound, "There is no submission %s.", id)
	}
	if version != AnyVersion && version != now.Version() {
		return nil, nil, review.Errorf(review.KindStale, "This submission has changed since you opened it: its photos, characters, label, name or status are others now. Nothing was stored: compare what you have with the present version and send it again.")
	}
	return now, &b, nil
}

// attempts bounds how often an act is decided anew on what others have just changed. Of so many who act at once all get
// through, because of those who race one always does.
const attempts = 40

// act does one thing to one submission: load, decide, assess, settle, commit. Nobody hears of others who were quicker: it is
// decided again on what they left, and refused where the evidence is another one then than that which was decided on.
func (s *Service) act(ctx context.Context, actor review.Actor, id string, version int, decide func(*review.Dossier) (review.Decision, error)) (Done, error) {
	return again(ctx, func() (Done, error) {
		now, err := s.load(ctx, actor, id, version)
		if err != nil {
			return Done{}, err
		}
		return s.carryOut(ctx, now, decide)
	})
}

// again repeats what lost a race, after a pause of chance so that those who raced do not meet again.
func again[T any](ctx context.Context, try func() (T, error)) (made T, err error) {
	for i := range attempts {
		if made, err = try(); !errors.Is(err, ErrRace) {
			return made, err
		}
		select {
		case <-ctx.Done():
			return made, err
		case <-time.After(time.Duration(rand.Int64N(int64(min(i+1, 10)) * int64(2*time.Millisecond)))):
		}
	}
	return made, err
}

// carryOut decides, assesses, settles and commits.
func (s *Service) carryOut(ctx context.Context, now *review.Dossier, decide func(*review.Dossier) (review.Decision, error)) (Done, error) {
	closedBefore := now.Submission.Closed()
	made, err := decide(now)
	if err != nil {
		return Done{}, err
	}
	if err := now.ForMentor(made); err != nil {
		return Done{}, err
	}
	form, renamed := now.Renamed(made)
	w := review.NewWriter(now.Moment)
	if now.Draft != nil && made.Draft == nil {
		if err := now.Enter(w, newSalt()); err != nil {
			return Done{}, err
		}
	}
	if err := now.Write(w, made); err != nil {
		return Done{}, err
	}
	if renamed {
		if _, err := s.follow(w, now, form); err != nil {
			return Done{}, err
		}
	}
	if !closedBefore && now.Submission.Closed() && now.Submission.OpenedAt != nil {
		w.Batch.Jobs = []jobs.Job{jobs.Learn(now.Judge.Tables().Group.ID)}
	}
	return s.done(ctx, w, now)
}

// Done is a submission as an act has left it. ViewDone shows it without reading it again.
type Done struct {
	review.Submission
	now *review.Dossier // nil where the act was done before
}

// done commits the writer of an act.
func (s *Service) done(ctx context.Context, w *review.Writer, now *review.Dossier) (Done, error) {
	if len(w.Batch.Events) > 0 || w.Batch.Draft != nil { // else everything is as it was
		if err := s.commit(ctx, w); err != nil {
			return Done{}, err
		}
	}
	now.Siblings = withSubmission(now.Siblings, *now.Submission)
	return Done{*now.Submission, now}, nil
}

// withSubmission is a list with a submission as it is now, in place of what it was.
func withSubmission(list []review.Submission, made review.Submission) []review.Submission {
	list = slices.DeleteFunc(slices.Clone(list), func(s review.Submission) bool { return s.ID == made.ID })
	return oldestFirst(append(list, made))
}

// oldestFirst puts submissions in order.
func oldestFirst(list []review.Submission) []review.Submission {
	review.InOrder(list)
	return list
}
