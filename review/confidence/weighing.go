package confidence

import "math"

// weighing is evidence weighed by form.
type weighing struct {
	seen      []int         // reported characters, ascending
	exponents []float64     // by seen; 0 leaves one out
	start     []int         // by seen: where its rows begin in lik
	lik       []float64     // likelihoods without the exponents, by seen and row
	usual     []usualReport // by seen; empty where nobody looked for what is prepared
	product   []float64     // by form: weight · Π likelihood^exponent, or the factors since the last that went into logs
	logs      []float64     // by form: the factors that product has no room for; empty where it has
	raised    []float64     // by seen and row, as lik: likelihoods under exponents that are not prepared
	ready     []bool        // by seen: raised holds them already
	hush      hush
}

func (m *Model) weigh(w *weighing, a *arranged, observations []Observation) {
	m.arrange(a, observations)
	w.begin(m, a.seen)
	for i := range w.seen {
		w.look(m, a, i)
	}
}

// begin makes room for what is seen.
func (w *weighing) begin(m *Model, seen []int) {
	w.seen, w.start = append(w.seen[:0], seen...), w.start[:0]
	rows := 0
	for _, c := range w.seen {
		w.start = append(w.start, rows)
		rows += m.characters[c].rows
	}
	w.lik, w.usual = resized(w.lik, rows), resized(w.usual, len(w.seen))
	w.raised, w.ready = resized(w.raised, rows), resized(w.ready, len(w.seen))
	clear(w.ready)
	w.exponents = resized(w.exponents, len(w.seen))
	m.fillExponents(w.exponents, w.seen, -1)
}

// look weighs what was said of a seen character.
func (w *weighing) look(m *Model, a *arranged, i int) {
	c := w.seen[i]
	w.usual[i] = m.characters[c].usualReport(a.of(c))
	if out, usual := w.likelihood(m, i), w.usual[i]; usual.reading != nil {
		copy(out, usual.said[usual.state*len(out):])
	} else {
		m.characters[c].likelihood(out, a.of(c))
	}
}

// likelihood is that of a seen character, by row.
func (w *weighing) likelihood(m *Model, i int) []float64 {
	return w.lik[w.start[i]:][:m.characters[w.seen[i]].rows]
}

// smallProduct is when a product of likelihoods is put into logarithms, long before it would vanish.
const smallProduct = 1e-100

// leastProduct is the same where one more factor is known not to make it vanish.
const leastProduct = 1e-250

// multiply fills in product and logs. It knows no product of a form to be below least, and needs logarithms where that
// grows too small only.
func (w *weighing) multiply(m *Model, sex Sex) {
	w.logs, w.raised = w.logs[:0], resized(w.raised, len(w.lik))
	w.product = append(w.product[:0], m.weight[sex]...)
	least := m.leastWeight[sex]
	for i, e := range w.exponents {
		if e == 0 {
			continue
		}
		factors := w.likelihood(m, i)
		if e != 1 {
			factors = w.under(i, factors, e)
		}
		lowest := smallest(factors)
		if least *= lowest; least < leastProduct {
			w.intoLogs()
			least = lowest
		}
		product := w.product
		for f, row := range m.characters[w.seen[i]].row[:len(product)] {
			product[f] *= factors[row]
		}
	}
	for f, worth := range w.hush.worth { // no less than a tenth, and a hundredth for each that data have taught
		w.product[f] *= worth
	}
}

// under are the factors of a seen character under an exponent.
func (w *weighing) under(i int, factors []float64, exponent float64) []float64 {
	if len(w.usual) > 0 {
		if prepared := w.usual[i].under(exponent, len(factors)); prepared != nil {
			return prepared
		}
	}
	out := w.raised[w.start[i]:][:len(factors)]
	if !w.ready[i] {
		raised(out, factors, exponent)
	}
	return out
}

// raised fills in factors raised to an exponent.
func raised(out, factors []float64, exponent float64) []float64 {
	for i, l := range factors {
		out[i] = math.Exp(exponent * ln(l))
	}
	return out
}

func (w *weighing) intoLogs() {
	if len(w.logs) == 0 {
		w.logs = resized(w.logs, len(w.product))
		clear(w.logs)
	}
	for f, p := range w.product {
		w.logs[f] += ln(p)
		w.product[f] = 1
	}
}

// sums fills in P(reports | hypothesis) and returns their sum weighted by prior. It is false where products went into
// logarithms or the sum is too near 0 for plain arithmetic.
func (w *weighing) sums(m *Model, out, prior []float64) (total float64, plain bool) {
	if len(w.logs) > 0 {
		return 0, false
	}
	first := 0
	for h, next := range m.first[1:] {
		sum := 0.0
		for _, p := range w.product[first:next] {
			sum += p
		}
		out[h] = sum
		total += prior[h] * sum
		first = next
	}
	return total, total > leastProduct
}

// logLikelihoods fills in ln P(reports | hypothesis) and, where shares is not nil, P(form | hypothesis, reports).
func (w *weighing) logLikelihoods(m *Model, out, shares []float64) {
	for h := range out {
		first, next := m.first[h], m.first[h+1]
		product := w.product[first:next]
		shift := 0.0
		if len(w.logs) > 0 {
			shift = scale(product, w.logs[first:next])
		}
		total := sum(product)
		out[h] = shift + ln(total)
		if shares == nil {
			continue
		}
		for f, p := range product {
			shares[first+f] = p / total
		}
	}
}

// scale multiplies products by the exponentials of logs, all divided by the largest, and returns the logarithm of that.
func scale(product, logs []float64) float64 {
	largest := math.Inf(-1)
	for f, p := range product {
		largest = max(largest, logs[f]+ln(p))
	}
	for f, p := range product {
		product[f] = math.Exp(logs[f] + ln(p) - largest)
	}
	return largest
}

// smallest is the least of numbers that are none of them NaN, which slices.Min would ask of each.
func smallest(x []float64) float64 {
	least := x[0]
	for _, v := range x {
		if v < least {
			least = v
		}
	}
	return least
}
