package models_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/migrations"
	"revidit/models"
	"revidit/models/modelstest"
)

// TestErased: erasing a person reaches every table there is, those that are yet to come among them.
func TestErased(t *testing.T) {
	t.Parallel()
	for dialect, open := range map[string]func(testing.TB) *models.DB{migrations.SQLite: modelstest.SQLite, migrations.Postgres: modelstest.Postgres} {
		t.Run(dialect, func(t *testing.T) {
			t.Parallel()
			db := open(t)
			modelstest.Erased(t, db, func(texts ...string) []string { return tablesHolding(t, db, dialect, texts) })
		})
	}
}

// tablesHolding are the tables of which any column of any row holds one of some texts, in whatever case.
func tablesHolding(t *testing.T, db *models.DB, dialect string, texts []string) (holding []string) {
	t.Helper()
	list := map[string]string{migrations.SQLite: "SELECT name FROM sqlite_master WHERE type = 'table'",
		migrations.Postgres: "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public' AND table_type = 'BASE TABLE'"}[dialect]
	var tables []string
	for _, row := range rowsOf(t, db, list) {
		tables = append(tables, row[0])
	}
	require.Greater(t, len(tables), 40)
	for _, table := range tables {
		for _, row := range rowsOf(t, db, `SELECT * FROM "`+table+`"`) {
			whole := strings.ToLower(strings.Join(row, "\n"))
			if !slices.Contains(holding, table) && slices.ContainsFunc(texts, func(text string) bool { return strings.Contains(whole, text) }) {
				holding = append(holding, table)
			}
		}
	}
	return holding
}

// rowsOf are the rows of a query as texts.
func rowsOf(t *testing.T, db *models.DB, query string) (all [][]string) {
	t.Helper()
	rows, err := db.Raw().QueryContext(t.Context(), query)
	require.NoError(t, err, query)
	defer rows.Close()
	columns, err := rows.Columns()
	require.NoError(t, err)
	for rows.Next() {
		values, places := make([]any, len(columns)), make([]any, len(columns))
		for i := range values {
			places[i] = &values[i]
		}
		require.NoError(t, rows.Scan(places...))
		row := make([]string, len(columns))
		for i, v := range values {
			if row[i] = fmt.Sprint(v); v != nil {
				if data, ok := v.([]byte); ok {
					row[i] = string(data)
				}
			}
		}
		all = append(all, row)
	}
	require.NoError(t, rows.Err())
	return all
}
