package review

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// Reliability is the present snapshot of a group: whole for curators, otherwise what is known of the actor alone.
func (s *Service) Reliability(ctx context.Context, actor Actor, group string) (Reliability, map[string]string, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return Reliability{}, nil, err
	}
	r, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return Reliability{}, nil, err
	}
	return s.reliabilityFor(ctx, actor, r)
}

// ReliabilityAt is the snapshot of a version, computed again from the events; seen as Reliability is.
func (s *Service) ReliabilityAt(ctx context.Context, actor Actor, group string, version int) (Reliability, map[string]string, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return Reliability{}, nil, err
	}
	id := judge.Tables().Group.ID
	events, err := s.store.Events(ctx, ReliabilityStream(id))
	if err != nil {
		return Reliability{}, nil, err
	}
	if version < 0 || version > len(events) {
		return Reliability{}, nil, Errorf(KindNotFound, "There is no version %d of the reliabilities of %s; the latest is %d.", version, id, len(events))
	}
	r, err := ReplayReliability(id, events[:version])
	if err != nil {
		return Reliability{}, nil, err
	}
	return s.reliabilityFor(ctx, actor, r)
}

func (s *Service) reliabilityFor(ctx context.Context, actor Actor, r Reliability) (Reliability, map[string]string, error) {
	if !May(actor, ActReadFigures, "") {
		own := map[string]PersonKnown{}
		if known, ok := r.People[actor.Person]; ok {
			own[actor.Person] = known
		}
		r.People, r.Added = own, []string{}
	}
	var ids []string
	for id := range r.People {
		ids = append(ids, id)
	}
	names, err := s.names(ctx, ids)
	return r, names, err
}

// learnAttempts bounds how often learning yields to others who learn at the same moment.
const learnAttempts = 5

// learn takes in a specimen when the last of its submissions has just closed; a draft that was discarded changes nothing,
// and what a refit has taken in already would count twice. The act itself is stored already, so that a
// failure here is told to the keeper, not to the actor: the next refit takes the specimen in.
func (s *Service) learn(ctx context.Context, now *situation) {
	if !now.submission.Closed() || now.submission.OpenedAt == nil {
		return
	}
	var err error
	for range learnAttempts {
		if err = s.learnOnce(ctx, now); KindOf(err) != KindConflict {
			break
		}
	}
	if err != nil {
		s.failed(fmt.Errorf("learn from specimen %s, which the next refit takes in: %w", now.specimen.ID, err))
	}
}

func (s *Service) learnOnce(ctx context.Context, now *situation) error {
	group := now.judge.Tables().Group.ID
	submissions, err := s.store.SubmissionsOf(ctx, now.specimen.ID)
	if err != nil {
		return err
	}
	closed, ok := closedOf(now.specimen, submissions)
	if !ok {
		return nil
	}
	known, err := s.store.Reliability(ctx, group)
	if err != nil || slices.Contains(known.Added, now.specimen.ID) {
		return err
	}
	learnt, people, err := now.judge.Learn(known, []Closed{closed}, now.policy.List, now.Now)
	if err != nil {
		return err
	}
	change := &ReliabilityLearned{Specimens: []string{closed.Specimen.ID}, Items: learnt.Items - known.Items, People: map[string]PersonKnown{}}
	for _, id := range people {
		change.People[id] = learnt.People[id]
	}
	w := newWriter(now.Moment)
	if err := w.reliability(&known, change); err != nil {
		return err
	}
	return s.commit(ctx, w)
}

// reliability writes a change of a snapshot.
func (w *writer) reliability(r *Reliability, c Change) error {
	e := w.event(ReliabilityStream(r.Group), r.Version+1, c)
	if err := r.apply(e); err != nil {
		return err
	}
	w.batch.Events = append(w.batch.Events, e)
	w.batch.Reliability = r
	return nil
}

// Refit weighs all reports on a group together and returns the new snapshot.
func (s *Service) Refit(ctx context.Context, actor Actor, group string) (Reliability, error) {
	if !May(actor, ActRefit, "") {
		return Reliability{}, forbidden(actor, ActRefit, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return Reliability{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return Reliability{}, err
	}
	known, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return Reliability{}, err
	}
	var specimens []Closed
	err = s.store.EachSpecimen(ctx, judge.Tables().Group.ID, func(spec Specimen, submissions []Submission) error {
		if c, ok := closedOf(&spec, submissions); ok {
			specimens = append(specimens, c)
		}
		return nil
	})
	if err != nil {
		return Reliability{}, err
	}
	m := s.moment(actor)
	fitted, err := judge.Refit(known, specimens, policy.List, m.Now)
	if err != nil {
		return Reliability{}, err
	}
	w := newWriter(m)
	if err := w.reliability(&known, &ReliabilityRefitted{Reliability: fitted}); err != nil {
		return Reliability{}, err
	}
	return known, s.commit(ctx, w)
}

// RefitEvery is how old a refit may get while something new has been learnt.
const RefitEvery = 24 * time.Hour

// RefitDue refits the groups of which something was learnt since a refit that is older than RefitEvery, and returns
// their ids. Several programs may do so at once: whoever comes second changes nothing.
func (s *Service) RefitDue(ctx context.Context, actor Actor) ([]string, error) {
	judges, err := s.Groups(ctx)
	if err != nil {
		return nil, err
	}
	var done []string
	for _, j := range judges {
		group := j.Tables().Group.ID
		known, err := s.store.Reliability(ctx, group)
		if err != nil {
			return done, err
		}
		if len(known.Added) == 0 || s.moment(actor).Now.Sub(known.Refitted) < RefitEvery {
			continue
		}
		switch _, err := s.Refit(ctx, actor, group); {
		case KindOf(err) == KindConflict:
		case err != nil:
			return done, fmt.Errorf("refit %s: %w", group, err)
		default:
			done = append(done, group)
		}
	}
	return done, nil
}
