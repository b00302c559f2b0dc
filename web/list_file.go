package web

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"revidit/review"
)

const (
	// mostFileLines bounds a list as a file; a longer one says at its end that there is more.
	mostFileLines = 100_000
	// filePage is how many lines of it are read at a time, and fileWriting how long they may take to be sent.
	filePage    = 200
	fileWriting = time.Minute
)

// fileAsked says whether a list was asked for as a file, as CSV (RFC 4180) or JSON.
func fileAsked(c *gin.Context) bool { return c.Query("as") == "csv" || c.Query("as") == "json" }

// listFile is a list on its way out, line by line.
type listFile struct {
	out     io.Writer
	csv     *csv.Writer // nil: JSON
	control *http.ResponseController
	lines   int
}

// beginFile sends the head of a list.
func beginFile(c *gin.Context, name string, columns []string) (*listFile, error) {
	f := &listFile{out: c.Writer, control: http.NewResponseController(c.Writer)}
	kind, mediaType := "json", "application/json; charset=utf-8"
	if c.Query("as") == "csv" {
		kind, mediaType = "csv", "text/csv; charset=utf-8; header=present"
		f.csv = csv.NewWriter(c.Writer)
		f.csv.UseCRLF = true
	}
	c.Header("Content-Disposition", "attachment; filename="+name+"."+kind)
	c.Header("Content-Type", mediaType)
	c.Header("Cache-Control", "no-store")
	c.Status(http.StatusOK)
	if f.csv != nil {
		return f, f.csv.Write(columns)
	}
	_, err := io.WriteString(f.out, `{"items":[`)
	return f, err
}

// add writes a line: item as JSON, or the cells.
func (f *listFile) add(item any, cells []any) error {
	f.lines++
	if f.csv != nil {
		texts := make([]string, len(cells))
		for i, cell := range cells {
			texts[i] = cellText(cell)
		}
		return f.csv.Write(texts)
	}
	text, err := json.Marshal(item)
	if err != nil {
		return err
	}
	if f.lines > 1 {
		text = append([]byte(",\n"), text...)
	}
	_, err = f.out.Write(text)
	return err
}

// end says whether there is more than the file has.
func (f *listFile) end(more bool) error {
	if f.csv == nil {
		_, err := fmt.Fprintf(f.out, `],"more":%t}`+"\n", more)
		return err
	}
	if more {
		if err := f.csv.Write([]string{fmt.Sprintf("# cut after %d lines: narrow the list, for example by a period", f.lines)}); err != nil {
			return err
		}
	}
	f.csv.Flush()
	return f.csv.Error()
}

// cellText is a value in a cell. A text that a spreadsheet would take for a formula gets an apostrophe before it, as OWASP advises
// (CSV Injection): a name that somebody typed must not be worked out on somebody else's computer. Numbers are no texts.
func cellText(cell any) string {
	switch v := cell.(type) {
	case string:
		if strings.ContainsAny(firstOf(v), "=+-@\t\r\n") {
			return "'" + v
		}
		return v
	case *time.Time:
		if v == nil {
			return ""
		}
		return v.UTC().Format(time.RFC3339)
	case time.Time:
		if v.IsZero() {
			return ""
		}
		return v.UTC().Format(time.RFC3339)
	case *float64:
		if v == nil {
			return ""
		}
		return fmt.Sprint(*v)
	}
	return fmt.Sprint(cell)
}

func firstOf(text string) string { return text[:min(1, len(text))] }

// sendFile sends a list page by page. What goes wrong before the first line is told as ever; later the connection breaks off, so that
// nobody takes half of a list for all of it.
func sendFile[Line any](s *Server, c *gin.Context, name string, columns []string, read func(cursor string) ([]Line, string, error), cells func(*Line) []any) {
	lines, next, err := read("")
	if err != nil {
		s.fail(c, err)
		return
	}
	f, err := beginFile(c, name, columns)
	for err == nil {
		_ = f.control.SetWriteDeadline(time.Now().Add(fileWriting)) // a recorder in a test has none
		for i := range lines {
			if err = f.add(lines[i], cells(&lines[i])); err != nil {
				break
			}
		}
		if err != nil || next == "" || f.lines >= mostFileLines {
			break
		}
		lines, next, err = read(next)
	}
	if err == nil {
		err = f.end(next != "")
	}
	if err != nil {
		if !errors.Is(err, c.Request.Context().Err()) {
			s.Log.Warn("a list broke off while it was sent", "list", name, "error", err)
		}
		panic(http.ErrAbortHandler)
	}
}

// sendAll sends a list that is whole.
func sendAll[Line any](s *Server, c *gin.Context, name string, columns []string, lines []Line, cells func(*Line) []any) {
	sendFile(s, c, name, columns, func(string) ([]Line, string, error) { return lines, "", nil }, cells)
}

// knownFile refuses a file of another kind.
func knownFile(c *gin.Context) error {
	if as := c.Query("as"); as != "" && as != "csv" && as != "json" {
		return review.Invalidf("as", "must be csv or json")
	}
	return nil
}
