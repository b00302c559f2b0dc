package modelstest

import (
	"testing"

	"revidit/models"
)

var all = []map[string]func(fixture){commits, values, lists, queues, accounts, releases, proposals, determinations,
	specimens, reliabilities, weights, rechecks, bases, testimonies, found, jobChecks, expiries, sessions, settlements, positions, holds, owns, names, onces, drafts, draftRows, openings, keptForms, ledgers, seriesChecks, newses, mails, accountLinks, providerLogins, visits, logs, pasts, audits, labelChecks}

// atOnce are checks in which many act at once.
var atOnce = []map[string]func(fixture){commitsAtOnce, reliabilitiesAtOnce, basesAtOnce, jobsAtOnce, sessionsAtOnce, positionsAtOnce, holdsAtOnce, atOneVersion}

// Exercise holds a database to the comments of review.Store and auth.Store. open returns an empty one of the newest
// schema each time. The same suite runs on SQLite and on PostgreSQL.
func Exercise(t *testing.T, open func(t *testing.T) *models.DB) { exercise(t, open, all) }

// ExerciseAtOnce is the part of Exercise that the race detector has something to watch in.
func ExerciseAtOnce(t *testing.T, open func(t *testing.T) *models.DB) { exercise(t, open, atOnce) }

func exercise(t *testing.T, open func(t *testing.T) *models.DB, groups []map[string]func(fixture)) {
	for _, group := range groups {
		for name, check := range group {
			t.Run(name, func(t *testing.T) {
				t.Parallel() // each has a database of its own
				check(fixture{t, open(t)})
			})
		}
	}
}
