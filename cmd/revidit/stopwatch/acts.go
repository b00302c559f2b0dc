package stopwatch

import (
	"context"
	"errors"
	"fmt"
	"time"

	"revidit/review"
	"revidit/review/service"
)

// mostReviews is how many open submissions are set aside to be reviewed.
const mostReviews = 99

// A new specimen comes into the queue at as many places as it has lists, and leaves them when it is settled. A server that
// has been at work for a day has them in memory; one that was filled a minute ago reads each from the disk. So many submits
// go before those that are measured.
const (
	warming     = 2000
	warmingEach = 20 // for each round that is measured, where these are few
)

// Acts measures submitting and reviewing, in turns on both sites, through the service.
func (p Pair) Acts(ctx context.Context, told func(what string)) ([]Line, error) {
	var lines []Line
	for range min(warming, p.Rounds*warmingEach) {
		for _, s := range []*Site{p.Small, p.Large} {
			if _, err := s.submit(ctx); err != nil {
				return nil, fmt.Errorf("submit: %w", err)
			}
		}
	}
	for _, act := range []struct {
		what string
		do   func(*Site, context.Context) (time.Duration, error)
	}{
		{"submit", (*Site).submit},
		{"review that leaves the name open", func(s *Site, ctx context.Context) (time.Duration, error) {
			return s.review(ctx, review.OpinionLeftOpen)
		}},
		{"review that agrees", func(s *Site, ctx context.Context) (time.Duration, error) { return s.review(ctx, review.OpinionAgrees) }},
	} {
		told(act.what)
		var small, large []time.Duration
		for range min(p.Rounds, mostReviews/3) {
			a, err := act.do(p.Small, ctx)
			if errors.Is(err, errNoneWaits) && len(small) > 0 {
				break
			}
			b, errLarge := act.do(p.Large, ctx)
			if err := errors.Join(err, errLarge); err != nil {
				return nil, fmt.Errorf("%s: %w", act.what, err)
			}
			small, large = append(small, a), append(large, b)
		}
		lines = append(lines, Line{Kind: "act", What: act.what, Rounds: len(small), Small: Median(small), Large: Median(large)})
	}
	return lines, nil
}

// submit puts a new specimen before reviewers; the photos were uploaded before.
func (s *Site) submit(ctx context.Context) (time.Duration, error) {
	form, err := s.prepared(ctx)
	if err != nil {
		return 0, err
	}
	began := time.Now()
	_, err = s.Service.SubmitNew(ctx, s.actors[member], form, "")
	return time.Since(began), err
}

// prepared is a form whose photos are uploaded.
func (s *Site) prepared(ctx context.Context) (review.SubmissionForm, error) {
	form, uploads := s.Moulds.Submission(s.dice, s.actors[member].Person, time.Now())
	for _, u := range uploads {
		if err := s.DB.SaveUpload(ctx, u); err != nil {
			return form, err
		}
	}
	return form, nil
}

var errNoneWaits = errors.New("no open submission is left to review")

// review confirms all characters of an open submission, as a curator, who is never to look blind.
func (s *Site) review(ctx context.Context, opinion review.OpinionKind) (time.Duration, error) {
	id, err := s.next(ctx)
	if err != nil {
		return 0, err
	}
	view, err := s.Service.View(ctx, s.actors[curator], id)
	if err != nil {
		return 0, err
	}
	form := review.ReviewForm{Opinion: &review.OpinionForm{Kind: opinion, Basis: review.BasisPhotos}}
	for _, o := range view.Specimen.Observations {
		if o.Withdrawn == "" {
			form.Verdicts = append(form.Verdicts, review.VerdictForm{Observation: o.ID, Kind: review.VerdictConfirm})
		}
	}
	began := time.Now()
	_, err = s.Service.Review(ctx, s.actors[curator], id, view.Version, form)
	return time.Since(began), err
}

// next is an open submission that was not taken here yet.
func (s *Site) next(ctx context.Context) (string, error) {
	if s.waiting == nil {
		lines, _, err := s.Service.Queue(ctx, s.actors[curator], service.QueueFilter{}, service.Page{Size: mostReviews})
		if err != nil {
			return "", err
		}
		for _, l := range lines {
			if l.HeldBy == "" && !l.Recheck {
				s.waiting = append(s.waiting, l.ID)
			}
		}
	}
	if len(s.waiting) == 0 {
		return "", errNoneWaits
	}
	id := s.waiting[0]
	s.waiting = s.waiting[1:]
	return id, nil
}
