package models_test

import (
	"fmt"
	"os"
	"testing"

	"revidit/models"
	"revidit/models/modelstest"
)

func TestMain(m *testing.M) {
	if url := os.Getenv(runnerVariable); url != "" {
		if err := runJobs(url); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(modelstest.Main(m))
}

func TestSQLite(t *testing.T) {
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) })
}

func TestPostgres(t *testing.T) {
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) })
}

func TestSQLiteAtOnce(t *testing.T) {
	modelstest.ExerciseAtOnce(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) })
}

func TestPostgresAtOnce(t *testing.T) {
	modelstest.ExerciseAtOnce(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) })
}
