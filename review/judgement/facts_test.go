package judgement

import (
	"encoding/csv"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// csvRows reads a file of testdata/beetles as maps from column to value.
func csvRows(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open("testdata/beetles/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err, name)
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, column := range rows[0] {
			m[column] = row[i]
		}
		out = append(out, m)
	}
	return out
}

// factKey names a row of facts.csv.
type factKey struct{ family, character, fact string }

func (k factKey) String() string { return k.family + ", " + k.character + ", " + k.fact }

// oneFact is a fact in the terms of the tables.
type oneFact struct {
	factKey
	modifier string
	core     string // character id
	states   string // ids joined by |, or a range of millimetres
	within   string // "", male, female, or form ids joined by |
}

// shareBand is the part of the family that may show what a fact says, by its modifier. Judged, no source: the words of
// handbooks are not numbers, and "usually" of a regional book is less of the world.
var shareBand = map[string][2]float64{
	"always":    {0.85, 1},
	"usually":   {0.4, 1},
	"sometimes": {0.02, 0.65},
	"rarely":    {1e-6, 0.15},
	"never":     {0, 0},
}

// TestFacts compares every fact that the vocabulary can express with the cells of the shipped tables. Where the tables
// keep another value, facts_kept.csv says why.
func TestFacts(t *testing.T) {
	tables := diagnosis.Default()
	kept := map[factKey]string{}
	for _, row := range csvRows(t, "facts_kept.csv") {
		kept[keyOf(row)] = row["tables_say"]
		require.NotEmpty(t, row["why"], row)
	}
	facts := expressible(t)
	agreed := 0
	for _, f := range facts {
		says, agrees := f.compare(t, tables)
		if agrees {
			agreed++
			continue
		}
		key := f.factKey
		reason, listed := kept[key]
		if !listed {
			t.Errorf("%s (%s): the tables say %s; mend the cell, or say why they keep it in facts_kept.csv", key, f.modifier, says)
			continue
		}
		require.Equal(t, reason, says, "%s: what the tables say has changed", key)
		delete(kept, key)
	}
	for key := range kept {
		t.Errorf("%s is in facts_kept.csv, but the tables agree with it now: remove it there", key)
	}
	t.Logf("%d of %d expressed facts agree", agreed, len(facts))
}

func keyOf(row map[string]string) factKey {
	return factKey{row["family"], row["character"], row["fact"]}
}

// expressible returns the facts that a character of the tables records, and checks that every other one is listed.
func expressible(t *testing.T) []oneFact {
	t.Helper()
	modifiers := map[factKey]string{}
	for _, row := range csvRows(t, "facts.csv") {
		key := factKey{row["family"], row["character"], row["state_or_value"]}
		require.NotContains(t, modifiers, key)
		modifiers[key] = row["modifier"]
	}
	require.Len(t, modifiers, 383)
	done := map[factKey]bool{}
	var facts []oneFact
	for _, row := range csvRows(t, "facts_mapped.csv") {
		key := keyOf(row)
		require.Contains(t, modifiers, key)
		done[key] = true
		facts = append(facts, oneFact{key, modifiers[key], row["core_character"], row["states"], row["within"]})
	}
	for _, row := range csvRows(t, "facts_unmapped.csv") {
		key := keyOf(row)
		require.Contains(t, modifiers, key)
		require.False(t, done[key], "%s is both mapped and unmapped", key)
		require.NotEmpty(t, row["why"], key)
		done[key] = true
	}
	for key := range modifiers {
		require.True(t, done[key], "%s stands neither in facts_mapped.csv nor in facts_unmapped.csv", key)
	}
	return facts
}

// compare says what the tables have for a fact, and whether that agrees.
func (f oneFact) compare(t *testing.T, tables *diagnosis.Tables) (says string, agrees bool) {
	t.Helper()
	family, _, ok := tables.Resolve(f.family)
	require.True(t, ok, f.family)
	c, ok := tables.Character(f.core)
	require.True(t, ok, f.core)
	forms := f.forms(family)
	require.NotEmpty(t, forms, f.factKey)
	if c.Kind == diagnosis.KindLength {
		return f.compareLength(t, forms)
	}
	sum, weights := 0.0, 0.0
	for _, form := range forms {
		cell := form.Cells[f.core]
		if cell == nil {
			return "nothing", false
		}
		weights += form.Weight
		for _, s := range strings.Split(f.states, "|") {
			i := c.State(s)
			require.GreaterOrEqual(t, i, 0, "%s: %s", f.core, s)
			sum += form.Weight * cell.P[i]
		}
	}
	share := sum / weights
	band, known := shareBand[f.modifier]
	require.True(t, known, f.modifier)
	return fmt.Sprintf("%s %s %.2f", f.core, f.states, share), share >= band[0] && share <= band[1]+1e-9
}

// forms are those that the fact is about.
func (f oneFact) forms(family *diagnosis.Family) []diagnosis.Form {
	if f.within == "" || f.within == "male" || f.within == "female" {
		return FormsOf(family, f.within)
	}
	var forms []diagnosis.Form
	for _, id := range strings.Split(f.within, "|") {
		for _, form := range family.Forms {
			if form.ID == id {
				forms = append(forms, form)
			}
		}
	}
	return forms
}

// compareLength: the range must be possible in the family and share the most of its usual lengths. Regional books know
// less than the world, so that their "always" and "usually" are the same here.
func (f oneFact) compareLength(t *testing.T, forms []diagnosis.Form) (string, bool) {
	t.Helper()
	low, high := f.millimetres(t)
	least, most := lengthRange(forms, f.core)
	usual := forms[0].Cells[f.core].Length.Usual
	for _, form := range forms {
		u := form.Cells[f.core].Length.Usual
		usual = [2]float64{min(usual[0], u[0]), max(usual[1], u[1])}
	}
	says := fmt.Sprintf("%g to %g mm, usually %g to %g", least, most, usual[0], usual[1])
	possible := high == 0 || low >= least*(1-lengthSlack) && high <= most*(1+lengthSlack)
	return says, possible && low <= usual[1] && (high == 0 || high >= usual[0])
}

// millimetres reads "1.5-50", or "4-" for over 4, where high is 0.
func (f oneFact) millimetres(t *testing.T) (low, high float64) {
	t.Helper()
	from, to, _ := strings.Cut(f.states, "-")
	low, err := strconv.ParseFloat(from, 64)
	require.NoError(t, err, f.states)
	if to != "" {
		high, err = strconv.ParseFloat(to, 64)
		require.NoError(t, err, f.states)
	}
	return low, high
}

// TestBodyLengths: the 690 species of Gossner et al. 2015 lie within the extremes of their family, but for those listed.
func TestBodyLengths(t *testing.T) {
	tables := diagnosis.Default()
	kept := map[string]bool{}
	for _, row := range csvRows(t, "body_length_kept.csv") {
		require.NotEmpty(t, row["why"], row)
		kept[row["species"]] = true
	}
	rows := csvRows(t, "body_length.csv")
	require.Len(t, rows, 690)
	for _, row := range rows {
		family, _, ok := tables.Resolve(row["family_as_published"])
		require.True(t, ok, row["family_as_published"])
		length, err := strconv.ParseFloat(row["body_length_mm"], 64)
		require.NoError(t, err)
		least, most := lengthRange(family.Forms, "body-length-mm")
		inside := length >= least && length <= most
		if inside == kept[row["species"]] {
			t.Errorf("%s (%s) measures %g mm, the tables say %g to %g; listed as kept: %v",
				row["species"], family.Name, length, least, most, kept[row["species"]])
		}
		delete(kept, row["species"])
	}
	require.Empty(t, kept, "listed in body_length_kept.csv, but no such species")
}

func lengthRange(forms []diagnosis.Form, character string) (shortest, longest float64) {
	shortest, longest = forms[0].Cells[character].Length.Min, forms[0].Cells[character].Length.Max
	for _, form := range forms {
		shortest = min(shortest, form.Cells[character].Length.Min)
		longest = max(longest, form.Cells[character].Length.Max)
	}
	return shortest, longest
}
