package models_test

import (
	"fmt"
	"testing"

	"revidit/models"
	"revidit/models/modelstest"
)

func TestHistoriesSQLite(t *testing.T) {
	t.Parallel()
	for _, seed := range []uint64{0, 2, 3, 4} {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) {
			t.Parallel()
			modelstest.Histories(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) }, seed, modelstest.Many(75, 500))
		})
	}
}

func TestUnsteadyClockSQLite(t *testing.T) {
	t.Parallel()
	modelstest.UnsteadyClock(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) }, 200, modelstest.Many(60, 400))
}

func TestUnsteadyClockPostgres(t *testing.T) {
	t.Parallel()
	modelstest.UnsteadyClock(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) }, 201, modelstest.Many(30, 60))
}

func TestHistoriesPostgres(t *testing.T) {
	t.Parallel()
	modelstest.Histories(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) }, 100, modelstest.Many(75, 200))
}
