package stopwatch

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// The log line is one that a PostgreSQL 15 server has written (log_destination=jsonlog), shortened.
func TestStatementsIn(t *testing.T) {
	log := `{"timestamp":"2026-05-14 12:00:00.000 UTC","pid":7,"error_severity":"LOG","message":"checkpoint starting: time"}
{"timestamp":"2026-05-14 12:00:00.000 UTC","pid":8,"ps":"INSERT","error_severity":"LOG","message":"execute stmtcache_9f: INSERT INTO \"a\" (\"b\",\"c\",\"d\") VALUES ($1,$2,$3)","detail":"parameters: $1 = 'it''s, $2 = ''x''', $2 = NULL, $3 = ''"}
{"timestamp":"2026-05-14 12:00:00.000 UTC","pid":8,"ps":"DELETE","error_severity":"LOG","message":"statement: DELETE FROM a"}
`
	found, err := statementsIn([]byte(log))
	require.NoError(t, err)
	require.Len(t, found, 2)
	require.Equal(t, Statement{SQL: "DELETE FROM a"}, found[1])
	require.Equal(t, `INSERT INTO "a" ("b","c","d") VALUES ($1,$2,$3)`, found[0].SQL)
	require.Len(t, found[0].Values, 3)
	require.Equal(t, "it's, $2 = 'x'", *found[0].Values[0])
	require.Nil(t, found[0].Values[1])
	require.Empty(t, *found[0].Values[2])
	_, err = statementsIn([]byte(`{"message":"execute s: SELECT $1","detail":"parameters: $1 = 'open"}`))
	require.Error(t, err)
}

// Ids become numbers that each transaction has for itself; everything else is sent as it was.
func TestScript(t *testing.T) {
	text := func(s string) *string { return &s }
	statements := []Statement{
		{SQL: "INSERT INTO events VALUES ($1,\n $2)", Values: []*string{text("submission/s"), text(`{"id":"s"}`)}},
		{SQL: "UPDATE uploads SET specimen_id=$1 WHERE id = $2 AND x = $3 AND y = $4", Values: []*string{text("s"), text("p"), nil, text("")}},
	}
	made := newScript(statements, ids{photos: []string{"p"}, others: []string{"s"}})
	require.Equal(t, `\set n :n + 1
\set first (:run + 1) * 1000000000000000 + :client_id * 1000000000000 + :n * 100
\set id0 :first + 0
\set id1 :first + 1
\set id2 :first + 2
BEGIN;
INSERT INTO events VALUES (:id2, :v0);
UPDATE uploads SET specimen_id=:id1 WHERE id = :id0 AND x = NULL AND y = '';
COMMIT;
`, made.text)
	require.Equal(t, []string{`v0={"id":"s"}`}, made.variables)
}

func TestWorst(t *testing.T) {
	lines := []Line{{Kind: "list", What: "a", Small: time.Second, Large: 2 * time.Second},
		{Kind: "list", What: "b", Small: time.Millisecond, Large: 3 * time.Millisecond}, {Kind: "queue", Small: 1, Large: 9}}
	worst, ok := Worst(lines, "list")
	require.True(t, ok)
	require.Equal(t, "b", worst.What)
	require.InDelta(t, 3, worst.Growth(), 1e-9)
	_, ok = Worst(lines, "home")
	require.False(t, ok)
}
