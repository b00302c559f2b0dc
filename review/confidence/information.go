package confidence

import "math"

// leftOut is the posterior probability of all forms together that Information may leave out, the least probable ones:
// after a few observations that is nearly all of them. It changes a result by less than leftOut · log2(n / leftOut) bits
// for n forms, 0.00025 bits for 260: each form left out takes at most w · log2(1/w) from the sums, which is largest where
// all are alike.
const leftOut = 1e-5

// looks is memory of Information.
type looks struct {
	weights  []float64 // by form: P(hypothesis, form | reports), 0 where it is left out
	masses   []float64 // by hypothesis: the sum m of the weights
	massLogs []float64 // by hypothesis: m · ln m
	mass     float64   // the sum of masses

	divided   []*varied // hypotheses with weight in several rows of a character
	usual     []float64 // by these: the weight in the usual row
	alone     []float64 // of one character, by row: the masses of hypotheses that have no other
	members   []int     // how many seen characters each dependence group has
	expecting []expecting
}

// expecting is what a person of some accuracy would report on a character. It is kept from one time to the next, because
// a person who looks at one specimen most often looks at more of them.
type expecting struct {
	reader   int
	accuracy float64
	leaning  float64
	reports  []float64 // P(report | row)
	sums     []float64 // by row: Σ_r p · ln p of the reports, or notYet where they are not worked out
}

// notYet is no sum of p · ln p, which are all below 0 or 0.
const notYet = 1

// Onlooker is who would look next: a kind of reader, with an accuracy for each character and a leaning in logits, 0 for nobody's
// (KnownLeaning).
type Onlooker struct {
	Reader   int
	Accuracy []float64
	Leaning  float64
}

// Information is, for each character that is not seen, the expected information in bits about the hypothesis from one
// report by an onlooker: the mutual information of hypothesis and report given all that is known, over the posterior of the
// forms. It is 0 for seen characters. A character that depends on a seen one counts with their exponent.
func (p *Posterior) Information(o Onlooker) []float64 {
	bits := make([]float64, len(p.model.characters))
	p.FillInformation(bits, o)
	return bits
}

// FillInformation is Information into bits, one for each character.
func (p *Posterior) FillInformation(bits []float64, o Onlooker) {
	o.Leaning = bounded(o.Leaning)
	m := p.model
	s := m.borrow()
	defer m.giveBack(s)
	l := &s.looks
	l.choose(p)
	l.members = m.members(l.members[:0], p.Seen, -1)
	if l.expecting == nil {
		l.expecting = make([]expecting, len(m.characters))
	}
	seen := p.Seen
	for c := range m.characters {
		if len(seen) > 0 && seen[0] == c {
			bits[c], seen = 0, seen[1:]
			continue
		}
		l.expecting[c].prepare(&m.characters[c], &o, unit(o.Accuracy[c]))
		bits[c] = l.information(m, c) * m.exponent(c, l.members, 1)
	}
}

// choose takes the forms that are not left out.
func (l *looks) choose(p *Posterior) {
	m := p.model
	l.weights = resized(l.weights, m.forms())
	for h, prob := range p.P {
		for f := m.first[h]; f < m.first[h+1]; f++ {
			l.weights[f] = prob * p.shares[f]
		}
	}
	least := leastWeight(l.weights)
	l.masses, l.massLogs, l.mass = resized(l.masses, len(p.P)), resized(l.massLogs, len(p.P)), 0
	for h := range p.P {
		mass := 0.0
		for f := m.first[h]; f < m.first[h+1]; f++ {
			if l.weights[f] < least {
				l.weights[f] = 0
			}
			mass += l.weights[f]
		}
		l.masses[h], l.massLogs[h] = mass, plogp(mass)
		l.mass += mass
	}
}

// leastWeight is that of a form that is not left out: all below it come to leftOut at most, and each to a sixteenth of that.
func leastWeight(weights []float64) float64 {
	for least := leftOut / 16; ; least /= 2 {
		below := 0.0
		for _, w := range weights {
			if w < least {
				below += w
			}
		}
		if below <= leftOut {
			return least
		}
	}
}

// information is Σ_h P(h) · Σ_r P(r | h) · log2 [P(r | h) / P(r)], with the joint probabilities P(h, r). A hypothesis
// whose forms share a row has P(r | h) of that row, and those with the same row are taken together.
func (l *looks) information(m *Model, character int) float64 {
	c := &m.characters[character]
	e := &l.expecting[character]
	l.alone = resized(l.alone, c.rows)
	clear(l.alone)
	for _, h := range c.uniform {
		l.alone[h.row] += l.masses[h.hypothesis]
	}
	l.divide(c)
	var given, mixed float64
	if c.states == 2 {
		given, mixed = l.ofTwo(c, e)
	} else {
		given, mixed = l.ofMany(c, e)
	}
	return max(given-mixed, 0) / math.Ln2
}

// divide lists the hypotheses that have weight in several rows, and takes those in one together.
func (l *looks) divide(c *compiled) {
	l.divided, l.usual = l.divided[:0], l.usual[:0]
	for i := range c.varied {
		h := &c.varied[i]
		mass := l.masses[h.hypothesis]
		usual := mass
		for _, f := range h.others {
			usual -= l.weights[f]
		}
		if usual == mass {
			l.alone[h.row] += mass
			continue
		}
		l.divided, l.usual = append(l.divided, h), append(l.usual, max(usual, 0))
	}
}

// ofMany returns Σ_h Σ_r P(h, r) · ln P(r | h) and Σ_r P(r) · ln P(r).
func (l *looks) ofMany(c *compiled, e *expecting) (given, mixed float64) {
	var room, reports [MaxStates]float64
	mix, part := room[:c.states], reports[:c.states]
	for i, h := range l.divided {
		usual, row := l.usual[i], e.row(c, h.row)
		for r := range part {
			part[r] = usual * row[r]
		}
		for _, f := range h.others {
			if w := l.weights[f]; w > 0 {
				addScaled(part, e.row(c, c.row[f]), w)
			}
		}
		given += sumOfLogs(part) - l.massLogs[h.hypothesis]
		addScaled(mix, part, 1)
	}
	for i, w := range l.alone {
		if w > 0 {
			addScaled(mix, e.row(c, int32(i)), w)
			given += w * e.sums[i]
		}
	}
	return given, sumOfLogs(mix) - plogp(sum(mix))
}

// ofTwo is ofMany for two states, of which one says all: a third of the characters, and twice as fast.
func (l *looks) ofTwo(c *compiled, e *expecting) (given, mixed float64) {
	mix := 0.0
	for i, h := range l.divided {
		part := l.usual[i] * e.row(c, h.row)[0]
		for _, f := range h.others {
			part += l.weights[f] * e.row(c, c.row[f])[0]
		}
		given += plogp(part) + plogp(l.masses[h.hypothesis]-part) - l.massLogs[h.hypothesis]
		mix += part
	}
	for i, w := range l.alone {
		if w > 0 {
			mix += w * e.row(c, int32(i))[0]
			given += w * e.sums[i]
		}
	}
	return given, plogp(mix) + plogp(l.mass-mix) - plogp(l.mass)
}

// prepare forgets what was expected of another onlooker.
func (e *expecting) prepare(c *compiled, o *Onlooker, accuracy float64) {
	if c.kind == Length { // whatever the accuracy
		e.reports, e.sums = c.rightly, c.entropy
		return
	}
	leaning := o.Leaning
	if c.lean == nil {
		leaning = 0
	}
	if e.reports != nil && e.reader == o.Reader && e.accuracy == accuracy && e.leaning == leaning {
		return
	}
	e.reader, e.accuracy, e.leaning = o.Reader, accuracy, leaning
	e.reports, e.sums = resized(e.reports, len(c.rightly)), resized(e.sums, c.rows)
	for i := range e.sums {
		e.sums[i] = notYet
	}
}

// row is P(report | row).
func (e *expecting) row(c *compiled, i int32) []float64 {
	if e.sums[i] == notYet {
		e.work(c, int(i))
	}
	return e.reports[int(i)*c.states:]
}

func (e *expecting) work(c *compiled, i int) {
	right, wrong := e.accuracy, 1-e.accuracy
	row, rightly, wrongly := e.reports[i*c.states:][:c.states], c.rightly[i*c.states:][:c.states], c.wrongly[i*c.states:]
	switch reading := c.reading(e.reader); {
	case e.leaning != 0:
		var room [MaxStates]float64
		leant := Report{Accuracy: e.accuracy, Leaning: e.leaning}
		c.toldBy(row, rightly, leaningSights(room[:c.states], &leant, reading.ease, c.lean))
	case reading.ease != nil:
		c.told(row, rightly, reading, e.accuracy)
	default:
		for r := range row {
			row[r] = right*rightly[r] + wrong*wrongly[r]
		}
	}
	e.sums[i] = min(sumOfLogs(row), 0)
}
