package review

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// MostOfTray is how many specimens are begun at once.
const MostOfTray = 60

// run is two numbers with what lies between them: "AB-101 to AB-140", "AB-101 bis AB-140", "101-140".
var run = regexp.MustCompile(`^(.*?)(\d{1,9})\s*(?:–|—|-| to | bis |\.\.)\s*(.*?)(\d{1,9})$`)

// TrayNumbers are the catalogue numbers of a tray, as they are typed: one a line or between commas, or the first and the last of a
// run, which have the same beginning. It is a KindInvalid error where there is none, more than MostOfTray, one twice, or a run
// that is none.
func TrayNumbers(typed string) ([]string, error) {
	var all []string
	var p Problems
	for _, line := range strings.FieldsFunc(typed, func(r rune) bool { return r == '\n' || r == ',' || r == ';' }) {
		line = strings.TrimSpace(line)
		if line == "" {
			continue
		}
		numbers, err := numbersOf(line)
		if err != nil {
			p.Addf("numbers", "%s", err)
			continue
		}
		all = append(all, numbers...)
	}
	for i, number := range all {
		if slices.Contains(all[:i], number) {
			p.Addf("numbers", "%s stands there twice", number)
		}
	}
	if len(all) == 0 && len(p) == 0 {
		p.Addf("numbers", "give at least one number")
	}
	if len(all) > MostOfTray {
		p.Addf("numbers", "are %d; at most %d at once", len(all), MostOfTray)
	}
	return all, p.Err()
}

// numbersOf is one line: a run where the second number goes on from the first, else the line itself.
func numbersOf(line string) ([]string, error) {
	m := run.FindStringSubmatch(line)
	if m == nil {
		return []string{line}, nil
	}
	prefix, first, again, last := m[1], m[2], strings.TrimSpace(m[3]), m[4]
	if again != "" && again != strings.TrimSpace(prefix) {
		return []string{line}, nil // a number such as 2026-B12
	}
	from, _ := strconv.Atoi(first) // at most nine digits
	to, _ := strconv.Atoi(last)
	if to <= from && (again != "" || prefix == "") {
		return nil, fmt.Errorf("%s does not go from a lower number to a higher one", line)
	}
	if to <= from {
		return []string{line}, nil // a number such as AB-101-2
	}
	if to-from >= MostOfTray {
		return nil, fmt.Errorf("%s are %d; at most %d at once", line, to-from+1, MostOfTray)
	}
	var all []string
	for n := from; n <= to; n++ {
		all = append(all, fmt.Sprintf("%s%0*d", prefix, len(first), n))
	}
	return all, nil
}
