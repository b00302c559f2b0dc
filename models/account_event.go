package models

import (
	"fmt"
	"time"

	"gorm.io/gorm"

	"revidit/auth"
	"revidit/review"
)

// recordAccount writes what has happened to an account into its stream, in the transaction that changes it. The account is
// changed first, which locks it, so that no two write the same event.
func recordAccount(tx *gorm.DB, by review.Actor, person string, at time.Time, changes ...review.Change) error {
	return recordIn(tx, by, review.AccountStream(person), at, changes...)
}

// recordIn is recordAccount for any stream that is locked so.
func recordIn(tx *gorm.DB, by review.Actor, stream string, at time.Time, changes ...review.Change) error {
	_, err := recordLast(tx, by, stream, at, changes...)
	return err
}

// recordLast is recordIn, and returns the last event.
func recordLast(tx *gorm.DB, by review.Actor, stream string, at time.Time, changes ...review.Change) (e review.Event, err error) {
	if !storable(stream) || len(changes) == 0 {
		return e, nil
	}
	var last []eventRow
	if err := tx.Where("stream = ?", stream).Order("seq DESC").Limit(1).Find(&last).Error; err != nil {
		return e, fmt.Errorf("read what has happened to an account: %w", err)
	}
	e = review.Event{Stream: stream, At: at, Actor: by.Person, Role: by.Role}
	if len(last) > 0 {
		e.Seq = last[0].Seq
		if last[0].At.After(e.At) { // a clock that was set back turns no stream round
			e.At = last[0].At.Time
		}
	}
	var rows []eventRow
	for _, e.Change = range changes {
		e.Seq++
		row, err := toEventRow(e, review.EncodeChange)
		if err != nil {
			return e, err
		}
		rows = append(rows, row)
	}
	return e, insert(tx, "events", rows)
}

// theProgram is who acts where the server is kept from the command line.
var theProgram = review.Actor{Person: review.ProgramActor, Role: review.RoleCurator}

// accountEvents are what a change of an account is in its history.
func accountEvents(c auth.AccountChange) (changes []review.Change) {
	if c.Role != nil {
		changes = append(changes, &review.RoleChanged{Role: *c.Role, Reason: c.Reason})
	}
	if c.Families != nil {
		changes = append(changes, &review.FamiliesNamed{Families: review.NonNil(c.Families.Names()), Reason: c.Reason})
	}
	if c.Disabled != nil && *c.Disabled {
		changes = append(changes, &review.AccountDisabled{Reason: c.Reason})
	}
	if c.Disabled != nil && !*c.Disabled {
		changes = append(changes, &review.AccountEnabled{Reason: c.Reason})
	}
	if c.PasswordHash != nil {
		changes = append(changes, &review.PasswordSet{})
	}
	return changes
}
