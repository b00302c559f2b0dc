package models

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"net"
	"strings"

	"github.com/jackc/pgx/v5/pgconn"
	"gorm.io/gorm"

	"revidit/review"
)

// What people are told of a database that fails, after what has happened.
const (
	nothingStored = " What was stored before is safe, and nothing of this request was stored. Try again in a while."
	perhapsStored = " What was stored before is safe. Whether this request was stored is not certain: look before you send it again."
)

// errPatience ends what a database does not answer while somebody waits.
var errPatience = errors.New("the database did not answer in time")

// faultOf gives a fault of the database, as distinct from one of the program, a kind and words; any other error stays as it is.
// after is what is said of the request.
func faultOf(err error, after string) error {
	var told *review.Error
	if err == nil || errors.As(err, &told) {
		return err
	}
	kind, words := faultKind(err)
	switch kind {
	case "":
		return err
	case review.KindFull:
		after = " What was stored before is safe, and nothing of this request was stored. Tell the keeper of this server, and try again when there is room."
	case review.KindDamaged:
		after = " Nothing was changed. Tell the keeper of this server, who has to restore a backup."
	}
	return review.Fault(kind, err, "%s%s", words, after)
}

// inDoubt says of a fault of the database that what was to be stored may have been.
func inDoubt(err error) error {
	kind, words := faultKind(err)
	if kind == "" {
		return err
	}
	return review.Fault(kind, err, "%s%s", words, perhapsStored)
}

const (
	downWords    = "The database does not answer just now."
	busyWords    = "The database is kept busy by something else just now."
	fullWords    = "The disk of the database is full."
	damagedWords = "The database is damaged at a place that was needed for this."
)

// faultKind is empty where an error is none of the database's, and for one by which it says that a statement is wrong.
func faultKind(err error) (review.Kind, string) {
	var postgres *pgconn.PgError
	var sqlite interface {
		error
		Code() int
	}
	var network net.Error
	var connect *pgconn.ConnectError
	switch {
	case errors.Is(err, errPatience) && errors.Is(err, errInQueue):
		return review.KindDown, busyWords
	case errors.Is(err, errPatience), errors.As(err, &connect):
		return review.KindDown, downWords
	case errors.As(err, &postgres):
		return postgresFault(postgres.Code)
	case errors.As(err, &sqlite):
		return sqliteFault(sqlite.Code())
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded): // the request has ended, not the database
		return "", ""
	case errors.As(err, &network), errors.Is(err, driver.ErrBadConn), errors.Is(err, sql.ErrConnDone),
		errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF), strings.Contains(err.Error(), "conn closed"):
		return review.KindDown, downWords
	}
	return "", ""
}

// postgresFault goes by the classes of PostgreSQL's error codes (PostgreSQL 15 documentation, appendix A).
func postgresFault(code string) (review.Kind, string) {
	switch {
	case code == "53100": // disk_full
		return review.KindFull, fullWords
	case code == "55P03", code == "57014", code == "53300": // lock_not_available, query_canceled, too_many_connections
		return review.KindDown, busyWords
	case code == "25006": // read_only_sql_transaction: a standby
		return review.KindDown, downWords
	case code == "XX001", code == "XX002": // data_corrupted, index_corrupted
		return review.KindDamaged, damagedWords
	case len(code) == 5 && strings.Contains("08 53 57 58", code[:2]): // connection, resources, operator, system
		return review.KindDown, downWords
	}
	return "", ""
}

// sqliteFault goes by SQLite's primary result codes (https://www.sqlite.org/rescode.html).
func sqliteFault(code int) (review.Kind, string) {
	switch code & 0xff {
	case 5, 6: // SQLITE_BUSY, SQLITE_LOCKED
		return review.KindDown, busyWords
	case 13: // SQLITE_FULL
		return review.KindFull, fullWords
	case 8, 10, 14: // SQLITE_READONLY, SQLITE_IOERR, SQLITE_CANTOPEN
		return review.KindDown, "The database file cannot be read or written just now."
	case 11, 26: // SQLITE_CORRUPT, SQLITE_NOTADB
		return review.KindDamaged, damagedWords
	}
	return "", ""
}

// speaking is a dialect whose errors tell what is wrong with the database, also where that shows only while rows are read, or
// inside a transaction.
type speaking struct{ gorm.Dialector }

// Translate implements gorm.ErrorTranslator.
func (d speaking) Translate(err error) error {
	if replaces(err) {
		return gorm.ErrDuplicatedKey
	}
	if translator, ok := d.Dialector.(gorm.ErrorTranslator); ok {
		err = translator.Translate(err)
	}
	return faultOf(err, nothingStored)
}

// SavePoint implements gorm.SavePointerDialectorInterface.
func (d speaking) SavePoint(tx *gorm.DB, name string) error {
	return d.Dialector.(gorm.SavePointerDialectorInterface).SavePoint(tx, name)
}

// RollbackTo implements gorm.SavePointerDialectorInterface.
func (d speaking) RollbackTo(tx *gorm.DB, name string) error {
	return d.Dialector.(gorm.SavePointerDialectorInterface).RollbackTo(tx, name)
}

// replaces says whether a trigger has refused a row in place of one that is never replaced (migration proof): SQLite asks it
// before the constraint that would have told the same.
func replaces(err error) bool {
	const constraintTrigger = 1811 // SQLITE_CONSTRAINT_TRIGGER
	var sqlite interface {
		error
		Code() int
	}
	return errors.As(err, &sqlite) && sqlite.Code() == constraintTrigger && strings.Contains(err.Error(), "are never replaced: UNIQUE constraint failed")
}
