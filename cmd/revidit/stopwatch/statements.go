package stopwatch

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"revidit/models/pgserver"
)

// LogSettings make a server write a log from which statements can be read (PostgreSQL 15 and later).
var LogSettings = []string{"logging_collector=on", "log_destination=jsonlog", "log_directory=log", "log_filename=server.log", "log_rotation_size=0", "log_rotation_age=0"}

// LogWritten is what a PostgreSQL URL says for its connections to have what they write logged.
const LogWritten = "options=-c%20log_statement%3Dmod"

// Statement is one that has written something, as the server received it: SQL with $1, $2 and so on, and what these
// were, as text; nil is null.
type Statement struct {
	SQL    string
	Values []*string
}

// recorded are the statements that a server has logged while something was done, in order.
func recorded(ctx context.Context, server *pgserver.Server, do func() error) ([]Statement, error) {
	path := filepath.Join(server.Data(), "log", "server.json")
	before, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("read the server's log: %w", err)
	}
	if err := do(); err != nil {
		return nil, err
	}
	// The log is written by a process of its own, a little later.
	var statements []Statement
	for range 50 {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(100 * time.Millisecond):
		}
		after, err := os.ReadFile(path)
		if err != nil {
			return nil, fmt.Errorf("read the server's log: %w", err)
		}
		found, err := statementsIn(after[len(before):])
		if err != nil {
			return nil, err
		}
		if len(found) > 0 && len(found) == len(statements) { // no more have come
			return found, nil
		}
		statements = found
	}
	return nil, errors.New("the server has logged no statements")
}

// logged is a line of the log.
type logged struct {
	Message string `json:"message"`
	Detail  string `json:"detail"`
}

func statementsIn(log []byte) ([]Statement, error) {
	var found []Statement
	lines := bufio.NewScanner(bytes.NewReader(log))
	lines.Buffer(nil, 1<<26)
	for lines.Scan() {
		var l logged
		if err := json.Unmarshal(lines.Bytes(), &l); err != nil {
			return nil, fmt.Errorf("read the server's log: %w", err)
		}
		if sql, ok := strings.CutPrefix(l.Message, "statement: "); ok { // sent as text, without parameters
			found = append(found, Statement{SQL: sql})
			continue
		}
		text, ok := strings.CutPrefix(l.Message, "execute ")
		if !ok {
			continue
		}
		_, sql, ok := strings.Cut(text, ": ")
		if !ok {
			return nil, fmt.Errorf("read the server's log: no statement in %q", l.Message)
		}
		values, err := valuesIn(strings.TrimPrefix(strings.TrimPrefix(l.Detail, "parameters: "), "Parameters: "))
		if err != nil {
			return nil, err
		}
		found = append(found, Statement{SQL: sql, Values: values})
	}
	return found, lines.Err()
}

// valuesIn reads $1 = 'a', $2 = NULL, with quotes doubled inside.
func valuesIn(detail string) ([]*string, error) {
	var values []*string
	for rest := detail; rest != ""; {
		_, after, ok := strings.Cut(rest, " = ")
		if !ok {
			return nil, fmt.Errorf("read the server's log: no value in %.100q", rest)
		}
		if left, null := strings.CutPrefix(after, "NULL"); null {
			values, rest = append(values, nil), strings.TrimPrefix(left, ", ")
			continue
		}
		value, left, err := quoted(after)
		if err != nil {
			return nil, err
		}
		values, rest = append(values, &value), strings.TrimPrefix(left, ", ")
	}
	return values, nil
}

// quoted cuts a text in single quotes off.
func quoted(text string) (value, rest string, err error) {
	if !strings.HasPrefix(text, "'") {
		return "", "", fmt.Errorf("read the server's log: no quote in %.100q", text)
	}
	var b strings.Builder
	for i := 1; i < len(text); i++ {
		if text[i] != '\'' {
			b.WriteByte(text[i])
			continue
		}
		if i+1 == len(text) || text[i+1] != '\'' {
			return b.String(), text[i+1:], nil
		}
		b.WriteByte('\'')
		i++
	}
	return "", "", fmt.Errorf("read the server's log: no end of %.100q", text)
}
