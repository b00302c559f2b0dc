package inventory

import (
	"errors"
	"io"
	"strings"

	"revidit/review"
	"revidit/review/delimited"
)

// separators in the order in which they are tried: of two that fit alike the earlier one is taken.
var separators = []string{"\t", ";", ",", "|"}

// sampled rows are looked at to find out what stands between cells.
const sampled = 60

// readCSV cuts text into rows. A spreadsheet's line "sep=;" is taken at its word.
func (t *Table) readCSV(text, wanted string, limits Limits) error {
	lines := lineEnds(text)
	if separator, ok := strings.CutPrefix(firstLine(text), "sep="); ok && len(separator) == 1 {
		text, t.shift = text[len("sep=x"):], 1
		text = strings.TrimPrefix(strings.TrimPrefix(text, "\r"), "\n")
		if wanted == "" {
			wanted = separator
		}
	}
	if wanted == "" {
		wanted = separatorOf(text, lines)
	}
	t.Separator = wanted
	rows := delimited.New(text, delimited.Dialect{Terminated: wanted, Lines: lines, Enclosed: `"`})
	for {
		fields, n, err := rows.Next()
		if err == io.EOF {
			return nil
		}
		row := Row{Number: n + rows.Empty() + t.shift}
		switch {
		case errors.Is(err, delimited.ErrOpen):
			row.Fault = review.FaultOpen
		case errors.Is(err, delimited.ErrLong):
			row.Fault = review.FaultLong
		case err != nil:
			row.Fault = review.FaultText
		}
		for _, f := range fields {
			row.Cells = append(row.Cells, Cell{Text: strings.TrimSpace(f)})
		}
		if err := t.add(row, limits); err != nil {
			return err
		}
	}
}

func firstLine(text string) string {
	line, _, _ := strings.Cut(text, "\n")
	return strings.TrimSuffix(line, "\r")
}

// lineEnds are those of Unix and Windows, or the old ones of the Macintosh where there are no others.
func lineEnds(text string) string {
	if strings.Contains(text, "\n") || !strings.Contains(text, "\r") {
		return "\n"
	}
	return "\r"
}

// separatorOf is what cuts the first rows into the most cells, as many in each.
func separatorOf(text, lines string) string {
	best, most := ",", 0
	for _, separator := range separators {
		rows := delimited.New(text, delimited.Dialect{Terminated: separator, Lines: lines, Enclosed: `"`})
		counts := map[int]int{}
		for range sampled {
			fields, _, err := rows.Next()
			if err == io.EOF {
				break
			}
			if err == nil {
				counts[len(fields)]++
			}
		}
		for cells, times := range counts {
			if weight := (cells - 1) * times * times; weight > most {
				best, most = separator, weight
			}
		}
	}
	return best
}
