package service

import (
	"cmp"
	"context"
	"slices"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/judgement"
)

// SeriesView is a series as one who may know of it sees it.
type SeriesView struct {
	review.Series
	Count review.SeriesCount `json:"count"`
	Names map[string]string  `json:"names"` // of member and mentor, by id
}

// BeginSeries asks for a mentor for the actor's first submissions.
func (s *Service) BeginSeries(ctx context.Context, actor review.Actor) (review.Series, error) {
	return again(ctx, func() (review.Series, error) { return s.beginSeriesOnce(ctx, actor) })
}

func (s *Service) beginSeriesOnce(ctx context.Context, actor review.Actor) (review.Series, error) {
	known, err := s.store.SeriesOf(ctx, actor.Person)
	if err != nil {
		return review.Series{}, err
	}
	submitted, err := s.store.SubmittedBy(ctx, actor.Person, review.SeriesLength)
	if err != nil {
		return review.Series{}, err
	}
	own := slices.DeleteFunc(known, func(o review.Series) bool { return o.Member != actor.Person })
	m := s.moment(actor)
	change, err := review.DecideBeginSeries(m, own, submitted)
	if err != nil {
		return review.Series{}, err
	}
	return s.writeSeries(ctx, m, review.Series{}, change)
}

// MentorSeries gives a series to a mentor: the actor takes it up, or a curator gives it to somebody.
func (s *Service) MentorSeries(ctx context.Context, actor review.Actor, id, mentor string) (review.Series, error) {
	return s.changeSeries(ctx, actor, id, func(m review.Moment, now *review.Series, _ review.SeriesCount) (review.Change, error) {
		mentor := cmp.Or(mentor, actor.Person)
		people, err := s.store.People(ctx, []string{mentor})
		if err != nil {
			return nil, err
		}
		return review.DecideMentor(m, now, people[mentor])
	})
}

// GiveBackSeries lets a mentor give a series back.
func (s *Service) GiveBackSeries(ctx context.Context, actor review.Actor, id string) (review.Series, error) {
	return s.changeSeries(ctx, actor, id, review.DecideGiveBack)
}

// LeaveSeries lets a member go on without a mentor.
func (s *Service) LeaveSeries(ctx context.Context, actor review.Actor, id string) (review.Series, error) {
	return s.changeSeries(ctx, actor, id, review.DecideLeaveSeries)
}

// EndSeries ends a series with the mentor's message.
func (s *Service) EndSeries(ctx context.Context, actor review.Actor, id string, form review.SeriesForm) (review.Series, error) {
	return s.changeSeries(ctx, actor, id, func(m review.Moment, now *review.Series, n review.SeriesCount) (review.Change, error) {
		judge, err := s.Judge(ctx, form.Group)
		if err != nil {
			return nil, err
		}
		return review.DecideEndSeries(m, now, n, form, judge)
	})
}

func (s *Service) changeSeries(ctx context.Context, actor review.Actor, id string, decide func(review.Moment, *review.Series, review.SeriesCount) (review.Change, error)) (review.Series, error) {
	return again(ctx, func() (review.Series, error) {
		v, err := s.Series(ctx, actor, id)
		if err != nil {
			return review.Series{}, err
		}
		m := s.moment(actor).NotBefore(v.ChangedAt)
		change, err := decide(m, &v.Series, v.Count)
		if err != nil {
			return review.Series{}, err
		}
		return s.writeSeries(ctx, m, v.Series, change)
	})
}

func (s *Service) writeSeries(ctx context.Context, m review.Moment, now review.Series, change review.Change) (review.Series, error) {
	w := review.NewWriter(m)
	if err := w.Series(&now, change); err != nil {
		return review.Series{}, err
	}
	return now, s.commit(ctx, w)
}

// Series is one that the actor may know of.
func (s *Service) Series(ctx context.Context, actor review.Actor, id string) (SeriesView, error) {
	found, count, err := s.store.Series(ctx, id)
	if err != nil {
		return SeriesView{}, err
	}
	if !review.MayReadSeries(actor, &found) {
		return SeriesView{}, review.Errorf(review.KindNotFound, "There is no series %s.", id)
	}
	v := SeriesView{Series: found, Count: count}
	v.Names, err = s.names(ctx, []string{found.Member, found.Mentor})
	return v, err
}

// SeriesLists are the series that the actor has to do with.
type SeriesLists struct {
	Own     []review.Series `json:"own" nullable:"false" doc:"Those of which the caller is the member or the mentor, the latest changed first, at most 50"`
	Waiting []review.Series `json:"waiting" nullable:"false" doc:"Those that wait for a mentor, for reviewers, the first begun first, at most 10"`
	// MayBegin: the actor could begin one now.
	MayBegin bool              `json:"may_begin"`
	Names    map[string]string `json:"names"`
}

// All are both, each once.
func (l SeriesLists) All() []review.Series {
	all := slices.Clone(l.Own)
	for _, one := range l.Waiting {
		if !slices.ContainsFunc(all, func(o review.Series) bool { return o.ID == one.ID }) {
			all = append(all, one)
		}
	}
	return all
}

// FindSeries are those that the actor has to do with.
func (s *Service) FindSeries(ctx context.Context, actor review.Actor) (l SeriesLists, err error) {
	if l.Own, err = s.store.SeriesOf(ctx, actor.Person); err != nil {
		return l, err
	}
	l.Waiting = []review.Series{}
	if review.May(actor, review.ActMentor, "") {
		if l.Waiting, err = s.store.WaitingSeries(ctx, ledgerSize); err != nil {
			return l, err
		}
	}
	if review.May(actor, review.ActBeginSeries, "") && len(l.Own) == 0 {
		submitted, err := s.store.SubmittedBy(ctx, actor.Person, review.SeriesLength)
		if err != nil {
			return l, err
		}
		l.MayBegin = submitted < review.SeriesLength
	}
	var persons []string
	for _, one := range slices.Concat(l.Own, l.Waiting) {
		persons = append(persons, one.Member, one.Mentor)
	}
	l.Names, err = s.names(ctx, persons)
	return l, err
}

// SeriesSeen is what a mentor's answers tell of a series: what the message at its end is made of.
type SeriesSeen struct {
	Group string           `json:"group"`
	Read  []audit.ReadIn   `json:"read" nullable:"false" doc:"By region of the body: how many statements somebody looked at, and of how many nobody saw another state"`
	Mixed []audit.Mixed    `json:"mixed" nullable:"false" doc:"Pairs of states that others saw differently, the most frequent first"`
	Lines []SubmissionLine `json:"-"`
}

// SeriesSeen is that of a series, for its mentor and curators.
func (s *Service) SeriesSeen(ctx context.Context, actor review.Actor, id string) (seen SeriesSeen, err error) {
	v, err := s.Series(ctx, actor, id)
	if err != nil {
		return seen, err
	}
	if actor.Person != v.Mentor && actor.Role != review.RoleCurator {
		return seen, review.Errorf(review.KindForbidden, "What a series tells is for its mentor, who tells the member in words.")
	}
	lines, _, err := s.store.FindSubmissions(ctx, SubmissionFilter{Viewer: actor.Person, Series: id}, Page{Size: largestPage})
	if err != nil {
		return seen, err
	}
	closed, err := s.closedOf(ctx, lines)
	if err != nil {
		return seen, err
	}
	if len(lines) > 0 {
		seen.Group = lines[0].Group
	}
	judge, err := s.Judge(ctx, seen.Group)
	if err != nil {
		return seen, err
	}
	seen.Group = judge.Tables().Group.ID
	seen.Read = audit.ReadBy(v.Member, closed, regionsOf(judge))
	mixed, _, _ := audit.MixedUp(v.Member, closed)
	seen.Mixed = append([]audit.Mixed{}, mixed...)
	return seen, nil
}

func regionsOf(judge *judgement.Judge) func(character string) string {
	return func(id string) string {
		if c, ok := judge.Tables().Character(id); ok {
			return c.Region
		}
		return ""
	}
}

// closedOf are the closed submissions among some lines, each with its specimen, the latest first.
func (s *Service) closedOf(ctx context.Context, lines []SubmissionLine) ([]review.Closed, error) {
	var ids []string
	for _, l := range lines {
		ids = append(ids, l.ID)
	}
	found, err := s.store.SubmissionsWith(ctx, ids, s.unread().add)
	if err != nil {
		return nil, err
	}
	var closed []review.Closed
	for _, l := range lines {
		sub, ok := found[l.ID]
		if !ok || !sub.Closed() {
			continue
		}
		specimen, err := s.store.Specimen(ctx, l.Specimen)
		if err != nil {
			return nil, err
		}
		closed = append(closed, review.Closed{Specimen: specimen, Submissions: []review.Submission{sub}})
	}
	return closed, nil
}
