package models

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/service"
)

// intakeRow is a row of intakes.
type intakeRow struct {
	ID    string `gorm:"primaryKey"`
	State string
	At    instant
	Plan  int
	Body  string
}

func (intakeRow) TableName() string { return "intakes" }

func (r intakeRow) fromRow() (in review.Intake, err error) {
	err = json.Unmarshal([]byte(r.Body), &in)
	if err == nil && in.ID != r.ID {
		err = fmt.Errorf("it is that of %q", in.ID)
	}
	if err != nil {
		return in, unreadable("intake", r.ID, err)
	}
	return in, nil
}

// plannedRow is a row of intake_rows.
type plannedRow struct {
	IntakeID   string `gorm:"primaryKey"`
	Number     int    `gorm:"primaryKey"`
	SpecimenID string
	Faults     int
	Refused    bool
	Body       string
}

func (plannedRow) TableName() string { return "intake_rows" }

func (r plannedRow) fromRow() (p review.PlannedRow, err error) {
	p = review.PlannedRow{Number: r.Number, Specimen: r.SpecimenID, Faults: r.Faults, Refused: r.Refused}
	if r.Body == "" {
		return p, nil
	}
	if err := json.Unmarshal([]byte(r.Body), &p.Incoming); err != nil {
		return p, unreadable("row of intake", r.IntakeID, err)
	}
	return p, nil
}

// partRow is a row of intake_parts.
type partRow struct {
	IntakeID string `gorm:"primaryKey"`
	Number   int    `gorm:"primaryKey"`
	Body     []byte
}

func (partRow) TableName() string { return "intake_parts" }

// intakeRows are what a batch changes of an intake.
type intakeRows struct {
	intake   *intakeRow
	rows     []plannedRow
	taken    map[int]string
	parts    []partRow
	rowsFrom string
}

func intakeOf(batch *review.IntakeBatch) (r intakeRows, err error) {
	if batch == nil {
		return r, nil
	}
	body, err := json.Marshal(batch.Intake)
	if err != nil {
		return r, fmt.Errorf("encode intake %s: %w", batch.ID, err)
	}
	r.intake = &intakeRow{ID: batch.ID, State: string(batch.State), At: instantOf(batch.At), Plan: batch.Plan, Body: string(body)}
	for _, p := range batch.Parts {
		r.parts = append(r.parts, partRow{IntakeID: batch.ID, Number: p.Number, Body: p.Body})
	}
	for _, p := range batch.Rows {
		text, err := json.Marshal(p.Incoming)
		if err != nil {
			return r, fmt.Errorf("encode row %d of intake %s: %w", p.Number, batch.ID, err)
		}
		r.rows = append(r.rows, plannedRow{IntakeID: batch.ID, Number: p.Number, SpecimenID: p.Specimen, Faults: p.Faults, Refused: p.Refused, Body: string(text)})
	}
	r.taken, r.rowsFrom = batch.Taken, batch.RowsFrom
	return r, nil
}

// store writes the intake itself only where its state is the one before: of two who accept the same plan one comes too late, and so does
// who accepts one that was planned again meanwhile.
func (r intakeRows) store(tx *gorm.DB) error {
	if r.intake == nil {
		return nil
	}
	if r.rowsFrom != "" {
		return r.replacePlan(tx)
	}
	former := map[string][]string{"reading": {"reading"}, "planned": {"reading"}, "accepted": {"planned", "accepted"}, "undone": {"accepted", "undone"}}[r.intake.State]
	expressions := []clause.Expression{clause.Expr{SQL: "intakes.state IN ? AND intakes.plan = ?", Vars: []any{former, r.intake.Plan}}}
	stored := tx.Clauses(clause.OnConflict{Columns: []clause.Column{{Name: "id"}}, UpdateAll: true, Where: clause.Where{Exprs: expressions}}).Create(r.intake)
	if stored.Error != nil {
		return fmt.Errorf("store an intake: %w", stored.Error)
	}
	if stored.RowsAffected == 0 {
		return service.ErrRace
	}
	if r.intake.State == string(review.IntakeAccepted) { // it is not read again
		if err := tx.Where("intake_id = ?", r.intake.ID).Delete(&partRow{}).Error; err != nil {
			return fmt.Errorf("remove the file of an intake: %w", err)
		}
	}
	if err := insert(tx, "a part of a file", r.parts); err != nil {
		return err
	}
	for rows := range slices.Chunk(r.rows, touchedAtOnce) {
		if err := insert(tx, "rows of an intake", rows); err != nil {
			return err
		}
	}
	for number, specimen := range r.taken {
		changed := map[string]any{"specimen_id": specimen, "body": ""}
		if err := tx.Model(&plannedRow{}).Where("intake_id = ? AND number = ?", r.intake.ID, number).Updates(changed).Error; err != nil {
			return fmt.Errorf("note what a row has become: %w", err)
		}
	}
	return nil
}

// replacePlan puts the rows that were planned under another id in the place of those of an intake that still waits.
func (r intakeRows) replacePlan(tx *gorm.DB) error {
	changed := tx.Model(&intakeRow{}).Where("id = ? AND state = 'planned' AND plan = ?", r.intake.ID, r.intake.Plan-1).
		Updates(map[string]any{"at": r.intake.At, "plan": r.intake.Plan, "body": r.intake.Body})
	if changed.Error != nil {
		return fmt.Errorf("store a new plan: %w", changed.Error)
	}
	if changed.RowsAffected == 0 {
		return service.ErrRace
	}
	if err := tx.Where("intake_id = ?", r.intake.ID).Delete(&plannedRow{}).Error; err != nil {
		return fmt.Errorf("remove the rows of a plan: %w", err)
	}
	if err := tx.Model(&plannedRow{}).Where("intake_id = ?", r.rowsFrom).Update("intake_id", r.intake.ID).Error; err != nil {
		return fmt.Errorf("store the rows of a new plan: %w", err)
	}
	if err := tx.Where("id = ?", r.rowsFrom).Delete(&intakeRow{}).Error; err != nil {
		return fmt.Errorf("store a new plan: %w", err)
	}
	return nil
}

// IntakeFile implements service.Reader.
func (db *DB) IntakeFile(ctx context.Context, id string) ([]byte, error) {
	if !storable(id) {
		return nil, nil
	}
	var rows []partRow
	if err := db.read(ctx).Where("intake_id = ?", id).Order("number").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read the file of an intake: %w", err)
	}
	var file []byte
	for _, r := range rows {
		file = append(file, r.Body...)
	}
	return file, nil
}

// KnownNumbers implements service.Reader.
func (db *DB) KnownNumbers(ctx context.Context, numbers []string) (map[string]string, error) {
	known, texts := map[string]string{}, []string{}
	for _, n := range numbers {
		if n != "" && storable(n) {
			texts = append(texts, searchable(n))
		}
	}
	if len(texts) == 0 {
		return known, nil
	}
	var rows []specimenRow
	if err := db.read(ctx).Select("id", "search").Where("search IN ? AND "+notUndone, texts).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("look for specimens by their numbers: %w", err)
	}
	byText := map[string]string{}
	for _, r := range rows {
		byText[r.Search] = r.ID
	}
	for _, n := range numbers {
		if id := byText[searchable(n)]; id != "" && n != "" {
			known[n] = id
		}
	}
	return known, nil
}

// notUndone: what was taken back may come again.
const notUndone = "body NOT LIKE '%\"undone\":\"%'"

// Intake implements service.Reader.
func (db *DB) Intake(ctx context.Context, id string) (review.Intake, error) {
	row, err := find[intakeRow](byID(db.read(ctx), "id", id), "There is no such intake, or it was not accepted in time: send the file again.")
	if err != nil {
		return review.Intake{}, err
	}
	return row.fromRow()
}

// FindIntakes implements service.Reader.
func (db *DB) FindIntakes(ctx context.Context, most int) ([]review.Intake, error) {
	var rows []intakeRow
	if err := db.read(ctx).Where("state <> 'reading'").Order("at DESC, id DESC").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list intakes: %w", err)
	}
	return fromRows(rows, intakeRow.fromRow)
}

// FindPlanned implements service.Reader.
func (db *DB) FindPlanned(ctx context.Context, intake string, faulty bool, after, size int) ([]review.PlannedRow, error) {
	if !storable(intake) {
		return nil, nil
	}
	query := db.read(ctx).Where("intake_id = ? AND number > ?", intake, after)
	if faulty {
		query = query.Where("faults > 0")
	}
	var rows []plannedRow
	if err := query.Order("number").Limit(size).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list the rows of an intake: %w", err)
	}
	return fromRows(rows, plannedRow.fromRow)
}

// KnownSources implements service.Reader.
func (db *DB) KnownSources(ctx context.Context, sources []string) (map[string]string, error) {
	known := map[string]string{}
	var texts, ids []string
	for _, s := range sources {
		if s == "" || !storable(s) {
			continue
		}
		texts = append(texts, s)
		if id, ours := strings.CutPrefix(s, "urn:uuid:"); ours {
			ids = append(ids, id)
		}
	}
	if len(texts) == 0 {
		return known, nil
	}
	var rows []specimenRow
	if err := db.read(ctx).Select("id", "source").Where("source IN ? AND source <> '' AND "+notUndone, texts).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("look for specimens by where they came from: %w", err)
	}
	for _, r := range rows {
		known[r.Source] = r.ID
	}
	if len(ids) == 0 {
		return known, nil
	}
	if err := db.read(ctx).Select("id").Where("id IN ? AND source = ''", ids).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("look for specimens by their ids: %w", err)
	}
	for _, r := range rows {
		known["urn:uuid:"+r.ID] = r.ID
	}
	return known, nil
}

// RemoveIntake implements service.Store.
func (db *DB) RemoveIntake(ctx context.Context, id string) error {
	return db.write(ctx, func(tx *gorm.DB) error { return removeIntakes(tx, []string{id}) })
}

// removeIntakes removes those that were never accepted.
func removeIntakes(tx *gorm.DB, ids []string) error {
	if err := tx.Where("intake_id IN (SELECT id FROM intakes WHERE id IN ? AND state IN ('reading', 'planned'))", ids).Delete(&plannedRow{}).Error; err != nil {
		return fmt.Errorf("remove the rows of a plan: %w", err)
	}
	if err := tx.Where("id IN ? AND state IN ('reading', 'planned')", ids).Delete(&intakeRow{}).Error; err != nil {
		return fmt.Errorf("remove a plan: %w", err)
	}
	return nil
}

// expireIntakes removes plans that nobody has accepted in time, a few at once.
func expireIntakes(tx *gorm.DB, before time.Time) (int, error) {
	const atOnce = 5
	var ids []string
	if err := tx.Model(&intakeRow{}).Where("state IN ('reading', 'planned') AND at < ?", instantOf(before)).Order("at, id").Limit(atOnce).Pluck("id", &ids).Error; err != nil {
		return 0, fmt.Errorf("list old plans: %w", err)
	}
	if len(ids) == 0 {
		return 0, nil
	}
	return len(ids), removeIntakes(tx, ids)
}
