package proof

import (
	"bufio"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
)

// Export writes a history as JSON lines: a line for each event (Leaf.Line) in the order of positions, and behind the last event
// of each checkpoint one that holds it. The key stands in the first line; whoever checks the file has it from elsewhere.
type Export struct {
	to     *bufio.Writer
	leaves *bufio.Writer // nil: no list of leaves is wanted
	events int64
	newest string
}

// Lines that are no events. No event begins like them: the first member of its line is "actor".
type (
	keyLine struct {
		Key     string `json:"key"`
		Persons string `json:"persons"`
	}
	checkpointLine struct {
		Checkpoint string `json:"checkpoint"`
	}
)

// OfPersons is what an export says of the people in it.
const OfPersons = "Events name people by random ids, which are pseudonyms. Names, logins and addresses stand beside the events and can be erased: " +
	"then no event changes, all proofs hold, and an event person-erased says so. Slips of paper under specimens keep the name, and so do words that somebody has typed."

// NewExport begins an export. To leaves, unless nil, goes the list of the leaves' hashes: less than a tenth of the export, it is
// enough to tell later which event was altered.
func NewExport(to, leaves io.Writer, publicKey string) (*Export, error) {
	e := &Export{to: bufio.NewWriterSize(to, 1<<16)}
	if leaves != nil {
		e.leaves = bufio.NewWriterSize(leaves, 1<<16)
	}
	return e, e.object(keyLine{publicKey, OfPersons})
}

func (e *Export) object(v any) error {
	text, err := json.Marshal(v)
	if err == nil {
		_, err = e.to.Write(append(text, '\n'))
	}
	if err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	return nil
}

// Event writes the next one.
func (e *Export) Event(leaf Leaf) error {
	if leaf.Position != e.events+1 {
		return fmt.Errorf("%w: behind position %d stands position %d", ErrAltered, e.events, leaf.Position)
	}
	line, err := leaf.Line()
	if err != nil {
		return err
	}
	e.events++
	if e.leaves != nil {
		h := LeafHash(line)
		if _, err := e.leaves.WriteString(base64.StdEncoding.EncodeToString(h[:]) + "\n"); err != nil {
			return fmt.Errorf("write the list of leaves: %w", err)
		}
	}
	if _, err := e.to.Write(append(line, '\n')); err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	return nil
}

// Checkpoint writes one whose last event was written.
func (e *Export) Checkpoint(signed string) error {
	e.newest = signed
	return e.object(checkpointLine{signed})
}

// Close writes what is left.
func (e *Export) Close() error {
	err := e.to.Flush()
	if err == nil && e.leaves != nil {
		_, _ = e.leaves.WriteString("\n" + e.newest) // Flush tells of what goes wrong
		err = e.leaves.Flush()
	}
	if err != nil {
		return fmt.Errorf("write the export: %w", err)
	}
	return nil
}
