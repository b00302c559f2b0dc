package service

import (
	"context"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/judgement"
)

// Agreement is how far people agree on a group, for those who may read figures. What has been said of specimens with a
// submission that is not closed takes no part: it is sealed, and may change.
func (s *Service) Agreement(ctx context.Context, actor review.Actor, group string) (audit.Agreement, map[string]string, error) {
	judge, specimens, all, err := s.audited(ctx, actor, group)
	if err != nil {
		return audit.Agreement{}, nil, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return audit.Agreement{}, nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return audit.Agreement{}, nil, err
	}
	out, err := audit.Agree(judge, specimens, people, policy.List)
	if err != nil {
		return out, nil, err
	}
	out.Waiting = all.specimens - len(specimens)
	names, err := s.names(ctx, out.Persons())
	return out, names, err
}

// Calibration is how far what was claimed about a group is what blind panels found, for those who may read figures.
func (s *Service) Calibration(ctx context.Context, actor review.Actor, group string) (audit.Calibration, error) {
	judge, _, all, err := s.audited(ctx, actor, group)
	if err != nil {
		return audit.Calibration{}, err
	}
	return audit.Calibrate(judge.Tables(), all.submissions)
}

// opened is everything of a group that has come before reviewers.
type opened struct {
	specimens   int
	submissions []review.Submission // of this group
}

// audited reads what figures of a group rest on: the specimens that are closed in all their submissions, and all that
// have come before reviewers.
func (s *Service) audited(ctx context.Context, actor review.Actor, group string) (*judgement.Judge, []review.Closed, opened, error) {
	var all opened
	if !review.May(actor, review.ActReadFigures, "") {
		return nil, nil, all, review.Forbidden(actor, review.ActReadFigures, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, nil, all, err
	}
	var closed []review.Closed
	id := judge.Tables().Group.ID
	err = s.store.EachSpecimen(ctx, id, func(spec review.Specimen, submissions []review.Submission) error {
		all.specimens++
		if c, ok := review.ClosedOf(&spec, submissions); ok {
			closed = append(closed, c)
		}
		for _, sub := range submissions {
			if sub.Group == id && sub.OpenedAt != nil {
				all.submissions = append(all.submissions, sub)
			}
		}
		return nil
	})
	return judge, closed, all, err
}
