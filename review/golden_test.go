package review

import (
	"bufio"
	"encoding/json"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// goldenEvent is an event as it stands in a database.
type goldenEvent struct {
	Seq   int             `json:"seq"`
	At    time.Time       `json:"at"`
	Actor string          `json:"actor"`
	Role  Role            `json:"role"`
	Kind  string          `json:"kind"`
	Data  json.RawMessage `json:"data"`
}

// goldenStream is a stream with the row that it made.
type goldenStream struct {
	Stream string          `json:"stream"`
	Events []goldenEvent   `json:"events"`
	Row    json.RawMessage `json:"row"`
}

func goldenLines[T any](t *testing.T, name string) []T {
	file, err := os.Open("testdata/golden/" + name)
	require.NoError(t, err)
	defer file.Close()
	var lines []T
	scanner := bufio.NewScanner(file)
	scanner.Buffer(nil, 1<<22)
	for scanner.Scan() {
		var line T
		require.NoError(t, json.Unmarshal(scanner.Bytes(), &line))
		lines = append(lines, line)
	}
	require.NoError(t, scanner.Err())
	require.NotEmpty(t, lines)
	return lines
}

// What was stored is stored again as it was, byte for byte but for the order of fields: the proof of a history hashes it.
func TestStoredEventsOfEveryKindDecode(t *testing.T) {
	seen := map[string]bool{}
	for _, e := range goldenLines[goldenEvent](t, "every_kind.jsonl") {
		change, err := DecodeChange(e.Kind, string(e.Data))
		require.NoError(t, err, e.Kind)
		kind, data, err := EncodeChange(change)
		require.NoError(t, err)
		require.Equal(t, e.Kind, kind)
		require.JSONEq(t, string(e.Data), data, e.Kind)
		seen[kind] = true
	}
	for kind := range newChange {
		require.True(t, seen[kind], "no event of the kind %s was kept: append one to every_kind.jsonl", kind)
	}
}

func TestStoredStreamsReplay(t *testing.T) {
	for _, s := range goldenLines[goldenStream](t, "streams.jsonl") {
		var events []Event
		for _, e := range s.Events {
			change, err := DecodeChange(e.Kind, string(e.Data))
			require.NoError(t, err, s.Stream)
			events = append(events, Event{Stream: s.Stream, Seq: e.Seq, At: e.At, Actor: e.Actor, Role: e.Role, Change: change})
		}
		switch events[0].Change.(type) {
		case *SpecimenRegistered:
			specimen, err := ReplaySpecimen(events)
			require.NoError(t, err)
			requireHolds(t, s, specimen)
		case *Drafted:
			submission, err := ReplaySubmission(events)
			require.NoError(t, err)
			requireHolds(t, s, submission)
		}
	}
}

// requireHolds compares every field that was stored; a row may have gained others since.
func requireHolds(t *testing.T, s goldenStream, value any) {
	text, err := json.Marshal(value)
	require.NoError(t, err)
	var was, is map[string]any
	require.NoError(t, json.Unmarshal(s.Row, &was))
	require.NoError(t, json.Unmarshal(text, &is))
	for field, stored := range was {
		require.Equal(t, stored, is[field], "%s: %s", s.Stream, field)
	}
}
