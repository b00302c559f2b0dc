package service

import (
	"context"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/judgement"
)

// inForceAt is what was in force at the end of a period that is over, so that nothing that comes later changes its figures; of
// one that is not, what is in force now.
func (s *Service) inForceAt(ctx context.Context, judge *judgement.Judge, period review.Period) (then review.Scales, err error) {
	then.Judge = judge
	group := judge.Tables().Group.ID
	if !period.Over(s.now()) {
		if then.Policy, err = s.store.Policy(ctx); err != nil {
			return then, err
		}
		people, err := s.reliability(ctx, group)
		then.People = &people
		return then, err
	}
	if then.Judge, err = s.judgeAt(ctx, group, period); err != nil {
		return then, err
	}
	learnt, err := s.eventsIn(ctx, review.ReliabilityStream(group), period)
	if err != nil {
		return then, err
	}
	people, err := review.ReplayReliability(group, learnt)
	if err != nil {
		return then, err
	}
	then.People = &people
	set, err := s.eventsIn(ctx, review.PolicyStream, period)
	then.Policy = review.DefaultPolicy()
	for _, e := range set {
		if c, ok := e.Change.(*review.PolicySet); ok {
			then.Policy = c.Policy
		}
	}
	return then, err
}

// judgeAt is that of the release that was in force at the end of a period.
func (s *Service) judgeAt(ctx context.Context, group string, period review.Period) (*judgement.Judge, error) {
	releases, err := s.store.Releases(ctx, group)
	if err != nil {
		return nil, err
	}
	for _, r := range releases { // the latest first
		if r.At.Before(period.Until) {
			return s.judgeOfHash(ctx, r.Hash)
		}
	}
	return s.library.BuiltIn(group), nil
}

// eventsIn are those of a stream from before the end of a period.
func (s *Service) eventsIn(ctx context.Context, stream string, period review.Period) ([]review.Event, error) {
	events, err := s.store.Events(ctx, stream)
	for i, e := range events {
		if !e.At.Before(period.Until) {
			return events[:i], err
		}
	}
	return events, err
}

// closingsIn are what acts of a period have left, of each specimen or submission the last one, at most so many.
func (s *Service) closingsIn(ctx context.Context, f ClosingFilter, most int, use func(*Closing) error) error {
	seen := map[string]bool{}
	for page := (Page{Size: readAtOnce}); ; {
		some, next, err := s.store.FindClosings(ctx, f, page)
		if err != nil {
			return err
		}
		for i := range some {
			subject := some[i].Testimony.Specimen.ID + some[i].Panel.ID // of which one is empty
			if seen[subject] {
				continue
			}
			if len(seen) == most {
				return nil
			}
			seen[subject] = true
			if err := use(&some[i]); err != nil {
				return err
			}
		}
		if page.Cursor = next; next == "" {
			return nil
		}
	}
}

// surveyIn is survey of a period, with what was in force at its end.
func (s *Service) surveyIn(ctx context.Context, judge *judgement.Judge, period review.Period, most int, m *meter) (audit.Agreement, error) {
	group := judge.Tables().Group.ID
	then, err := s.inForceAt(ctx, judge, period)
	if err != nil {
		return audit.Agreement{}, err
	}
	survey, unread := audit.NewSurvey(then.Judge, *then.People, then.Policy.Prior(then.Judge.Tables())), s.unread()
	f := closingsOf(group, period, review.FoundAgreement)
	f.Unread = unread.add
	err = s.closingsIn(ctx, f, most, func(c *Closing) error {
		m.look()
		return survey.Add(&c.Testimony)
	})
	if err != nil {
		return audit.Agreement{}, err
	}
	out, err := survey.Agreement()
	out.Unread = unread.streams
	m.look()
	return out, err
}

// calibrateIn is calibrate of the panels that were completed in a period.
func (s *Service) calibrateIn(ctx context.Context, judge *judgement.Judge, period review.Period, most int) (audit.Calibration, error) {
	then, err := s.inForceAt(ctx, judge, period)
	if err != nil {
		return audit.Calibration{}, err
	}
	unread := s.unread()
	f := closingsOf(judge.Tables().Group.ID, period, review.FoundCalibration)
	f.Unread = unread.add
	var drawn []review.Submission
	err = s.closingsIn(ctx, f, most, func(c *Closing) error {
		drawn = append(drawn, c.Panel)
		return nil
	})
	if err != nil {
		return audit.Calibration{}, err
	}
	out, err := audit.Calibrate(then.Judge.Tables(), drawn)
	out.Unread = unread.streams
	return out, err
}
