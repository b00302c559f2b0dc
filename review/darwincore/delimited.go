package darwincore

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/transform"
)

// Limits on a row, in bytes.
const (
	maxField = 1 << 16
	maxRow   = 1 << 20
	// maxOpenLines bounds over how many lines an enclosed field may go: where a mark is not closed, the rows behind it are not lost.
	maxOpenLines = 200
)

// charsetReader decodes text of an encoding by its name, as the WHATWG's list has them.
func charsetReader(name string, from io.Reader) (io.Reader, error) {
	e, err := htmlindex.Get(strings.TrimSpace(name))
	if err != nil {
		return nil, fmt.Errorf("the encoding %q is not known here", name)
	}
	return transform.NewReader(from, e.NewDecoder()), nil
}

// rowReader cuts text into rows and fields.
type rowReader struct {
	text       string
	terminated string
	lines      string
	enclosed   string
	row        int // number of the one read last, from 1; lines before the first row do not count
}

// Faults of a row.
var (
	errOpen = errors.New("a field that begins with the enclosing mark is not closed")
	errLong = errors.New("a field or row is longer than is taken")
	errText = errors.New("it holds bytes that are no text of the encoding")
)

// newRowReader reads text that was decoded already, behind its header lines.
func newRowReader(text string, f *File) *rowReader {
	r := &rowReader{text: strings.TrimPrefix(text, "\ufeff"), terminated: f.Terminated, lines: f.Lines, enclosed: f.Enclosed}
	for range f.Header {
		if _, _, err := r.next(); err == io.EOF {
			break
		}
	}
	r.row = 0
	return r
}

// next is the next row with its number; an error other than io.EOF is about this row alone, and the next one can be read.
func (r *rowReader) next() (fields []string, row int, err error) {
	for r.text != "" && r.lineEnd(r.text) > 0 { // an empty line
		r.text = r.text[r.lineEnd(r.text):]
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
		if len(fields) > maxFields || len(r.text)-len(rest) > maxRow {
			r.skipLine()
			return nil, r.row, errLong
		}
		if end {
			r.text = rest
			return fields, r.row, nil
		}
	}
}

// field cuts the first field off; end says whether it was the last of its row.
func (r *rowReader) field(text string) (field, rest string, end bool, err error) {
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
	case len(field) > maxField:
		return "", "", false, errLong
	case !utf8.ValidString(field) || strings.ContainsRune(field, utf8.RuneError):
		return "", "", false, errText
	}
	return strings.Clone(field), rest, end, nil
}

// enclosedField reads to the closing mark; two of them are one that stands in the field.
func (r *rowReader) enclosedField(text string) (field, rest string, end bool, err error) {
	var b strings.Builder
	lines := 0
	for {
		i := strings.Index(text, r.enclosed)
		if i < 0 || b.Len()+i > maxField {
			return "", "", false, errOpen
		}
		if lines += strings.Count(text[:i], "\n"); lines > maxOpenLines {
			return "", "", false, errOpen
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
		return "", "", false, errOpen
	}
	return cut(b.String()+tail, rest, end)
}

func (r *rowReader) plainTail(text string) (tail, rest string, end bool, err error) {
	enclosed := r.enclosed
	r.enclosed = ""
	defer func() { r.enclosed = enclosed }()
	return r.field(text)
}

// lineEnd is the length of the end of a line at the beginning of text, 0 where there is none. The ends of Unix and of Windows are taken
// for one another, since archives are often packed on another system than they were described on.
func (r *rowReader) lineEnd(text string) int {
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
func (r *rowReader) skipLine() {
	for i := range len(r.text) {
		if n := r.lineEnd(r.text[i:]); n > 0 {
			r.text = r.text[i+n:]
			return
		}
	}
	r.text = ""
}

// appendRow writes a row as CSV (RFC 4180, with \n): a field is enclosed where it has to be. Line breaks within a field are kept.
func appendRow(to []byte, fields []string) []byte {
	for i, f := range fields {
		if i > 0 {
			to = append(to, ',')
		}
		if f == "" {
			continue
		}
		if !strings.ContainsAny(f, ",\"\r\n") && f[0] != ' ' {
			to = append(to, f...)
			continue
		}
		to = append(to, '"')
		for {
			j := strings.IndexByte(f, '"')
			if j < 0 {
				break
			}
			to = append(to, f[:j+1]...)
			to = append(to, '"')
			f = f[j+1:]
		}
		to = append(to, f...)
		to = append(to, '"')
	}
	return append(to, '\n')
}
