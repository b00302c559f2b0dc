package service

import (
	"context"
	"fmt"
	"time"

	"revidit/review"
	"revidit/review/audit"
)

// Refit weighs all reports on a group together and returns the new snapshot.
func (s *Service) Refit(ctx context.Context, actor review.Actor, group string) (review.Reliability, error) {
	if !review.May(actor, review.ActRefit, "") {
		return review.Reliability{}, review.Forbidden(actor, review.ActRefit, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Reliability{}, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return review.Reliability{}, err
	}
	known, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return review.Reliability{}, err
	}
	var specimens []review.Closed
	err = s.store.EachSpecimen(ctx, judge.Tables().Group.ID, func(spec review.Specimen, submissions []review.Submission) error {
		if c, ok := review.ClosedOf(&spec, submissions); ok {
			specimens = append(specimens, c)
		}
		return nil
	})
	if err != nil {
		return review.Reliability{}, err
	}
	m := s.moment(actor)
	fitted, err := audit.Refit(judge, known, specimens, policy.List, m.Now)
	if err != nil {
		return review.Reliability{}, err
	}
	w := review.NewWriter(m)
	if err := w.Reliability(&known, &review.ReliabilityRefitted{Reliability: fitted}); err != nil {
		return review.Reliability{}, err
	}
	return known, s.commit(ctx, w)
}

// RefitEvery is how old a refit may get while something new has been learnt.
const RefitEvery = 24 * time.Hour

// RefitDue refits the groups of which something was learnt since a refit that is older than RefitEvery, and returns
// their ids. Several programs may do so at once: whoever comes second changes nothing.
func (s *Service) RefitDue(ctx context.Context, actor review.Actor) ([]string, error) {
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
		case review.KindOf(err) == review.KindConflict:
		case err != nil:
			return done, fmt.Errorf("refit %s: %w", group, err)
		default:
			done = append(done, group)
		}
	}
	return done, nil
}
