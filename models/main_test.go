package models_test

import (
	"os"
	"testing"

	"revidit/models"
	"revidit/models/modelstest"
)

func TestMain(m *testing.M) { os.Exit(modelstest.Main(m)) }

func TestSQLite(t *testing.T) {
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.SQLite(t) })
}

func TestPostgres(t *testing.T) {
	modelstest.Exercise(t, func(t *testing.T) *models.DB { return modelstest.Postgres(t) })
}
