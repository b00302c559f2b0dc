package review

import "context"

// Agreement is how far people agree on a group, for those who may read figures. What has been said of specimens with a
// submission that is not closed takes no part: it is sealed, and may change.
func (s *Service) Agreement(ctx context.Context, actor Actor, group string) (Agreement, map[string]string, error) {
	judge, specimens, all, err := s.audited(ctx, actor, group)
	if err != nil {
		return Agreement{}, nil, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return Agreement{}, nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return Agreement{}, nil, err
	}
	out, err := judge.Agree(specimens, people, policy.List)
	if err != nil {
		return out, nil, err
	}
	out.Waiting = all.specimens - len(specimens)
	names, err := s.names(ctx, out.persons())
	return out, names, err
}

// Calibration is how far what was claimed about a group is what blind panels found, for those who may read figures.
func (s *Service) Calibration(ctx context.Context, actor Actor, group string) (Calibration, error) {
	judge, _, all, err := s.audited(ctx, actor, group)
	if err != nil {
		return Calibration{}, err
	}
	return Calibrate(judge.Tables(), all.submissions)
}

// opened is everything of a group that has come before reviewers.
type opened struct {
	specimens   int
	submissions []Submission // of this group
}

// audited reads what figures of a group rest on: the specimens that are closed in all their submissions, and all that
// have come before reviewers.
func (s *Service) audited(ctx context.Context, actor Actor, group string) (*Judge, []Closed, opened, error) {
	var all opened
	if !May(actor, ActReadFigures, "") {
		return nil, nil, all, forbidden(actor, ActReadFigures, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, nil, all, err
	}
	var closed []Closed
	id := judge.Tables().Group.ID
	err = s.store.EachSpecimen(ctx, id, func(spec Specimen, submissions []Submission) error {
		all.specimens++
		if c, ok := closedOf(&spec, submissions); ok {
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

// persons are all whom the figures name.
func (a *Agreement) persons() []string {
	var ids []string
	for _, set := range a.Sets {
		for _, p := range set.Pairs {
			ids = append(ids, p.A, p.B)
		}
	}
	for _, p := range a.Copying.Pairs {
		ids = append(ids, p.A, p.B)
	}
	return ids
}
