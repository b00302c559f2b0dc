package judgement

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// readFact is a row of read_facts.csv, what one document says of one state.
type readFact struct{ family, character, state, scope, source string }

func readFactOf(row map[string]string) readFact {
	return readFact{row["family"], row["character"], row["state"], row["scope"], row["source"]}
}

func (f readFact) String() string {
	return fmt.Sprintf("%s, %s, %s (%s; %s)", f.family, f.character, f.state, f.scope, f.source)
}

// part is what read_facts_within.csv says of a scope that is less than a form: the state must be possible in the family.
const part = "part"

// readFacts are the rows of read_facts.csv and read_more.csv in the terms of the tables, each with its key. read_facts_within.csv says which forms or sex a scope
// is, and of which forms a source speaks that has the family in a narrower sense.
func readFacts(t *testing.T) map[readFact]oneFact {
	t.Helper()
	within := map[[3]string]string{}
	for _, row := range csvRows(t, "read_facts_within.csv") {
		within[[3]string{row["family"], row["scope"], row["source"]}] = row["within"]
	}
	facts := map[readFact]oneFact{}
	rows := csvRows(t, "read_facts.csv")
	require.Len(t, rows, 1087)
	for _, row := range append(rows, csvRows(t, "read_more.csv")...) {
		key := readFactOf(row)
		require.NotContains(t, facts, key)
		scope, listed := within[[3]string{key.family, key.scope, ""}]
		require.True(t, listed || key.scope == "", "%s: read_facts_within.csv does not know the scope", key)
		if key.scope == "" {
			scope = within[[3]string{key.family, "", key.source}]
		}
		facts[key] = oneFact{factKey: factKey{key.family, key.character, key.state}, modifier: row["modifier"], core: key.character,
			states: statesRead(t, key, row["modifier"]), within: scope}
	}
	return facts
}

// statesRead are the states that a document's word stands for. "Clubbed" leaves open how abruptly the club begins, and
// "notched" how deep the notch is.
func statesRead(t *testing.T, f readFact, modifier string) string {
	t.Helper()
	c, ok := diagnosis.Default().Character(f.character)
	require.True(t, ok, f.character)
	regular := modifier == "always" || modifier == "usually"
	switch {
	case c.Kind == diagnosis.KindLength:
		low, _, isRange := strings.Cut(f.state, "-")
		if !isRange {
			return low + "-" + low
		}
	case c.Kind == diagnosis.KindCount:
		first, last, isRange := strings.Cut(f.state, "-")
		if isRange {
			return strings.Join(numbersBetween(t, c, first, last), "|")
		}
	case f.character == "antenna-form" && regular && (f.state == "clavate" || f.state == "capitate"):
		return "clavate|capitate"
	case f.character == "eyes" && f.state == "notched":
		return "notched|kidney-shaped"
	}
	return f.state
}

func numbersBetween(t *testing.T, c *diagnosis.Character, first, last string) []string {
	t.Helper()
	from, to := c.State(first), c.State(last)
	require.True(t, from >= 0 && from <= to, "%s: %s-%s", c.ID, first, last)
	var ids []string
	for _, s := range c.States[from : to+1] {
		ids = append(ids, s.ID)
	}
	return ids
}

// readBand is like shareBand, with one word more, and less strict where outlines overlap: a source's "oval" leaves room for
// what else strikes the eye. Judged, no source.
func readBand(t *testing.T, f oneFact) [2]float64 {
	t.Helper()
	regular := f.modifier == "always" || f.modifier == "usually"
	outline := f.core == "body-form" || f.core == "body-profile"
	switch {
	case f.within == part:
		return [2]float64{1e-6, 1}
	case outline && regular:
		return [2]float64{0.2, 1}
	case outline && f.modifier == "often":
		return [2]float64{0.05, 1}
	case f.modifier == "often":
		return [2]float64{0.1, 0.9}
	}
	band, known := shareBand[f.modifier]
	require.True(t, known, f.modifier)
	return band
}

// compareRead says what the tables have for what was read, and whether that agrees.
func (f oneFact) compareRead(t *testing.T, tables *diagnosis.Tables) (says string, agrees bool) {
	t.Helper()
	family, _, ok := tables.Resolve(f.family)
	require.True(t, ok, f.family)
	c, ok := tables.Character(f.core)
	require.True(t, ok, f.core)
	forms := family.Forms
	if f.within != part && f.within != "all" {
		forms = f.forms(family)
	}
	require.NotEmpty(t, forms, f.factKey)
	if c.Kind == diagnosis.KindLength {
		says, agrees = f.compareLength(t, forms)
		if f.within == part || f.modifier == "sometimes" || f.modifier == "rarely" {
			low, high := f.millimetres(t)
			least, most := lengthRange(forms, f.core)
			agrees = low >= least*(1-lengthSlack) && high <= most*(1+lengthSlack)
		}
		return says, agrees
	}
	share, known := shareIn(forms, c, strings.Split(f.states, "|"))
	if !known {
		return "nothing", false
	}
	band := readBand(t, f)
	return fmt.Sprintf("%s %s %.2f", f.core, f.fact, share), share >= band[0]-1e-9 && share <= band[1]+1e-9
}

func shareIn(forms []diagnosis.Form, c *diagnosis.Character, states []string) (share float64, known bool) {
	weights := 0.0
	for _, form := range forms {
		cell := form.Cells[c.ID]
		if cell == nil {
			return 0, false
		}
		weights += form.Weight
		for _, s := range states {
			share += form.Weight * cell.P[c.State(s)]
		}
	}
	return share / weights, true
}

// TestReadFacts compares what was read in documents with the cells of the shipped tables. Where the tables keep something
// else, read_facts_kept.csv says why, and the note of the cell as well.
func TestReadFacts(t *testing.T) {
	tables := diagnosis.Default()
	kept := map[readFact]string{}
	for _, row := range csvRows(t, "read_facts_kept.csv") {
		require.NotEmpty(t, row["why"], row)
		kept[readFactOf(row)] = row["tables_say"]
		requireNoted(t, tables, row)
	}
	facts, agreed := readFacts(t), 0
	for key, f := range facts {
		says, agrees := f.compareRead(t, tables)
		reason, listed := kept[key]
		delete(kept, key)
		switch {
		case agrees && listed:
			t.Errorf("%s is in read_facts_kept.csv, but the tables agree with it now: remove it there", key)
		case agrees:
			agreed++
		case !listed:
			t.Errorf("%s, %s: the tables say %s; mend the cell, or say why they keep it in read_facts_kept.csv", key, f.modifier, says)
		default:
			require.Equal(t, reason, says, "%s: what the tables say has changed", key)
		}
	}
	require.Empty(t, kept, "in read_facts_kept.csv, but nobody has read it")
	t.Logf("%d of %d facts that were read agree", agreed, len(facts))
}

// requireNoted: why the tables keep a cell against what was read stands in a note of that cell, too.
func requireNoted(t *testing.T, tables *diagnosis.Tables, row map[string]string) {
	t.Helper()
	family, _, ok := tables.Resolve(row["family"])
	require.True(t, ok, row["family"])
	cells := []*diagnosis.Cell{family.Cells[row["character"]]}
	for _, form := range family.Forms {
		cells = append(cells, form.Cells[row["character"]])
	}
	noted := slices.ContainsFunc(cells, func(c *diagnosis.Cell) bool { return c != nil && c.Note != "" })
	require.True(t, noted, "%s, %s: no note says why the cell is kept", row["family"], row["character"])
}
