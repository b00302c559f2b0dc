package web

import (
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

const (
	// mostToldLines is how many characters a list that is typed may name, and mostTold its length in characters of text.
	mostToldLines = 200
	mostTold      = 8000
)

// readTold reads what somebody told of a specimen, one character a line: its id or its label, a colon (an equals sign, a tab), the id
// or the label of the state, or a number. Empty lines are none. Each line that cannot be read is a problem of the field.
func readTold(judge *judgement.Judge, text string, problems *review.Problems, field string) []judgement.Stated {
	if len([]rune(text)) > mostTold {
		problems.Addf(field, "is longer than %d characters; leave out what is no character of the beetle", mostTold)
		return nil
	}
	lines := strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n")
	if len(lines) > mostToldLines {
		problems.Addf(field, "has more than %d lines; one for each character is enough", mostToldLines)
		return nil
	}
	var told []judgement.Stated
	said := map[string]bool{}
	for n, line := range lines {
		if strings.TrimSpace(line) == "" {
			continue
		}
		stated, problem := readToldLine(judge, line)
		if problem == "" && said[stated.Character] {
			problem = "says something of " + stated.Character + " a second time"
		}
		if problem != "" {
			problems.Addf(field, "line %d %s", n+1, problem)
			continue
		}
		said[stated.Character] = true
		told = append(told, stated)
	}
	return told
}

// readToldLine reads one line; the problem goes on after its number.
func readToldLine(judge *judgement.Judge, line string) (stated judgement.Stated, problem string) {
	at := strings.LastIndexAny(line, ":=\t")
	if at < 0 {
		return stated, "has no colon between character and state"
	}
	name, state := strings.TrimSpace(line[:at]), strings.TrimSpace(line[at+1:])
	c := characterNamed(judge.Tables(), name)
	if c == nil {
		return stated, "names no character of these tables: " + name
	}
	stated = judgement.Stated{Character: c.ID, State: stateNamed(c, state)}
	if err := judge.CheckState(stated.Character, stated.State); err != nil {
		return stated, "cannot be taken: " + err.Error()
	}
	return stated, ""
}

// characterNamed is the character of that id or label; nil for none.
func characterNamed(t *diagnosis.Tables, name string) *diagnosis.Character {
	for i := range t.Characters {
		if c := &t.Characters[i]; strings.EqualFold(c.ID, name) || strings.EqualFold(c.Label, name) {
			return c
		}
	}
	return nil
}

// stateNamed is the id of the state of that id or label, and what was written where there is none.
func stateNamed(c *diagnosis.Character, written string) string {
	for _, s := range c.States {
		if strings.EqualFold(s.ID, written) || strings.EqualFold(s.Label, written) {
			return s.ID
		}
	}
	return review.TypedDecimal(written)
}
