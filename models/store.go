package models

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var (
	_ service.Store = (*DB)(nil)
	_ auth.Store    = (*DB)(nil)
)

// Commit implements review.Store. Events go first: their key is the lock, and whoever comes second fails on it before
// anything else is touched.
func (db *DB) Commit(ctx context.Context, batch review.Batch) error {
	rows, err := rowsOf(batch, review.EncodeChange)
	if err != nil {
		return err
	}
	asked := false
	err = db.write(ctx, func(tx *gorm.DB) error {
		if err := db.store(tx, rows, batch.Attach, batch.Rests); err != nil {
			return err
		}
		asked, err = db.askAll(ctx, tx, batch.Jobs)
		return err
	})
	if err == nil {
		db.told(rows, asked)
	}
	if errors.Is(err, gorm.ErrDuplicatedKey) {
		return service.ErrRace
	}
	return err
}

// told wakes those in this process who go on with what was stored.
func (db *DB) told(rows batchRows, asked bool) {
	if len(rows.events) > 0 {
		db.sequencer.wake()
	}
	if asked {
		db.queue.wake()
	}
}

// batchRows is a batch as rows.
type batchRows struct {
	events      []eventRow
	moved       map[string]int // by specimen: how many events of it and of its submissions there are
	specimens   []specimenRow
	grounds     []groundsRow
	extracts    []extractRow
	touched     *review.TouchedBatch
	submissions []review.Submission // become rows when it is known which of them are newer
	labels      labels
	judged      []judgedRow
	said        sayings
	policies    []policyRow
	proposals   []proposalRow
	series      []seriesRow
	sheets      []review.Sheet
	looks       []lookRow
	releases    []releaseRow
	reliability *reliabilityRows
	closings    closings
	found       []foundRow
	withheld    []withheldRow
	people      []personRow
	uploads     []uploadRow
	openings    []openingRow
	drafts      draftParts
	news        []newsRow
	mailbox     *review.Mailbox
	looked      []review.LookedThrough
	letters     []review.Letter
	keys        []keyRow
	intake      intakeRows
	growth      *review.LogGrowth
}

func rowsOf(batch review.Batch, encode changeEncoder) (r batchRows, err error) {
	if r.events, err = eventRows(batch.Events, encode); err != nil {
		return r, err
	}
	r.moved = movedSpecimens(batch)
	if r.specimens, err = toRows(batch.Specimens, toSpecimenRow); err != nil {
		return r, err
	}
	r.grounds, r.touched = groundsOf(batch.Specimens, batch.Submissions), batch.Touched
	r.extracts = extractsOf(batch.Specimens, batch.Submissions)
	r.submissions, r.judged, r.said, r.labels = batch.Submissions, judgedBy(batch), sayingsOf(batch), labelsOf(batch)
	if r.closings, err = closingsOf(batch); err != nil {
		return r, err
	}
	if batch.Policy != nil {
		if r.policies, err = toRows([]review.Policy{*batch.Policy}, toPolicyRow); err != nil {
			return r, err
		}
	}
	if r.proposals, err = toRows(batch.Proposals, toProposalRow); err != nil {
		return r, err
	}
	if r.series, err = toRows(batch.Series, toSeriesRow); err != nil {
		return r, err
	}
	if batch.Sheet != nil {
		r.sheets = []review.Sheet{*batch.Sheet}
	}
	if batch.Release != nil {
		if r.releases, err = toRows([]review.Release{*batch.Release}, toReleaseRow); err != nil {
			return r, err
		}
	}
	for _, f := range batch.Found {
		r.found = append(r.found, toFoundRow(f))
	}
	if batch.Reliability != nil {
		rows, err := toReliabilityRows(*batch.Reliability, batch.Events)
		if err != nil {
			return r, err
		}
		r.reliability = &rows
	}
	for _, w := range batch.Withheld {
		r.withheld = append(r.withheld, toWithheldRow(w))
	}
	for _, p := range batch.People {
		r.people = append(r.people, toPersonRow(p))
	}
	for _, o := range batch.Openings {
		r.openings = append(r.openings, toOpeningRow(o))
	}
	if r.drafts, err = draftPartsOf(batch); err != nil {
		return r, err
	}
	if batch.Upload != nil {
		r.uploads = []uploadRow{toUploadRow(*batch.Upload)}
	}
	r.looks = lookRowsOf(&batch)
	if r.news, err = toRows(review.NewsOf(&batch), toNewsRow); err != nil {
		return r, err
	}
	r.mailbox, r.looked, r.letters, r.growth = batch.Mailbox, batch.Looked, batch.Letters, batch.Growth
	if r.intake, err = intakeOf(batch.Intake); err != nil {
		return r, err
	}
	if batch.Key != nil {
		r.keys = []keyRow{toKeyRow(*batch.Key)}
	}
	return r, nil
}

// store writes in an order that foreign keys allow.
func (db *DB) store(tx *gorm.DB, r batchRows, attach map[string]string, rests *review.Rests) error {
	for _, step := range []func() error{
		func() error { return insert(tx, "events", r.events) },
		func() error { return raiseVersions(tx, r.moved, rests) },
		func() error { return storeSpecimens(tx, r.specimens, r.moved) },
		func() error { return db.replaceSubmissions(tx, r.submissions, r.labels) },
		func() error { return storeGrounds(tx, r.grounds) },
		func() error { return storeExtracts(tx, r.extracts) },
		func() error { return db.assertHolds(tx, rests) },
		func() error { return r.labels.relabelEntries(tx) },
		func() error { return storeJudged(tx, r.judged) },
		func() error { return r.said.store(tx) },
		func() error { return r.closings.store(tx) },
		func() error { return insert(tx, "policies", r.policies) },
		func() error { return replaceOlder(tx, "cell_proposals", r.proposals) },
		func() error { return replaceOlder(tx, "series", r.series) },
		func() error { return storeSheets(tx, r.sheets) },
		func() error { return storeLooks(tx, r.looks) },
		func() error { return insert(tx, "a release", r.releases) },
		func() error { return r.reliability.store(tx) },
		func() error { return storeFound(tx, r.found) },
		func() error { return storeTouched(tx, r.touched) },
		func() error { return insert(tx, "withheld label data", r.withheld) },
		func() error { return storePeople(tx, r.people) },
		func() error { return storeOpenings(tx, r.openings) },
		func() error { return insert(tx, "an upload", r.uploads) },
		func() error { return db.storeDraft(tx, r.drafts) },
		func() error { return attachUploads(tx, attach) },
		func() error { return storeNews(tx, r.news) },
		func() error { return storeMailbox(tx, r.mailbox) },
		func() error { return storeLooked(tx, r.looked) },
		func() error { return storeLetters(tx, r.letters) },
		func() error { return r.intake.store(tx) },
		func() error { return insert(tx, "idempotency keys", r.keys) },
		func() error { return storeGrowth(tx, r.growth) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// toRows turns values into rows.
func toRows[V, R any](values []V, toRow func(V) (R, error)) ([]R, error) {
	var rows []R
	for _, v := range values {
		row, err := toRow(v)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	return rows, nil
}

// fromRows is the inverse of toRows; without any rows it returns an empty list.
func fromRows[R, V any](rows []R, fromRow func(R) (V, error)) ([]V, error) {
	values := make([]V, 0, len(rows))
	for _, row := range rows {
		value, err := fromRow(row)
		if err != nil {
			return nil, err
		}
		values = append(values, value)
	}
	return values, nil
}

// insert adds rows that must all be new.
func insert[R any](tx *gorm.DB, what string, rows []R) error {
	if len(rows) == 0 {
		return nil
	}
	if err := tx.Create(&rows).Error; err != nil {
		return fmt.Errorf("store %s: %w", what, err)
	}
	return nil
}

// replace adds rows or puts them in place of those with the same id.
func replace[R any](tx *gorm.DB, what string, rows []R) error {
	return insert(tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}}, UpdateAll: true}), what, rows)
}

// replaceOlder is replace, but leaves a row alone that was made from later events.
func replaceOlder[R any](tx *gorm.DB, table string, rows []R) error {
	return insert(tx.Clauses(onlyNewer(table)), table, rows)
}

func onlyNewer(table string) clause.OnConflict {
	newer := clause.Expr{SQL: "?.seq < excluded.seq", Vars: []any{clause.Table{Name: table}}}
	return clause.OnConflict{Columns: []clause.Column{{Name: "id"}}, UpdateAll: true,
		Where: clause.Where{Exprs: []clause.Expression{newer}}}
}

// find returns the one row of a query. notFound is said where there is none.
func find[R any](query *gorm.DB, notFound string, args ...any) (R, error) {
	var row R
	err := query.Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return row, review.Errorf(review.KindNotFound, notFound, args...)
	}
	if err != nil {
		return row, fmt.Errorf("read %T: %w", row, err)
	}
	return row, nil
}

// byID narrows a query to an id; one that no database can hold finds nothing.
func byID(query *gorm.DB, column, id string) *gorm.DB {
	if !storable(id) {
		return query.Where("1 = 0")
	}
	return query.Where(column+" = ?", id)
}

// storableIDs leaves out those that no database can hold.
func storableIDs(ids []string) []string {
	return slices.DeleteFunc(slices.Clone(ids), func(id string) bool { return !storable(id) })
}
