package models

import (
	"database/sql/driver"
	"fmt"
	"math"
	"time"
)

// instant is a time as both databases store it: a timestamptz in PostgreSQL, and in SQLite, which has no type for it, a
// text of fixed width in UTC, so that the order of texts is the order of times. Whole microseconds, as PostgreSQL keeps.
type instant struct{ time.Time }

const instantLayout = "2006-01-02T15:04:05.000000Z"

func instantOf(t time.Time) instant { return instant{t.UTC().Truncate(time.Microsecond)} }

func instantOrNull(t *time.Time) *instant {
	if t == nil {
		return nil
	}
	i := instantOf(*t)
	return &i
}

func timeOrNil(i *instant) *time.Time {
	if i == nil {
		return nil
	}
	return &i.Time
}

// Value implements driver.Valuer. PostgreSQL reads the same text.
func (i instant) Value() (driver.Value, error) { return i.Format(instantLayout), nil }

// Scan implements sql.Scanner.
func (i *instant) Scan(stored any) error {
	switch stored := stored.(type) {
	case time.Time:
		*i = instantOf(stored)
		return nil
	case string:
		parsed, err := time.Parse(instantLayout, stored)
		*i = instant{parsed}
		return err
	}
	return fmt.Errorf("a stored time is a %T", stored)
}

// unixSeconds is a time in seconds since 1970, for arithmetic inside queries.
func unixSeconds(t time.Time) float64 { return float64(t.UnixMicro()) / 1e6 }

// timeOfUnix is the inverse of unixSeconds, exact for the microseconds of the next two centuries.
func timeOfUnix(seconds float64) time.Time {
	return time.UnixMicro(int64(math.Round(seconds * 1e6))).UTC()
}
