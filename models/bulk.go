package models

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/migrations"
	"revidit/review"
	"revidit/review/service"
)

// Filling is whole streams with everything that was stored for them: a batch as the acts of a whole life would have left
// it, the photos that its specimens have taken, and accounts with their persons. A specimen comes with all of its
// submissions.
type Filling struct {
	review.Batch // its events are whole streams, or go on where those of the filling before it end
	Uploads      []review.Upload
	Accounts     []auth.Account
	// Learnt are the groups of tables whose reliability has taken its specimens in: which these are hangs on when everything was stored.
	// Otherwise a closed specimen waits to be learnt from.
	Learnt map[string]bool
	// Recurring are changes, the same pointers, that come again in other fillings: they are encoded once.
	Recurring map[review.Change]bool
}

// fillingsAtOnce bounds the memory of Fill.
const fillingsAtOnce = 400

// Fill stores what would take Commit hours, for measurements of large collections: events and every row that Commit
// makes of them, in exactly the same way. The database has the newest schema and nothing in it, no stream comes twice,
// and no other program is connected. Where it fails the database is good for nothing and is to be thrown away.
//
// It is quick because rows go in many at a time, indexes are made afterwards, and what was stored need not survive a
// power cut before the end. Whether events are numbered without gaps, and that they have positions, is seen to here in
// place of the triggers: those of a filling follow those of the filling before, in the order of time. Foreign keys are
// checked at the end.
func (db *DB) Fill(ctx context.Context, fillings iter.Seq2[Filling, error]) error {
	ctx = service.Unhurried(ctx)
	var used bool
	if err := db.read(ctx).Raw("SELECT EXISTS (SELECT 1 FROM events)").Scan(&used).Error; err != nil {
		return fmt.Errorf("look whether the database is empty: %w", err)
	}
	if used {
		return errors.New("the database is not empty; nothing was stored. Only an empty one can be filled")
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	loads := make(chan load, 1) // the next is made while the last is written
	go func() {
		defer close(loads)
		if err := db.makeLoads(ctx, fillings, loads); err != nil {
			stop(err)
		}
	}()
	write := db.fillSQLite
	if db.dialect == migrations.Postgres {
		write = db.fillPostgres
	}
	err := write(ctx, loads)
	if cause := context.Cause(ctx); cause != nil {
		return cause // what could not be made, not that writing broke off
	}
	return err
}

// makeLoads turns fillings into rows.
func (db *DB) makeLoads(ctx context.Context, fillings iter.Seq2[Filling, error], loads chan<- load) error {
	collecting, made, err := newCollector(db.gorm.Dialector)
	if err != nil {
		return err
	}
	n, soFar := 0, filled{known: encoded{}}
	hand := func() error {
		select {
		case loads <- made.taken():
			return nil
		case <-ctx.Done():
			return context.Cause(ctx)
		}
	}
	for f, err := range ahead(ctx, fillings) {
		if err == nil {
			err = db.collect(collecting.WithContext(ctx), f, &soFar)
		}
		if err != nil {
			return err
		}
		if n++; n%fillingsAtOnce == 0 {
			if err := hand(); err != nil {
				return err
			}
		}
	}
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return hand()
}

// ahead hands out the same fillings, of which the next ones are made meanwhile.
func ahead(ctx context.Context, fillings iter.Seq2[Filling, error]) iter.Seq2[Filling, error] {
	type made struct {
		filling Filling
		err     error
	}
	return func(yield func(Filling, error) bool) {
		ctx, stop := context.WithCancel(ctx)
		next := make(chan made, fillingsAtOnce/8)
		defer func() { // whoever makes them has ended when this returns
			stop()
			for range next {
			}
		}()
		go func() {
			defer close(next)
			for f, err := range fillings {
				select {
				case next <- made{f, err}:
				case <-ctx.Done():
					return
				}
			}
		}()
		for m := range next {
			if !yield(m.filling, m.err) {
				return
			}
		}
	}
}

// filled is what the fillings so far have left.
type filled struct {
	last     eventRow
	position int64 // of the last event
	known    encoded
}

// collect stores a filling as Commit does, which is where its rows are listed, with the positions of its events.
func (db *DB) collect(tx *gorm.DB, f Filling, soFar *filled) error {
	if err := f.check(); err != nil {
		return err
	}
	f.Attach = nil // uploads come with their specimens and drafts
	rows, err := rowsOf(f.Batch, func(c review.Change) (kind, data string, err error) { return soFar.known.encode(c, f.Recurring[c]) })
	if err != nil {
		return err
	}
	if soFar.last, err = withoutGaps(soFar.last, rows.events); err != nil {
		return err
	}
	rows.drafts = draftParts{saved: rows.drafts.saved, anew: true}
	for i, row := range rows.closings.made {
		if f.Learnt[row.GroupID] {
			rows.closings.made[i].Learnt = 1
		}
	}
	positions := placed(rows.events, soFar.position)
	soFar.position += int64(len(positions))
	return errors.Join(db.store(tx, rows, nil, nil), insert(tx, "positions of events", positions), f.collectRest(tx))
}

// encoded remembers changes as they are stored.
type encoded map[review.Change]struct{ kind, data string }

func (known encoded) encode(c review.Change, recurs bool) (kind, data string, err error) {
	if !recurs {
		return review.EncodeChange(c)
	}
	text, ok := known[c]
	if !ok {
		if text.kind, text.data, err = review.EncodeChange(c); err != nil {
			return "", "", err
		}
		known[c] = text
	}
	return text.kind, text.data, nil
}

// collectRest stores what other methods than Commit store.
func (f Filling) collectRest(tx *gorm.DB) error {
	for _, a := range f.Accounts {
		account, person := toAccountRow(a)
		if err := storePeople(tx, []personRow{person}); err != nil {
			return err
		}
		if err := insert(tx, "an account", []accountRow{account}); err != nil {
			return err
		}
	}
	var uploads []uploadRow
	for _, u := range f.Uploads {
		uploads = append(uploads, toUploadRow(u))
	}
	return insert(tx, "uploads", uploads)
}

// check refuses a filling that takes photos, or has submissions of specimens, which it does not bring.
func (f Filling) check() error {
	for _, s := range f.Submissions {
		if !slices.ContainsFunc(f.Specimens, func(spec review.Specimen) bool { return spec.ID == s.Specimen }) {
			return fmt.Errorf("submission %s is of specimen %s, which does not come with it", s.ID, s.Specimen)
		}
	}
	whole := wholeRecords(f.Batch)
	for _, s := range f.Specimens {
		if whole[s.ID] == nil {
			return fmt.Errorf("specimen %s comes without the event that registers it", s.ID)
		}
	}
	brought := map[string]string{}
	for _, u := range f.Uploads {
		brought[u.ID] = u.Specimen
	}
	for photo, specimen := range f.Attach {
		if brought[photo] != specimen {
			return fmt.Errorf("specimen %s takes photo %s, which does not come with it", specimen, photo)
		}
	}
	return nil
}

// withoutGaps returns an error unless sorted rows are numbered from 1 in each stream, or from where the last row before
// them ended. It returns the last one.
func withoutGaps(last eventRow, rows []eventRow) (eventRow, error) {
	for _, r := range rows {
		next := 1
		if last.Stream == r.Stream {
			next = last.Seq + 1
		}
		if r.Seq != next {
			return last, fmt.Errorf("event %d of %s comes where event %d should", r.Seq, r.Stream, next)
		}
		last = r
	}
	return last, nil
}
