package models

import (
	"errors"
	"time"

	"gorm.io/gorm"
)

// clockBegan is where a statement notes when it began.
const clockBegan = "revidit:began"

// Clock tells how long each statement takes until the database answers with its first row, or with what it has done: for
// measurements. Rows that are read one by one after that are not in it.
func (db *DB) Clock(told func(time.Duration)) error {
	before := func(tx *gorm.DB) { tx.InstanceSet(clockBegan, time.Now()) }
	after := func(tx *gorm.DB) {
		if began, ok := tx.InstanceGet(clockBegan); ok && !tx.DryRun { // which a part of another statement is
			told(time.Since(began.(time.Time)))
		}
	}
	handles := []*gorm.DB{db.reader}
	if db.gorm != db.reader {
		handles = append(handles, db.gorm)
	}
	for _, handle := range handles {
		on := handle.Callback()
		err := errors.Join(
			on.Query().Before("gorm:query").Register("clock:before", before), on.Query().After("gorm:query").Register("clock:after", after),
			on.Row().Before("gorm:row").Register("clock:before", before), on.Row().After("gorm:row").Register("clock:after", after),
			on.Raw().Before("gorm:raw").Register("clock:before", before), on.Raw().After("gorm:raw").Register("clock:after", after),
			on.Update().Before("gorm:update").Register("clock:before", before), on.Update().After("gorm:update").Register("clock:after", after),
			on.Create().Before("gorm:create").Register("clock:before", before), on.Create().After("gorm:create").Register("clock:after", after))
		if err != nil {
			return err
		}
	}
	return nil
}
