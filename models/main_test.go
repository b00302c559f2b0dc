package models_test

import (
	"fmt"
	"os"
	"testing"

	"revidit/models"
	"revidit/models/modelstest"
)

func TestMain(m *testing.M) {
	for variable, run := range map[string]func(string) error{runnerVariable: runJobs, sequencerVariable: runSequencer} {
		url := os.Getenv(variable)
		if url == "" {
			continue
		}
		if err := run(url); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(modelstest.Main(m))
}

func TestSQLite(t *testing.T) {
	t.Parallel()
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) })
}

func TestPostgres(t *testing.T) {
	t.Parallel()
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) })
}

func TestSQLiteAtOnce(t *testing.T) {
	t.Parallel()
	modelstest.ExerciseAtOnce(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) })
}

func TestPostgresAtOnce(t *testing.T) {
	t.Parallel()
	modelstest.ExerciseAtOnce(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) })
}
