package darwincore

import (
	"fmt"
	"io"
	"strings"

	"golang.org/x/text/encoding/htmlindex"
	"golang.org/x/text/transform"

	"revidit/review/delimited"
)

// charsetReader decodes text of an encoding by its name, as the WHATWG's list has them.
func charsetReader(name string, from io.Reader) (io.Reader, error) {
	e, err := htmlindex.Get(strings.TrimSpace(name))
	if err != nil {
		return nil, fmt.Errorf("the encoding %q is not known here", name)
	}
	return transform.NewReader(from, e.NewDecoder()), nil
}

// rows are those of a file that was decoded already.
func rows(text string, f *File) *delimited.Reader {
	return delimited.New(text, delimited.Dialect{Terminated: f.Terminated, Lines: f.Lines, Enclosed: f.Enclosed, Header: f.Header})
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
