package benchmark

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// What turns the tables into plain distributions, as much as this comparison needs: a prior for a family that is not in
// the tables, the share of the background in each row, and the uniform share of the background.
const (
	nonePrior         = 0.02
	tableError        = 0.01
	backgroundUniform = 0.1
)

// Table is what a naive Bayes classifier without forms and without errors of reading knows of the most widely coded
// characters. Classes are the families and, as the last one, none of them.
type Table struct {
	Characters []*diagnosis.Character
	Prior      []float64     // by class, summing to 1
	P          [][][]float64 // by character, class and state, each row above 0 and summing to 1
}

// NewTable takes the given number of characters with states or counts that the most families have a cell for.
func NewTable(tables *diagnosis.Tables, characters int) *Table {
	t := &Table{Characters: common(tables, characters)}
	weights := make([]float64, len(tables.Families))
	sum := 0.0
	for i, f := range tables.Families {
		weights[i] = math.Sqrt(float64(max(f.Species, 1)))
		sum += weights[i]
	}
	for i := range weights {
		weights[i] /= sum
		t.Prior = append(t.Prior, (1-nonePrior)*weights[i])
	}
	t.Prior = append(t.Prior, nonePrior)
	for _, c := range t.Characters {
		t.P = append(t.P, rows(tables, c, weights))
	}
	return t
}

// common takes the most widely coded character of each body region in turn, then the second of each, and so on: people
// look all over a specimen.
func common(tables *diagnosis.Tables, n int) []*diagnosis.Character {
	known := map[string]int{}
	var all []*diagnosis.Character
	for i := range tables.Characters {
		c := &tables.Characters[i]
		if c.Kind == diagnosis.KindLength || len(c.OnlyLive) > 0 {
			continue
		}
		all = append(all, c)
		known[c.ID] = knownBy(tables, c.ID)
	}
	slices.SortStableFunc(all, func(a, b *diagnosis.Character) int { return cmp.Compare(known[b.ID], known[a.ID]) })
	turn, ofRegion := map[string]int{}, map[string]int{}
	for _, c := range all {
		turn[c.ID] = ofRegion[c.Region]
		ofRegion[c.Region]++
	}
	slices.SortStableFunc(all, func(a, b *diagnosis.Character) int { return cmp.Compare(turn[a.ID], turn[b.ID]) })
	return all[:min(n, len(all))]
}

// knownBy is the number of families all of whose forms have a cell.
func knownBy(tables *diagnosis.Tables, character string) int {
	families := 0
	for _, f := range tables.Families {
		if !slices.ContainsFunc(f.Forms, func(form diagnosis.Form) bool { return form.Cells[character] == nil }) {
			families++
		}
	}
	return families
}

// rows are the distributions of one character by class: the mixture over the forms of a family, with a little of the
// background.
func rows(tables *diagnosis.Tables, c *diagnosis.Character, weights []float64) [][]float64 {
	var cells [][]float64
	var cellWeights []float64
	for i, f := range tables.Families {
		for _, form := range f.Forms {
			if cell := form.Cells[c.ID]; cell != nil {
				cells, cellWeights = append(cells, cell.P), append(cellWeights, weights[i]*form.Weight)
			}
		}
	}
	usual := background(cells, cellWeights)
	var out [][]float64
	for _, f := range tables.Families {
		row := make([]float64, len(c.States))
		for _, form := range f.Forms {
			p := usual
			if cell := form.Cells[c.ID]; cell != nil {
				p = cell.P
			}
			for s := range row {
				row[s] += form.Weight * ((1-tableError)*p[s] + tableError*usual[s])
			}
		}
		out = append(out, normalised(row))
	}
	return append(out, background(out, weights))
}

// background is the weighted mean of rows, mixed with a uniform row.
func background(rows [][]float64, weights []float64) []float64 {
	out := make([]float64, len(rows[0]))
	sum := 0.0
	for i, row := range rows {
		sum += weights[i]
		for s, p := range row {
			out[s] += weights[i] * p
		}
	}
	for s := range out {
		out[s] = (1-backgroundUniform)*out[s]/sum + backgroundUniform/float64(len(out))
	}
	return out
}

func normalised(row []float64) []float64 {
	sum := 0.0
	for _, p := range row {
		sum += p
	}
	for s := range row {
		row[s] /= sum
	}
	return row
}

// Model is our own model of the same table, with one form for each family and nobody ever wrong: its posterior must
// equal that of naive Bayes.
func (t *Table) Model() (*confidence.Model, error) {
	spec := confidence.Spec{None: nonePrior}
	for _, c := range t.Characters {
		spec.Characters = append(spec.Characters, confidence.Character{States: len(c.States)})
	}
	for h := range len(t.Prior) - 1 {
		form := confidence.Form{Weight: 1}
		for c := range t.Characters {
			form.Cells = append(form.Cells, t.P[c][h])
		}
		spec.Hypotheses = append(spec.Hypotheses, confidence.Hypothesis{Prior: t.Prior[h], Forms: []confidence.Form{form}})
	}
	return confidence.NewModel(spec)
}

// LogPrior are the natural logarithms of the priors.
func (t *Table) LogPrior() []float64 {
	out := make([]float64, len(t.Prior))
	for i, p := range t.Prior {
		out[i] = math.Log(p)
	}
	return out
}
