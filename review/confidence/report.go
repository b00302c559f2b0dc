package confidence

import "math"

// ReportKind is how a report came about.
type ReportKind int

const (
	// Stated: somebody says that the state is State without having been shown one: a first observation or a blind check.
	Stated ReportKind = iota
	// Confirmed: somebody was shown State and agrees.
	Confirmed
	// Disputed: somebody was shown State and says that it is Better, or with NoState only that it is not State.
	Disputed
	// Seconded: somebody was shown State, and that others say that it is not State, and agrees with these.
	Seconded
)

// NoState stands for no better state in a dispute.
const NoState = -1

// Report is what one person says about one character. "Not visible" and "cannot judge" are no reports: leave them out.
//
// Misreading has a direction, as in the theory of signal detection (Green and Swets 1966, Signal detection theory and
// psychophysics; Macmillan and Creelman 2005, Detection theory: a user's guide): how often a state is overlooked and how
// often it is imagined are two numbers. With e_s, the probability of reading the state s right (logit e_s = logit Accuracy
// + ln Ease of s to this reader), w(s → a), the share of a in the confusion weights of s, α = Anchoring, the probability of
// agreeing with what is shown without looking for oneself, and θ(a | s) = e_s where a = s, else (1 − e_s) · w(s → a):
//
//	stated a                 θ(a | s)
//	confirmed a              α + (1 − α) · θ(a | s)
//	disputed a, better b     (1 − α) · θ(b | s)
//	disputed a, no better    (1 − α) · (1 − θ(a | s))
//	seconded, not a          α + (1 − α) · (1 − θ(a | s))
//
// so that confirmation and all disputes sum to 1. Somebody may be readier than others to say what is striking (a criterion of
// their own): Leaning is added to logit e_s of a striking state, and taken from that of the other states of its character. A length is measured, not chosen: e does not apply; θ(a | s) is the
// measuring error, and a person who is shown a length confirms it when the own reading would be within
// lengthTolerance bins of it.
type Report struct {
	Kind      ReportKind
	State     int // what is stated or was shown
	Better    int // Disputed only
	Reader    int // of Spec.Readers; 0 where there are none
	Accuracy  float64
	Anchoring float64
	Leaning   float64 // in logits, 0 of nobody in particular; at most mostLeaning either way
}

// Observation is a character with the reports about it. Several observations of one character are put together.
type Observation struct {
	Character int
	Reports   []Report
}

// Shares of a wrong count: nearly always one too few or one too many. Common practice, no source.
const countOneStep = 0.9

// Lengths, in natural logarithms: a ruler or an eyepiece scale on a curved beetle is right to about 5 % (one standard
// deviation), and one length in fifty is a slip of the decimal point, of the unit, or of antennae counted in, which can
// give any value. Assumed, no source.
const (
	measuringError  = 0.05
	lengthSlip      = 0.02
	lengthTolerance = 2 // bins
)

// misreading returns the matrix at s*k+r: for Nominal and Count how an error is shared over the wrong states r (rows
// sum to 1, the diagonal is 0), for Length the probability of measuring bin r.
func misreading(c Character) []float64 {
	matrix := make([]float64, c.States*c.States)
	for s := range c.States {
		row := matrix[s*c.States : (s+1)*c.States]
		switch c.Kind {
		case Nominal:
			fillNominal(row, s, c.Confused)
		case Count:
			fillCount(row, s)
		case Length:
			fillLength(row, s, c.Step)
		}
		normalise(row)
	}
	return matrix
}

func fillNominal(row []float64, s int, confused []Confused) {
	for r := range row {
		row[r] = 1
	}
	for _, pair := range confused {
		if pair.From == s {
			row[pair.To] = pair.Weight
		}
	}
	row[s] = 0
}

func fillCount(row []float64, s int) {
	near := 0
	for r := range row {
		if abs(r-s) == 1 {
			near++
		}
	}
	far := len(row) - near - 1
	for r := range row {
		switch {
		case r == s:
		case abs(r-s) == 1:
			row[r] = countOneStep / float64(near)
		default:
			row[r] = (1 - countOneStep) / float64(far)
		}
	}
}

func fillLength(row []float64, s int, step float64) {
	normal := func(x float64) float64 { return 0.5 * math.Erfc(-x/math.Sqrt2) }
	sum := 0.0
	for r := range row {
		d := float64(r - s)
		row[r] = normal((d+0.5)*step/measuringError) - normal((d-0.5)*step/measuringError)
		sum += row[r]
	}
	for r := range row {
		row[r] = (1-lengthSlip)*row[r]/sum + lengthSlip/float64(len(row))
	}
}

func normalise(row []float64) {
	sum := 0.0
	for _, w := range row {
		sum += w
	}
	if sum == 0 {
		return // a single state: there is nothing to mistake it for
	}
	for r := range row {
		row[r] /= sum
	}
}

func abs(i int) int { return max(i, -i) }

// agreements are the probabilities, at a*states+s, of measuring by oneself what counts as the shown length a.
func (c *compiled) agreements() []float64 {
	out := make([]float64, c.states*c.states)
	for a := range c.states {
		column := out[a*c.states : (a+1)*c.states]
		for b := max(0, a-lengthTolerance); b <= min(c.states-1, a+lengthTolerance); b++ {
			addScaled(column, c.readAs[b*c.states:], 1)
		}
		for s, p := range column {
			column[s] = min(p, 1)
		}
	}
	return out
}

// multiply multiplies product, by state s, by P(r | s). Accuracy and anchoring must be from 0 to 1.
func (c *compiled) multiply(product []float64, r Report) {
	looking := 1 - r.Anchoring
	switch {
	case r.Kind == Stated:
		c.multiplyReading(product, &r, r.State, 1)
	case r.Kind == Seconded: // 1 - (1 - α) · θ(a | s)
		c.multiplyAgreement(product, &r, 1, -looking)
	case r.Kind == Disputed && r.Better != NoState:
		c.multiplyReading(product, &r, r.Better, looking)
	case r.Kind == Disputed:
		c.multiplyAgreement(product, &r, looking, -looking)
	default:
		c.multiplyAgreement(product, &r, r.Anchoring, looking)
	}
}

// multiplyReading multiplies by scale · θ(a | s).
func (c *compiled) multiplyReading(product []float64, r *Report, a int, scale float64) {
	readAs := c.readAs[a*c.states:][:len(product)]
	switch {
	case c.kind == Length:
		for s := range product {
			product[s] *= scale * readAs[s]
		}
		return
	case c.states == 1:
		product[0] *= scale
		return
	}
	var room [MaxStates]float64
	right := c.rightAt(room[:c.states], r)
	if right == nil {
		at, wrong := product[a]*scale*r.Accuracy, scale*(1-r.Accuracy)
		for s := range product {
			product[s] *= wrong * readAs[s]
		}
		product[a] = at
		return
	}
	at := product[a] * scale * right[a]
	for s := range product {
		product[s] *= scale * (1 - right[s]) * readAs[s]
	}
	product[a] = at
}

// multiplyAgreement multiplies by base + scale · P(coming, by oneself, to what counts as the shown state a | s).
func (c *compiled) multiplyAgreement(product []float64, r *Report, base, scale float64) {
	a := r.State
	switch {
	case c.kind == Length:
		for s, p := range c.agreeing[a*c.states:][:len(product)] {
			product[s] *= base + scale*p
		}
		return
	case c.states == 1:
		product[0] *= base + scale
		return
	}
	var room [MaxStates]float64
	right := c.rightAt(room[:c.states], r)
	readAs := c.readAs[a*c.states:][:len(product)]
	if right == nil {
		at, wrong := product[a]*(base+scale*r.Accuracy), scale*(1-r.Accuracy)
		for s, p := range readAs {
			product[s] *= base + wrong*p
		}
		product[a] = at
		return
	}
	at := product[a] * (base + scale*right[a])
	for s, p := range readAs {
		product[s] *= base + scale*(1-right[s])*p
	}
	product[a] = at
}

// unit forces a probability into 0 to 1; what is no number counts as 0.
func unit(p float64) float64 {
	if !(p > 0) {
		return 0
	}
	return min(p, 1)
}
