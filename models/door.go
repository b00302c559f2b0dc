package models

import (
	"context"
	"database/sql"
	"errors"
	"time"

	"gorm.io/gorm"

	"revidit/review/service"
)

// patience is how long somebody who waits is kept waiting for one answer of the database: a statement, or a transaction.
// An honest one takes milliseconds, a slow one on a busy machine a second or two.
const patience = 6 * time.Second

// door is how gorm reaches a database that may be down, hung or gone: nothing is waited for without end while somebody
// waits (service.Hurried), and nothing is done in a file that is not at its place any more.
type door struct {
	*sql.DB
	file *databaseFile // nil on PostgreSQL
}

var _ interface {
	gorm.ConnPool
	gorm.TxBeginner
	gorm.GetDBConnector
} = door{}

// GetDBConn implements gorm.GetDBConnector.
func (d door) GetDBConn() (*sql.DB, error) { return d.DB, nil }

// ExecContext implements gorm.ConnPool.
func (d door) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	if err := d.file.check(); err != nil {
		return nil, err
	}
	ctx, end := hurry(ctx)
	defer end()
	result, err := d.DB.ExecContext(ctx, query, args...)
	if err == nil {
		err = d.file.checkStored()
	}
	return result, faultOf(ended(ctx, err), nothingStored)
}

// QueryContext implements gorm.ConnPool. It bounds the time to the first row; the rest comes as it is read.
func (d door) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if err := d.file.check(); err != nil {
		return nil, err
	}
	ctx, answered := await(ctx)
	defer answered()
	rows, err := d.DB.QueryContext(ctx, query, args...)
	return rows, faultOf(ended(ctx, err), nothingStored)
}

// BeginTx implements gorm.TxBeginner. It bounds the time until the transaction has begun.
func (d door) BeginTx(ctx context.Context, options *sql.TxOptions) (*sql.Tx, error) {
	if err := d.file.check(); err != nil {
		return nil, err
	}
	ctx, answered := await(ctx)
	defer answered()
	tx, err := d.DB.BeginTx(ctx, options)
	return tx, faultOf(ended(ctx, err), nothingStored)
}

// hurry bounds all that is done under a context, where somebody waits for it.
func hurry(ctx context.Context) (context.Context, context.CancelFunc) {
	if !service.Hurried(ctx) {
		return ctx, func() {}
	}
	return context.WithTimeoutCause(ctx, patience, errPatience)
}

// await bounds the time until answered is called, where somebody waits: what has been answered, such as rows that are still
// to be read, lives as long as ctx.
func await(ctx context.Context) (awaiting context.Context, answered func()) {
	if !service.Hurried(ctx) {
		return ctx, func() {}
	}
	ctx, cancel := context.WithCancelCause(ctx)
	timer := time.AfterFunc(patience, func() { cancel(errPatience) })
	return ctx, func() { timer.Stop() }
}

// ended says of an error under a bounded context that it was the bound.
func ended(ctx context.Context, err error) error {
	if err != nil && errors.Is(context.Cause(ctx), errPatience) {
		return errors.Join(errPatience, err)
	}
	return err
}
