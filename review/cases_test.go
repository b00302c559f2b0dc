package review

import (
	"bufio"
	"encoding/json"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// specimenCase is a line of testdata/cases.jsonl: from memory, common practice, no source.
type specimenCase struct {
	Species      string
	Family       string
	Kind         string // plain, odd or look-alike
	Proposed     string // look-alike: the wrong family; else the true one
	Sex          string
	Observations map[string]any
}

func (c specimenCase) evidence() Evidence {
	e := Evidence{Family: c.Proposed, Sex: c.Sex}
	if e.Family == "" {
		e.Family = c.Family
	}
	for character, state := range c.Observations {
		e.Stated = append(e.Stated, Stated{Character: character, State: stateText(state)})
	}
	return e
}

func stateText(v any) string {
	if n, ok := v.(json.Number); ok {
		return n.String()
	}
	return v.(string)
}

func readCases(t *testing.T) []specimenCase {
	t.Helper()
	file, err := os.Open("testdata/cases.jsonl")
	require.NoError(t, err)
	defer file.Close()
	var cases []specimenCase
	lines := bufio.NewScanner(file)
	for lines.Scan() {
		var c specimenCase
		decoder := json.NewDecoder(strings.NewReader(lines.Text()))
		decoder.UseNumber()
		decoder.DisallowUnknownFields()
		require.NoError(t, decoder.Decode(&c), lines.Text())
		cases = append(cases, c)
	}
	require.NoError(t, lines.Err())
	require.Greater(t, len(cases), 150)
	return cases
}

// TestCases judges species on the shipped tables. A family is never excluded for one of its own, a plain specimen draws
// no flag, a look-alike under the wrong name does, and at least nine in ten rank first under their own.
func TestCases(t *testing.T) {
	j := NewJudge(diagnosis.Default())
	var wrong []string
	first, ranked := 0, 0
	for _, c := range readCases(t) {
		e := c.evidence()
		for _, s := range e.Stated {
			require.NoError(t, j.CheckState(s.Character, s.State), c.Species)
		}
		a := j.Assess(e)
		if problem := c.problem(a); problem != "" {
			wrong = append(wrong, c.Species+" as "+e.Family+": "+problem)
		}
		if c.Kind == "look-alike" {
			continue
		}
		ranked++
		if a.Ranking[0].Family == c.Family {
			first++
			continue
		}
		t.Logf("%s (%s) ranks %s first: %v", c.Species, c.Family, a.Ranking[0].Family, a.Ranking[:3])
	}
	require.Empty(t, wrong, strings.Join(wrong, "\n"))
	require.GreaterOrEqual(t, float64(first), 0.9*float64(ranked), "only %d of %d rank their family first", first, ranked)
}

// problem is what the flags get wrong, or "".
func (c specimenCase) problem(a Assessment) string {
	excluded := slices.ContainsFunc(a.Contradictions, func(c Contradiction) bool { return c.Kind == Excluded })
	switch {
	case c.Kind == "plain" && len(a.Contradictions) > 0:
		return "plain, yet " + strings.Join(flags(a), ", ")
	case c.Kind == "odd" && excluded:
		return "odd, yet " + strings.Join(flags(a), ", ")
	case c.Kind == "look-alike" && len(a.Contradictions) == 0:
		return "the wrong name draws no flag"
	case !slices.Contains([]string{"plain", "odd", "look-alike"}, c.Kind):
		return "unknown kind " + c.Kind
	}
	return ""
}
