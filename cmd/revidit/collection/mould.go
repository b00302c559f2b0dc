package collection

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"revidit/models"
	"revidit/review"
)

// Texts that stand in made-up labels until a specimen is told of.
const (
	numberMark = "catalogue number"
	tripMark   = "trip"
	drawerMark = "drawer"
)

// mould is a life that can be told again.
type mould struct {
	streams  [][]review.Event // of the specimen, then of each submission, the oldest first
	withheld []review.SealedWithheld
	uploads  []review.Upload
	began    time.Time
	lasted   time.Duration
	// ids and seeds are texts that are others in each telling, people those of persons, days those of dates.
	ids, seeds, people, days []string
	shared                   map[review.Change]bool // changes that no telling changes
}

// kind is what a collection has a certain share of.
type kind int

const (
	kindDraft kind = iota
	kindOpen
	kindReturned
	kindRecheck // closed, and the panel is not complete
	kindClosed
)

// kindOf goes by the last submission of a specimen.
func kindOf(s review.Submission) kind {
	switch {
	case s.Status == review.StatusDraft:
		return kindDraft
	case s.Status == review.StatusOpen:
		return kindOpen
	case s.Status == review.StatusReturned:
		return kindReturned
	case s.RecheckOpen():
		return kindRecheck
	}
	return kindClosed
}

// Moulds are lives to tell, by kind, with what was learnt of the people who led them.
type Moulds struct {
	byKind      map[kind][]*mould
	group       string
	reliability []review.Event
	policies    []review.Event
	members     []string // persons of the moulds
	reviewers   []string
}

// Live has as many lives lived as are asked for, by the same people in the same way for the same seed.
func Live(ctx context.Context, seed uint64, lives int, progress func(done, all int)) (made *Moulds, err error) {
	folder, err := os.MkdirTemp("", "revidit-lives-")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	db, err := models.Open(ctx, filepath.Join(folder, "revidit.sqlite"))
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Migrate(ctx); err != nil {
		return nil, err
	}
	c := newClub(db, seed, lives)
	made = &Moulds{byKind: map[kind][]*mould{}, group: c.judge.Tables().Group.ID}
	for i := range c.world.People {
		if id := c.world.People[i].ID; c.world.People[i].Reviewer {
			made.reviewers = append(made.reviewers, id)
		} else {
			made.members = append(made.members, id)
		}
	}
	for i := range lives {
		id, err := c.live(ctx, i)
		if err == nil {
			err = made.take(ctx, db, id)
		}
		if err != nil {
			return nil, told(i, err)
		}
		progress(i+1, lives)
	}
	if made.reliability, err = db.Events(ctx, review.ReliabilityStream(made.group)); err != nil {
		return nil, err
	}
	if made.policies, err = db.Events(ctx, review.PolicyStream); err != nil {
		return nil, err
	}
	for k := kindDraft; k <= kindClosed; k++ {
		if len(made.byKind[k]) == 0 {
			return nil, fmt.Errorf("of %d made-up lives none ended as kind %d; make more of them", lives, k)
		}
	}
	return made, nil
}

// take makes a mould of a life.
func (m *Moulds) take(ctx context.Context, db *models.DB, id string) error {
	first, err := db.Submission(ctx, id)
	if err != nil {
		return err
	}
	submissions, err := db.SubmissionsOf(ctx, first.Specimen)
	if err != nil {
		return err
	}
	specimen, err := db.Specimen(ctx, first.Specimen)
	if err != nil {
		return err
	}
	made := &mould{began: specimen.RegisteredAt, shared: map[review.Change]bool{}}
	streams := []string{review.SpecimenStream(specimen.ID)}
	for _, s := range submissions {
		streams = append(streams, review.SubmissionStream(s.ID))
	}
	for _, stream := range streams {
		events, err := db.Events(ctx, stream)
		if err != nil {
			return err
		}
		made.streams = append(made.streams, events)
		made.lasted = max(made.lasted, events[len(events)-1].At.Sub(made.began))
	}
	for _, photo := range specimen.Photos {
		upload, err := db.Upload(ctx, photo.ID)
		if err != nil {
			return err
		}
		made.uploads = append(made.uploads, upload)
		made.ids, made.seeds = append(made.ids, photo.ID), append(made.seeds, photo.SHA256)
	}
	sealed, err := db.Withheld(ctx, []string{specimen.Seal.ID})
	if err != nil {
		return err
	}
	made.withheld, made.ids = append(made.withheld, sealed[specimen.Seal.ID]), append(made.ids, specimen.Seal.ID, specimen.ID)
	for _, o := range specimen.Observations {
		made.ids = append(made.ids, o.ID)
	}
	made.name(submissions)
	made.share(m)
	last := kindOf(submissions[len(submissions)-1])
	m.byKind[last] = append(m.byKind[last], made)
	return nil
}

// name lists the texts of submissions that are others in each telling.
func (m *mould) name(submissions []review.Submission) {
	days := map[string]bool{m.began.AddDate(0, -1, 0).Format(dayLayout): true}
	for _, s := range submissions {
		m.ids = append(m.ids, s.ID)
		for _, r := range s.Returns {
			m.ids = append(m.ids, r.ID)
		}
		if s.Draw != nil {
			m.seeds = append(m.seeds, s.Draw.Seed)
		}
		days[s.Determination.DeterminedOn] = true
	}
	for day := range days {
		m.days = append(m.days, day)
	}
}
