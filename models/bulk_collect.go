package models

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"time"

	"gorm.io/gorm"
	"gorm.io/gorm/callbacks"
	"gorm.io/gorm/logger"
)

// load is rows on their way into tables, those first that others refer to.
type load []*tableLoad

// tableLoad is rows of one table; values are nil, int64, float64, bool, string, []byte or time.Time.
type tableLoad struct {
	table   string
	columns []string
	rows    [][]any
}

// collector takes rows in where a database would store them.
type collector struct {
	tables load
	byName map[string]*tableLoad
}

// newCollector returns a handle that can be written to like a transaction, and what it collects. It can add rows. To
// change or delete some does nothing: there are none yet. Everything else it refuses, so that what is stored in another
// way cannot be forgotten.
func newCollector(dialector gorm.Dialector) (*gorm.DB, *collector, error) {
	c := &collector{byName: map[string]*tableLoad{}}
	handle, err := gorm.Open(collecting{dialector, c}, &gorm.Config{Logger: logger.Discard, SkipDefaultTransaction: true, DisableAutomaticPing: true})
	return handle, c, err
}

// collecting is a dialect whose statements end in a collector.
type collecting struct {
	gorm.Dialector
	collector *collector
}

// Initialize implements gorm.Dialector.
func (d collecting) Initialize(db *gorm.DB) error {
	refuse := func(tx *gorm.DB) {
		tx.AddError(fmt.Errorf("a bulk cannot store this: %s %T", tx.Statement.SQL.String(), tx.Statement.Model))
	}
	on, nothing := db.Callback(), func(*gorm.DB) {}
	return errors.Join(on.Create().Register("collect", d.collector.add), on.Delete().Register("collect", nothing),
		on.Update().Register("collect", nothing), on.Query().Register("collect", refuse), on.Row().Register("collect", refuse),
		on.Raw().Register("collect", refuse))
}

// add takes in what a create statement would store.
func (c *collector) add(tx *gorm.DB) {
	if tx.Error != nil {
		return
	}
	values := callbacks.ConvertToCreateValues(tx.Statement)
	t := c.byName[tx.Statement.Table]
	if t == nil {
		t = &tableLoad{table: tx.Statement.Table}
		for _, column := range values.Columns {
			t.columns = append(t.columns, column.Name)
		}
		c.byName[t.table] = t
		c.tables = append(c.tables, t)
	}
	for _, row := range values.Values {
		if len(row) != len(t.columns) {
			tx.AddError(fmt.Errorf("a row of %s has %d columns, others have %d", t.table, len(row), len(t.columns)))
			return
		}
		for i := range row {
			plain, err := plainValue(row[i])
			if err != nil {
				tx.AddError(fmt.Errorf("column %s of %s: %w", t.columns[i], t.table, err))
				return
			}
			row[i] = plain
		}
		t.rows = append(t.rows, row)
	}
	tx.RowsAffected = int64(len(values.Values))
}

// taken empties the collector.
func (c *collector) taken() load {
	var out load
	for _, t := range c.tables {
		if len(t.rows) == 0 {
			continue
		}
		out = append(out, &tableLoad{table: t.table, columns: t.columns, rows: t.rows})
		t.rows = nil
	}
	return out
}

// plainValue is a value as drivers take it, times as time.Time.
func plainValue(value any) (any, error) {
	switch v := value.(type) {
	case nil, string, int64, float64, bool, []byte, time.Time:
		return v, nil
	case instant:
		return v.Time, nil
	case *instant:
		if v == nil {
			return nil, nil
		}
		return v.Time, nil
	case driver.Valuer:
		return v.Value()
	}
	return driver.DefaultParameterConverter.ConvertValue(value)
}
