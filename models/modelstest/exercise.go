package modelstest

import (
	"testing"

	"revidit/models"
)

// Exercise holds a database to the comments of review.Store and auth.Store. open returns an empty one of the newest
// schema each time. The same suite runs on SQLite and on PostgreSQL.
func Exercise(t *testing.T, open func(t *testing.T) *models.DB) {
	for _, group := range []map[string]func(fixture){commits, values, lists, queues, accounts, releases, proposals, determinations,
		specimens, reliabilities, weights, rechecks, bases, testimonies, found, jobChecks, expiries} {
		for name, check := range group {
			t.Run(name, func(t *testing.T) { check(fixture{t, open(t)}) })
		}
	}
}
