package confidence

import (
	"encoding/binary"
	"math"
)

// compiled is one character. Forms with the same cell share a row: of hundreds of forms only dozens differ in a
// character, and what is the same for all forms of a row is computed once. Row i of a matrix starts at i*states, column s
// of one in columns at s*rows.
type compiled struct {
	kind   Kind
	states int
	// misreading(r | s) at s*states+r. Nominal and Count: of an error, so 0 where r = s. Length: of a measurement.
	misreading []float64
	readAs     []float64 // the same in columns: at r*states+s
	agreeing   []float64 // Length only: P(the own reading confirms a | s) at a*states+s
	readings   []reading // by reader; readers beyond them read every state alike
	lean       []float64 // by state: 1 where it is striking, −1 beside such ones; nil where none is
	shared     []float64 // by state: the probability of misleading everybody alike
	background []float64

	rows    int
	row     []int32   // by form
	uniform []uniform // hypotheses whose forms share a row
	varied  []varied  // all others
	cells   []float64 // p(s | row)
	// What one report by somebody who is right (rightly) or wrong (wrongly) at every state alike would be, p(r | row), with
	// the shared error and, for Length, the measuring error in both.
	rightly, wrongly               []float64
	rightlyColumns, wronglyColumns []float64
	// shownColumns are, in columns, what all who look have before their eyes: rightly, and for a length the cells.
	shownColumns []float64
	whole        []float64 // by row: the sum over the states shown, 1 but for rounding
	entropy      []float64 // Length only, by row: Σ_r rightly(r) · ln rightly(r)
}

// uniform is a hypothesis whose forms share a row.
type uniform struct{ hypothesis, row int32 }

// varied is a hypothesis with the row that most of its forms have, and those that have another.
type varied struct {
	hypothesis, row int32
	others          []int32
}

func compile(spec Spec, c int) compiled {
	character := spec.Characters[c]
	out := newCompiled(character, spec.SharedError)
	out.background = background(spec, c)
	rows := map[string]int32{}
	for i, h := range spec.Hypotheses {
		for _, f := range h.Forms {
			out.addForm(f.Cells[c], spec, rows)
		}
		out.addHypothesis(i, len(h.Forms))
	}
	out.addForm(nil, spec, rows)
	out.addHypothesis(len(spec.Hypotheses), 1)
	out.addColumns()
	out.prepare(spec.Readers, exponentsOf(spec.Dependent, c))
	return out
}

// newCompiled is what does not depend on forms.
func newCompiled(character Character, shared float64) compiled {
	c := compiled{kind: character.Kind, states: character.States, misreading: misreading(character),
		readings: readingsOf(character), lean: leanOf(character), shared: sharedErrors(character, shared)}
	c.readAs = transposed(c.misreading, c.states)
	if c.kind == Length {
		c.agreeing = c.agreements()
	}
	return c
}

func (c *compiled) addForm(cell []float64, spec Spec, rows map[string]int32) {
	row := c.background
	if cell != nil {
		row = blend(cell, c.background, spec.TableError)
	}
	key := bytesOf(row)
	i, known := rows[key]
	if !known {
		i = int32(c.rows)
		rows[key] = i
		c.addRow(row)
	}
	c.row = append(c.row, i)
}

// addHypothesis notes what the last forms, which are those of one hypothesis, have in common.
func (c *compiled) addHypothesis(h, forms int) {
	begin := len(c.row) - forms
	rows := c.row[begin:]
	usual, most := rows[0], 0
	for _, row := range rows {
		if n := count(rows, row); n > most {
			usual, most = row, n
		}
	}
	var others []int32
	for i, row := range rows {
		if row != usual {
			others = append(others, int32(begin+i))
		}
	}
	if len(others) == 0 {
		c.uniform = append(c.uniform, uniform{int32(h), usual})
		return
	}
	c.varied = append(c.varied, varied{int32(h), usual, others})
}

func count(rows []int32, row int32) int {
	n := 0
	for _, other := range rows {
		if other == row {
			n++
		}
	}
	return n
}

func bytesOf(row []float64) string {
	text := make([]byte, 0, 8*len(row))
	for _, p := range row {
		text = binary.LittleEndian.AppendUint64(text, math.Float64bits(p))
	}
	return string(text)
}

func (c *compiled) addRow(row []float64) {
	c.rows++
	c.cells = append(c.cells, row...)
	switch {
	case c.kind == Length:
		measured := c.misled(row)
		c.rightly = append(c.rightly, measured...)
		c.entropy = append(c.entropy, sumOfLogs(measured))
	case c.states == 1:
		c.rightly, c.wrongly = append(c.rightly, row...), append(c.wrongly, row...)
	default:
		shown := c.appearance(row)
		c.rightly = append(c.rightly, shown...)
		c.wrongly = append(c.wrongly, c.misled(shown)...)
	}
}

func (c *compiled) addColumns() {
	c.rightlyColumns = transposed(c.rightly, c.states)
	c.shownColumns = c.rightlyColumns
	if c.kind == Length {
		c.wrongly = c.rightly
		c.shownColumns = transposed(c.cells, c.states)
	}
	c.wronglyColumns = transposed(c.wrongly, c.states)
	c.whole = make([]float64, c.rows)
	for s := range c.states {
		addScaled(c.whole, c.shownColumns[s*c.rows:], 1)
	}
}

// transposed turns rows of a matrix into columns.
func transposed(matrix []float64, width int) []float64 {
	out := make([]float64, len(matrix))
	rows := len(matrix) / width
	for i, v := range matrix {
		out[i%width*rows+i/width] = v
	}
	return out
}

// at is where the row of a form begins in a matrix.
func (c *compiled) at(form int) int { return int(c.row[form]) * c.states }

// blend is (1 − share) · a + share · b.
func blend(a, b []float64, share float64) []float64 {
	out := make([]float64, len(a))
	for i := range out {
		out[i] = (1-share)*a[i] + share*b[i]
	}
	return out
}

// misled is Σ_s p(s) · misreading(r | s).
func (c *compiled) misled(p []float64) []float64 {
	out := make([]float64, c.states)
	for s, share := range p {
		addScaled(out, c.misreading[s*c.states:], share)
	}
	return out
}

// addScaled adds factor · x to out, which may be the shorter one.
func addScaled(out, x []float64, factor float64) {
	x = x[:len(out)]
	for i := range out {
		out[i] += factor * x[i]
	}
}

func background(spec Spec, c int) []float64 {
	k := spec.Characters[c].States
	mean := make([]float64, k)
	sum := 0.0
	for _, h := range spec.Hypotheses {
		for _, f := range h.Forms {
			for s, p := range f.Cells[c] {
				mean[s] += h.Prior * f.Weight * p
				sum += h.Prior * f.Weight * p
			}
		}
	}
	for s := range mean {
		if sum == 0 {
			mean[s] = 1 / float64(k)
			continue
		}
		mean[s] = (1-backgroundUniform)*mean[s]/sum + backgroundUniform/float64(k)
	}
	return mean
}
