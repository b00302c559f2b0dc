package collection

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
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
	streams  [][]review.Event // of the specimen, then of each submission, the oldest first; none of a draft
	draft    *review.Draft
	withheld []review.WithheldRecord
	uploads  []review.Upload
	form     review.SubmissionForm // that it began with
	began    time.Time
	lasted   time.Duration
	// ids and seeds are texts that are others in each telling, days those of dates.
	ids, seeds, days []string
	shared           map[review.Change]bool // changes that no telling changes
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
		form, id, err := c.live(ctx, i)
		if err == nil {
			err = made.take(ctx, db, form, c.world.People[c.world.Specimens[i].Owner].ID, id)
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

// take makes a mould of a life that began with a person's submission or draft.
func (m *Moulds) take(ctx context.Context, db *models.DB, form review.SubmissionForm, owner, id string) error {
	d, err := db.Draft(ctx, owner, id)
	if review.KindOf(err) != review.KindNotFound {
		return errors.Join(err, m.takeDraft(ctx, db, form, d))
	}
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
	made := &mould{form: form, began: specimen.RegisteredAt, shared: map[review.Change]bool{}}
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
	if err := made.takeSeen(ctx, db, &specimen); err != nil {
		return err
	}
	records, err := db.Withheld(ctx, []string{specimen.Withholding.ID})
	if err != nil {
		return err
	}
	made.withheld, made.ids = append(made.withheld, records[specimen.Withholding.ID]), append(made.ids, specimen.Withholding.ID, specimen.ID)
	made.name(submissions)
	made.share(m)
	last := kindOf(submissions[len(submissions)-1])
	m.byKind[last] = append(m.byKind[last], made)
	return nil
}

// takeDraft makes a mould of a life that is a draft and no more.
func (m *Moulds) takeDraft(ctx context.Context, db *models.DB, form review.SubmissionForm, d review.Draft) error {
	made, specimen := &mould{form: form, draft: &d, began: d.BegunAt}, d.Over(review.Specimen{})
	made.ids = append(made.ids, specimen.ID)
	made.name([]review.Submission{d.Submission()})
	m.byKind[kindDraft] = append(m.byKind[kindDraft], made)
	return made.takeSeen(ctx, db, &specimen)
}

// takeSeen takes photos and observations into a mould.
func (m *mould) takeSeen(ctx context.Context, db *models.DB, specimen *review.Specimen) error {
	for _, photo := range specimen.Photos {
		upload, err := db.Upload(ctx, photo.ID)
		if err != nil {
			return err
		}
		m.uploads = append(m.uploads, upload)
		m.ids, m.seeds = append(m.ids, photo.ID), append(m.seeds, photo.SHA256)
	}
	for _, o := range specimen.Observations {
		m.ids = append(m.ids, o.ID)
	}
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

// Group is that of the tables by which everything is judged.
func (m *Moulds) Group() string { return m.group }

// CommonFamily is the name that most of what is open has.
func (m *Moulds) CommonFamily() string {
	counts := map[string]int{}
	for _, of := range m.byKind[kindOpen] {
		for _, e := range of.streams[len(of.streams)-1] {
			if drafted, ok := e.Change.(*review.Drafted); ok {
				counts[drafted.Determination.Family]++
			}
		}
	}
	most := ""
	for _, name := range slices.Sorted(maps.Keys(counts)) {
		if counts[name] > counts[most] {
			most = name
		}
	}
	return most
}

// Submission is a form to submit as a person, and the photos to upload before.
func (m *Moulds) Submission(dice *rand.Rand, person string, at time.Time) (review.SubmissionForm, []review.Upload) {
	of := m.byKind[kindOpen]
	chosen := of[dice.IntN(len(of))]
	t := telling{texts: map[string]string{numberMark: fmt.Sprintf("NEW-%016x", dice.Uint64()), tripMark: "Excursion of today", drawerMark: "Cabinet 1, drawer 1"}}
	for _, id := range chosen.ids {
		t.texts[id] = newID(at, dice)
	}
	for _, seed := range chosen.seeds {
		t.texts[seed] = newSeed(len(seed), dice)
	}
	form := t.value(reflect.ValueOf(chosen.form)).Interface().(review.SubmissionForm)
	var uploads []review.Upload
	for _, u := range chosen.uploads {
		u := t.value(reflect.ValueOf(u)).Interface().(review.Upload)
		u.By, u.Specimen, u.Draft, u.At = person, "", "", at
		uploads = append(uploads, u)
	}
	return form, uploads
}
