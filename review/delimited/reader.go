// Package delimited reads rows of text whose fields stand between marks, as CSV does (RFC 4180) and as Darwin Core archives describe it. A
// faulty row is told of and stops none of the others, even where an enclosing mark is never closed: that is what encoding/csv cannot do.
package delimited

import (
	"errors"
	"io"
	"strings"
	"unicode/utf8"
)

// Limits on a row.
const (
	MaxField  = 1 << 16 // bytes
	maxRow    = 1 << 20 // bytes
	MaxFields = 1000
	// maxOpenLines bounds over how many lines an enclosed field may go: where a mark is not closed, the rows behind it are not lost.
	maxOpenLines = 200
)

// Dialect says how a text is cut.
type Dialect struct {
	Terminated string // what stands between two fields
	Lines      string // what stands at the end of a row
	Enclosed   string // what stands around a field that holds either; empty: nothing
	Header     int    // rows that are passed over
}

// Reader cuts text into rows and fields.
type Reader struct {
	text       string
	terminated string
	lines      string
	enclosed   string
	row        int // number of the one read last, from 1; lines before the first row do not count
	empty      int // lines that were passed over
}

// Faults of a row.
var (
	ErrOpen = errors.New("a field that begins with the enclosing mark is not closed")
	ErrLong = errors.New("a field or row is longer than is taken")
	ErrText = errors.New("it holds bytes that are no text of the encoding")
)

// New reads text that was decoded already, behind its header lines.
func New(text string, d Dialect) *Reader {
	r := &Reader{text: strings.TrimPrefix(text, "\ufeff"), terminated: d.Terminated, lines: d.Lines, enclosed: d.Enclosed}
	for range d.Header {
		if _, _, err := r.Next(); err == io.EOF {
			break
		}
	}
	r.row = 0
	return r
}

// Empty is how many empty lines were passed over so far: with the number of a row it is the one that spreadsheets show.
func (r *Reader) Empty() int { return r.empty }

// Next is the next row with its number; an error other than io.EOF is about this row alone, and the next one can be read.
func (r *Reader) Next() (fields []string, row int, err error) {
	for r.text != "" && r.lineEnd(r.text) > 0 { // an empty line
		r.text = r.text[r.lineEnd(r.text):]
		r.empty++
	}
	if r.text == "" {
		return nil, r.row, io.EOF
	}
	r.row++
	rest := r.text
	for {
		var field string
		var end bool
		if field, rest, end, err = r.field(rest); err != nil {
			r.skipLine()
			return nil, r.row, err
		}
		fields = append(fields, field)
		if len(fields) > MaxFields || len(r.text)-len(rest) > maxRow {
			r.skipLine()
			return nil, r.row, ErrLong
		}
		if end {
			r.text = rest
			return fields, r.row, nil
		}
	}
}

// field cuts the first field off; end says whether it was the last of its row.
func (r *Reader) field(text string) (field, rest string, end bool, err error) {
	if r.enclosed != "" && strings.HasPrefix(text, r.enclosed) {
		return r.enclosedField(text[len(r.enclosed):])
	}
	for i := 0; i < len(text); i++ {
		if c := text[i]; c != r.terminated[0] && c != '\n' && c != '\r' && c != r.lines[0] {
			continue
		}
		if strings.HasPrefix(text[i:], r.terminated) {
			return cut(text[:i], text[i+len(r.terminated):], false)
		}
		if n := r.lineEnd(text[i:]); n > 0 {
			return cut(text[:i], text[i+n:], true)
		}
	}
	return cut(text, "", true)
}

func cut(field, rest string, end bool) (string, string, bool, error) {
	switch {
	case len(field) > MaxField:
		return "", "", false, ErrLong
	case !utf8.ValidString(field) || strings.ContainsRune(field, utf8.RuneError):
		return "", "", false, ErrText
	}
	return strings.Clone(field), rest, end, nil
}

// enclosedField reads to the closing mark; two of them are one that stands in the field.
func (r *Reader) enclosedField(text string) (field, rest string, end bool, err error) {
	var b strings.Builder
	lines := 0
	for {
		i := strings.Index(text, r.enclosed)
		if i < 0 || b.Len()+i > MaxField {
			return "", "", false, ErrOpen
		}
		if lines += strings.Count(text[:i], "\n"); lines > maxOpenLines {
			return "", "", false, ErrOpen
		}
		b.WriteString(text[:i])
		text = text[i+len(r.enclosed):]
		if strings.HasPrefix(text, r.enclosed) {
			b.WriteString(r.enclosed)
			text = text[len(r.enclosed):]
			continue
		}
		break
	}
	// What stands between the closing mark and the end of the field belongs to it, as most programs read it; but where the field goes
	// over lines, this was the opening mark of a later one.
	tail, rest, end, err := r.plainTail(text)
	switch {
	case err != nil:
		return "", "", false, err
	case tail != "" && lines > 0:
		return "", "", false, ErrOpen
	}
	return cut(b.String()+tail, rest, end)
}

func (r *Reader) plainTail(text string) (tail, rest string, end bool, err error) {
	enclosed := r.enclosed
	r.enclosed = ""
	defer func() { r.enclosed = enclosed }()
	return r.field(text)
}

// lineEnd is the length of the end of a line at the beginning of text, 0 where there is none. The ends of Unix and of Windows are taken
// for one another, since archives are often packed on another system than they were described on.
func (r *Reader) lineEnd(text string) int {
	if r.lines == "\n" || r.lines == "\r\n" {
		switch {
		case strings.HasPrefix(text, "\r\n"):
			return 2
		case strings.HasPrefix(text, "\n"):
			return 1
		}
		return 0
	}
	if strings.HasPrefix(text, r.lines) {
		return len(r.lines)
	}
	return 0
}

// skipLine goes on behind the line on which a faulty row begins.
func (r *Reader) skipLine() {
	for i := range len(r.text) {
		if n := r.lineEnd(r.text[i:]); n > 0 {
			r.text = r.text[i+n:]
			return
		}
	}
	r.text = ""
}
