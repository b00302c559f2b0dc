package models

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"time"

	"modernc.org/sqlite"
)

// sqliteWriter is the one connection by which this process writes to an SQLite file, and the queue before it. A pool over it
// (sql.OpenDB) has as many connections as are asked for: they cost nothing, and each waits for its turn when a transaction,
// or a statement outside of one, begins. So everything that writes through the pool stands in the queue, jobs included.
// Who holds a transaction, or has rows open, and asks the pool for another one, waits for himself for ever: inside a
// transaction only its handle is used.
type sqliteWriter struct {
	turns     turns
	connector driver.Connector
	conn      driver.Conn // nil while there is none; only who has the turn may touch it
}

func newSQLiteWriter(dsn string) (*sqliteWriter, error) {
	connector, err := sqlite.NewConnector(dsn)
	if err != nil {
		return nil, err
	}
	return &sqliteWriter{connector: connector}, nil
}

// writerPool needs no bound: the queue is one.
func writerPool(pool *sql.DB) { pool.SetMaxIdleConns(8) }

// Connect implements driver.Connector.
func (w *sqliteWriter) Connect(context.Context) (driver.Conn, error) {
	return &queuedConn{writer: w}, nil
}

// Driver implements driver.Connector.
func (w *sqliteWriter) Driver() driver.Driver { return w.connector.Driver() }

// lastTurn is how long closing waits for who has the turn.
const lastTurn = 10 * time.Second

// Close implements io.Closer; the pool calls it when it is closed.
func (w *sqliteWriter) Close() error {
	ctx, cancel := context.WithTimeout(context.Background(), lastTurn)
	defer cancel()
	if err := w.turns.take(ctx); err != nil {
		return fmt.Errorf("close the database file: somebody is still writing: %w", err)
	}
	defer w.turns.give()
	return w.drop()
}

// begin waits for the turn and has a connection then.
func (w *sqliteWriter) begin(ctx context.Context) (err error) {
	if err := w.turns.take(ctx); err != nil {
		return err
	}
	if w.conn == nil {
		if w.conn, err = w.connector.Connect(ctx); err != nil {
			w.conn = nil
			w.turns.give()
		}
	}
	return err
}

// end ends the turn. A connection that was interrupted, or is in a state that nobody knows, is not used again.
func (w *sqliteWriter) end(known bool) error {
	defer w.turns.give()
	if valid, ok := w.conn.(driver.Validator); known && ok && valid.IsValid() {
		return nil
	}
	return w.drop()
}

func (w *sqliteWriter) drop() error {
	if w.conn == nil {
		return nil
	}
	conn := w.conn
	w.conn = nil
	return conn.Close()
}

// sqliteConn is what a connection of the driver can do.
type sqliteConn interface {
	driver.Conn
	driver.ConnBeginTx
	driver.ConnPrepareContext
	driver.ExecerContext
	driver.QueryerContext
	driver.Pinger
}

// queuedConn is a connection of the pool. database/sql calls it from one goroutine at a time.
type queuedConn struct {
	writer *sqliteWriter
	uses   int // a transaction, a statement, rows: what needs the turn
}

// use has something done by the writer's connection, in the turn that this one has already or else in one of its own,
// which lasts until done has been called as often as use.
func (c *queuedConn) use(ctx context.Context) (sqliteConn, error) {
	if c.uses == 0 {
		if err := c.writer.begin(ctx); err != nil {
			return nil, err
		}
	}
	conn, ok := c.writer.conn.(sqliteConn)
	if !ok {
		err := fmt.Errorf("a connection of the SQLite driver is a %T", c.writer.conn)
		if c.uses == 0 {
			err = errors.Join(err, c.writer.end(false))
		}
		return nil, err
	}
	c.uses++
	return conn, nil
}

func (c *queuedConn) done(known bool) error {
	c.uses--
	if c.uses > 0 {
		return nil
	}
	return c.writer.end(known)
}

// and is the error of the driver as it is, since others look at its type, unless a second one follows.
func and(err, second error) error {
	if second == nil {
		return err
	}
	return errors.Join(err, second)
}

// BeginTx implements driver.ConnBeginTx.
func (c *queuedConn) BeginTx(ctx context.Context, options driver.TxOptions) (driver.Tx, error) {
	conn, err := c.use(ctx)
	if err != nil {
		return nil, err
	}
	tx, err := conn.BeginTx(ctx, options)
	if err != nil {
		return nil, and(err, c.done(true))
	}
	return &queuedTx{tx, c}, nil
}

// Begin implements driver.Conn, which database/sql calls of no connection that has BeginTx.
func (c *queuedConn) Begin() (driver.Tx, error) {
	return c.BeginTx(context.Background(), driver.TxOptions{})
}

// ExecContext implements driver.ExecerContext.
func (c *queuedConn) ExecContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Result, error) {
	conn, err := c.use(ctx)
	if err != nil {
		return nil, err
	}
	result, err := conn.ExecContext(ctx, query, args)
	return result, and(err, c.done(true))
}

// QueryContext implements driver.QueryerContext. The turn lasts until the rows are closed: they may be of an INSERT with RETURNING.
func (c *queuedConn) QueryContext(ctx context.Context, query string, args []driver.NamedValue) (driver.Rows, error) {
	conn, err := c.use(ctx)
	if err != nil {
		return nil, err
	}
	rows, err := conn.QueryContext(ctx, query, args)
	return c.queued(rows, err)
}

// PrepareContext implements driver.ConnPrepareContext.
func (c *queuedConn) PrepareContext(ctx context.Context, query string) (driver.Stmt, error) {
	conn, err := c.use(ctx)
	if err != nil {
		return nil, err
	}
	statement, err := conn.PrepareContext(ctx, query)
	if err = and(err, c.done(true)); err != nil {
		return nil, err
	}
	return &queuedStmt{statement, conn, c}, nil
}

// Prepare implements driver.Conn.
func (c *queuedConn) Prepare(query string) (driver.Stmt, error) {
	return c.PrepareContext(context.Background(), query)
}

// Ping implements driver.Pinger.
func (c *queuedConn) Ping(ctx context.Context) error {
	conn, err := c.use(ctx)
	if err != nil {
		return err
	}
	return and(conn.Ping(ctx), c.done(true))
}

// Close implements driver.Conn. The writer's connection stays, unless this one is closed in the middle of something.
func (c *queuedConn) Close() error {
	if c.uses == 0 {
		return nil
	}
	c.uses = 0
	return c.writer.end(false)
}

type queuedTx struct {
	driver.Tx
	conn *queuedConn
}

// Commit implements driver.Tx.
func (tx *queuedTx) Commit() error {
	err := tx.Tx.Commit() // where it fails, the driver rolls back
	return and(err, tx.conn.done(true))
}

// Rollback implements driver.Tx.
func (tx *queuedTx) Rollback() error {
	err := tx.Tx.Rollback()
	return and(err, tx.conn.done(err == nil))
}

// sqliteRows are what the driver returns.
type sqliteRows interface {
	driver.Rows
	driver.RowsColumnTypeDatabaseTypeName
	driver.RowsColumnTypeLength
	driver.RowsColumnTypeNullable
	driver.RowsColumnTypePrecisionScale
	driver.RowsColumnTypeScanType
}

type queuedRows struct {
	sqliteRows
	conn *queuedConn
}

// queued are rows that a query has returned.
func (c *queuedConn) queued(rows driver.Rows, err error) (driver.Rows, error) {
	if err != nil {
		return nil, and(err, c.done(true))
	}
	whole, ok := rows.(sqliteRows)
	if !ok {
		return nil, errors.Join(fmt.Errorf("rows of the SQLite driver are a %T", rows), rows.Close(), c.done(true))
	}
	return &queuedRows{whole, c}, nil
}

// Close implements driver.Rows.
func (r *queuedRows) Close() error {
	err := r.sqliteRows.Close()
	return and(err, r.conn.done(true))
}

// queuedStmt is a statement of one connection of the writer.
type queuedStmt struct {
	driver.Stmt
	of   driver.Conn
	conn *queuedConn
}

// use is that of the connection; an error where the statement is of one that is there no more.
func (s *queuedStmt) use(ctx context.Context) error {
	conn, err := s.conn.use(ctx)
	if err != nil {
		return err
	}
	if driver.Conn(conn) != s.of {
		return errors.Join(errors.New("the statement is of a connection that was closed"), s.conn.done(true))
	}
	return nil
}

// ExecContext implements driver.StmtExecContext.
func (s *queuedStmt) ExecContext(ctx context.Context, args []driver.NamedValue) (driver.Result, error) {
	if err := s.use(ctx); err != nil {
		return nil, err
	}
	result, err := s.Stmt.(driver.StmtExecContext).ExecContext(ctx, args)
	return result, and(err, s.conn.done(true))
}

// QueryContext implements driver.StmtQueryContext.
func (s *queuedStmt) QueryContext(ctx context.Context, args []driver.NamedValue) (driver.Rows, error) {
	if err := s.use(ctx); err != nil {
		return nil, err
	}
	rows, err := s.Stmt.(driver.StmtQueryContext).QueryContext(ctx, args)
	return s.conn.queued(rows, err)
}

// Close implements driver.Stmt. A statement of a connection that was closed went with it.
func (s *queuedStmt) Close() error {
	if s.use(context.Background()) != nil {
		return nil
	}
	err := s.Stmt.Close()
	return and(err, s.conn.done(true))
}
