package diagnosis

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// Problem is something wrong in the tables: where, what, and how to mend it.
type Problem struct {
	File    string // slash-separated, relative to the folder of the group
	Line    int    // from 1; 0 where the problem is not in a line, such as a missing file
	Message string
}

// String returns "file:line: message", or "file: message" where there is no line.
func (p Problem) String() string {
	if p.Line == 0 {
		return p.File + ": " + p.Message
	}
	return fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.Message)
}

func sortProblems(problems []Problem) {
	slices.SortStableFunc(problems, func(a, b Problem) int {
		return cmp.Or(strings.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), strings.Compare(a.Message, b.Message))
	})
}

// editDistance is the Levenshtein distance: insertions, deletions and replacements of letters.
func editDistance(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i := range from {
		diagonal := row[0]
		row[0] = i + 1
		for j := range to {
			cost := diagonal
			if from[i] != to[j] {
				cost = 1 + min(diagonal, row[j], row[j+1])
			}
			diagonal, row[j+1] = row[j+1], cost
		}
	}
	return row[len(to)]
}
