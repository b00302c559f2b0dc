package service

import (
	"context"
	"encoding/json"
	"strings"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/jobs"
	"revidit/review/judgement"
)

const (
	// surveyed is how many closed specimens the figures on agreement rest on, the latest: what fits into a slice with room to
	// spare (two to three milliseconds each on a busy machine), enough for standard errors of a hundredth or less, and no
	// more of how people were years ago. Our own choice, no source. So every specimen can be left out by itself for the
	// standard errors; groups of them (Wolter K.M. 2007. Introduction to Variance Estimation, chapter 4) are not needed.
	surveyed = 5_000
	// calibrated is the same for rechecks.
	calibrated = 50_000
	// readAtOnce bounds what is in memory of specimens before they are weighed.
	readAtOnce = 500
)

// Agreement is how far people agree on a group, for those who may read figures: of a period, by what acts left in it; without
// bounds, by what is closed: as it was when a job last worked it out,
// or now where the collection is small. What has been said of specimens with a submission that is not closed takes no
// part: it is sealed, and may change.
func (s *Service) Agreement(ctx context.Context, actor review.Actor, group string, period review.Period) (audit.Agreement, map[string]string, error) {
	out := audit.Agreement{Sets: []audit.AgreementSet{}, Copying: audit.Copying{Pairs: []audit.CopyingPair{}}}
	dated, err := s.figures(ctx, actor, group, period, review.FoundAgreement, &out)
	if err != nil {
		return out, nil, err
	}
	dated.Unread = out.Unread
	out.Dated = dated
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return out, nil, err
	}
	if !policy.ShowsNames() {
		out = out.Unnamed(actor.Person)
	}
	names, err := s.names(ctx, out.Persons())
	return out, names, err
}

// Calibration is how far what was claimed about a group is what blind panels found, for those who may read figures; as
// Agreement.
func (s *Service) Calibration(ctx context.Context, actor review.Actor, group string, period review.Period) (audit.Calibration, error) {
	var out audit.Calibration
	dated, err := s.figures(ctx, actor, group, period, review.FoundCalibration, &out)
	dated.Unread = out.Unread
	out.Dated = dated
	return out, err
}

// FiguresAnew asks for figures of a group to be worked out anew.
func (s *Service) FiguresAnew(ctx context.Context, actor review.Actor, group string, period review.Period, which review.FoundKind) error {
	if !review.May(actor, review.ActReadFigures, "") {
		return review.Forbidden(actor, review.ActReadFigures, "")
	}
	if which != review.FoundAgreement && which != review.FoundCalibration {
		return review.Invalidf("which", "must be agreement or calibration")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return err
	}
	return s.ask(ctx, jobs.Figures(jobs.Which{Group: judge.Tables().Group.ID, Which: string(which), Period: period.Key()}))
}

func (s *Service) figures(ctx context.Context, actor review.Actor, group string, period review.Period, which review.FoundKind, into any) (review.Dated, error) {
	if !review.May(actor, review.ActReadFigures, "") {
		return review.Dated{}, review.Forbidden(actor, review.ActReadFigures, "")
	}
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return review.Dated{}, err
	}
	id := judge.Tables().Group.ID
	small, err := s.fewIn(ctx, id, period, which)
	if err != nil {
		return review.Dated{}, err
	}
	var found review.Found
	if small {
		if found, err = s.workOut(ctx, judge, period, which, 0); err == nil {
			found.Made.Peak = 0
			err = found.Decode(into)
		}
	} else {
		found, err = s.found(ctx, which, id, period.Key(), into)
	}
	if err != nil {
		return review.Dated{}, err
	}
	dated := found.Dated()
	if dated.Walk, err = s.walkOf(ctx, jobs.Figures(jobs.Which{Group: id, Which: string(which), Period: period.Key()})); err != nil {
		return dated, err
	}
	if found.Body == nil {
		return dated, json.Unmarshal([]byte(`{"group":"`+id+`"}`), into)
	}
	return dated, nil
}

// fewIn says whether figures are worked out at each look.
func (s *Service) fewIn(ctx context.Context, group string, period review.Period, which review.FoundKind) (bool, error) {
	if period.All() {
		return s.small(ctx, group)
	}
	return s.store.FewClosings(ctx, closingsOf(group, period, which), atOnce)
}

// closingsOf are what figures of a period rest on.
func closingsOf(group string, period review.Period, which review.FoundKind) ClosingFilter {
	f := ClosingFilter{Group: group, Kind: ClosedTestimony, From: period.From, Until: period.Until}
	if which == review.FoundCalibration {
		f.Kind = ClosedPanel
	}
	return f
}

// figuresSlice works figures out in one slice: what they rest on has a bound, half of it in another try.
func (s *Service) figuresSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	args, err := jobs.Decode[jobs.Which](slice.Job)
	if err != nil {
		return JobStep{}, err
	}
	if done, err := s.complete(ctx, slice); err != nil || !done {
		return JobStep{More: true}, err
	}
	from, to, _ := strings.Cut(args.Period, "..")
	period, err := review.ParsePeriod(from, to)
	if err != nil {
		return JobStep{}, err
	}
	judge, err := s.Judge(ctx, args.Group)
	if err != nil {
		return JobStep{}, err
	}
	found, err := s.workOut(ctx, judge, period, review.FoundKind(args.Which), slice.Try)
	return JobStep{Batch: review.Batch{Found: []review.Found{found}}, Done: 1, Total: 1}, err
}

func (s *Service) workOut(ctx context.Context, judge *judgement.Judge, period review.Period, which review.FoundKind, try int) (review.Found, error) {
	var m meter
	m.begin()
	group := judge.Tables().Group.ID
	var body any
	var err error
	switch {
	case which == review.FoundCalibration && period.All():
		body, err = s.calibrate(ctx, judge, calibrated>>try)
	case which == review.FoundCalibration:
		body, err = s.calibrateIn(ctx, judge, period, calibrated>>try)
	case period.All():
		body, err = s.survey(ctx, judge, surveyed>>try, &m)
	default:
		body, err = s.surveyIn(ctx, judge, period, surveyed>>try, &m)
	}
	if err != nil {
		return review.Found{}, err
	}
	m.end()
	return m.made(which, group, period.Key(), s.moment(itself).Now, body)
}

func (s *Service) survey(ctx context.Context, judge *judgement.Judge, most int, m *meter) (audit.Agreement, error) {
	group := judge.Tables().Group.ID
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return audit.Agreement{}, err
	}
	people, err := s.reliability(ctx, group)
	if err != nil {
		return audit.Agreement{}, err
	}
	count, err := s.store.CountTestimonies(ctx, group)
	if err != nil {
		return audit.Agreement{}, err
	}
	survey, left, unread := audit.NewSurvey(judge, people, policy.Prior(judge.Tables())), most, s.unread()
	for page := (Page{Size: readAtOnce}); left > 0; {
		page.Size = min(page.Size, left)
		some, next, err := s.store.FindTestimonies(ctx, TestimonyFilter{Group: group, Latest: true, Unread: unread.add}, page)
		if err != nil {
			return audit.Agreement{}, err
		}
		for i := range some {
			if err := survey.Add(&some[i]); err != nil {
				return audit.Agreement{}, err
			}
		}
		m.look()
		left -= len(some)
		if page.Cursor = next; next == "" {
			break
		}
	}
	out, err := survey.Agreement()
	out.Waiting, out.Earlier = count.Open, max(count.Closed-out.Specimens-len(unread.streams), 0)
	out.Unread = unread.streams
	m.look()
	return out, err
}

func (s *Service) calibrate(ctx context.Context, judge *judgement.Judge, most int) (audit.Calibration, error) {
	unread := s.unread()
	drawn, closed, err := s.store.Rechecks(ctx, judge.Tables().Group.ID, most, unread.add)
	if err != nil {
		return audit.Calibration{}, err
	}
	out, err := audit.Calibrate(judge.Tables(), drawn)
	out.Closed, out.Unread = closed, unread.streams
	return out, err
}

// figuresDue: figures of a collection that is not small were not worked out for a day.
func (s *Service) figuresDue(ctx context.Context, group, _ string) ([]jobs.Job, error) {
	small, err := s.small(ctx, group)
	if err != nil || small {
		return nil, err
	}
	var due []jobs.Job
	for which, into := range map[review.FoundKind]any{review.FoundAgreement: &audit.Agreement{}, review.FoundCalibration: &audit.Calibration{}} {
		found, err := s.found(ctx, which, group, "", into)
		if err != nil {
			return nil, err
		}
		if found.Made == nil || s.now().Sub(found.Made.At) > RefitEvery {
			due = append(due, jobs.Figures(jobs.Which{Group: group, Which: string(which)}))
		}
	}
	return due, nil
}
