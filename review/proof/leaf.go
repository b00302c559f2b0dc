package proof

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"time"

	"github.com/go-json-experiment/json/jsontext"
)

// Leaf is an event as the tree holds it. What is in it, and how Line writes it, never changes: every checkpoint that was ever
// signed rests on it.
type Leaf struct {
	Position int64           `json:"position"` // among all events, from 1
	Stream   string          `json:"stream"`
	Seq      int             `json:"seq"` // in the stream, from 1
	At       time.Time       `json:"-"`   // whole microseconds
	Actor    string          `json:"actor"`
	Role     string          `json:"role"` // the actor's at the time
	Kind     string          `json:"kind"`
	Data     json.RawMessage `json:"data"` // as it is stored
}

// timeFormat of a leaf: RFC 3339 in UTC, always with six digits of a second.
const timeFormat = "2006-01-02T15:04:05.000000Z"

// Line is the leaf in canonical JSON (RFC 8785): members in the order of their names, numbers as IEEE 754 doubles, no spaces
// and no line feed. An error is one of data that are no JSON, or of a text that is not UTF-8.
func (l Leaf) Line() ([]byte, error) {
	var b []byte
	var err error
	quoted := func(name, text string) {
		b = append(append(append(b, '"'), name...), '"', ':')
		if err == nil {
			b, err = jsontext.AppendQuote(b, text)
		}
		b = append(b, ',')
	}
	b = append(b, '{')
	quoted("actor", l.Actor)
	b = append(append(append(b, `"data":`...), l.Data...), ',')
	quoted("kind", l.Kind)
	b = append(strconv.AppendInt(append(b, `"position":`...), l.Position, 10), ',')
	quoted("role", l.Role)
	b = append(strconv.AppendInt(append(b, `"seq":`...), int64(l.Seq), 10), ',')
	quoted("stream", l.Stream)
	quoted("time", l.At.UTC().Format(timeFormat))
	b[len(b)-1] = '}'
	if err == nil {
		err = (*jsontext.Value)(&b).Canonicalize()
	}
	if err != nil {
		return nil, fmt.Errorf("event %d of %s at position %d cannot be written as JSON: %w", l.Seq, l.Stream, l.Position, err)
	}
	return b, nil
}

// ReadLeaf reads a line, and refuses one that Line would not write.
func ReadLeaf(line []byte) (Leaf, error) {
	var read struct {
		Leaf
		Time string `json:"time"`
	}
	decoder := json.NewDecoder(bytes.NewReader(line))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&read); err != nil {
		return Leaf{}, fmt.Errorf("this line is no event: %w", err)
	}
	at, err := time.Parse(timeFormat, read.Time)
	if err != nil {
		return Leaf{}, fmt.Errorf("this line has no time as an event has it: %w", err)
	}
	read.At = at
	again, err := read.Line()
	if err != nil {
		return Leaf{}, err
	}
	if !bytes.Equal(again, line) {
		return Leaf{}, fmt.Errorf("the line of event %d of %s is not written canonically", read.Seq, read.Stream)
	}
	return read.Leaf, nil
}
