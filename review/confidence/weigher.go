package confidence

import "math"

// weigher is the first step of EM: what there was to be seen on each item, given the present accuracies, and what each
// report says of its person. It allocates once.
type weigher struct {
	r *Reliability
	b *batch
	// The accuracies and people that the batch is about and that are estimated, each once.
	slots, persons []int32
	accuracy       []counts // expected: looked and read right, or wrong; by slot, fixed ones as well
	anchoring      []counts // expected: confirmed without a look, or looked; by person
	state          [MaxStates]float64
	// The log-likelihood so far is log + ln product: a logarithm for each item would take a sixth of the time.
	log, product float64
}

// counts are expected reports for and against a probability, and their information about it.
type counts struct{ of, against, information float64 }

func newWeigher(r *Reliability, b *batch) *weigher {
	w := &weigher{r: r, b: b, accuracy: make([]counts, len(r.accuracy)), anchoring: make([]counts, len(r.anchoring))}
	seenSlot, seenPerson := make([]bool, len(r.accuracy)), make([]bool, len(r.anchoring))
	for _, l := range b.looks {
		if int(l.slot) < len(r.known) && !seenSlot[l.slot] {
			w.slots = append(w.slots, l.slot)
		}
		if !seenPerson[l.person] && r.estimatesAnchoring(int(l.person)) {
			w.persons = append(w.persons, l.person)
		}
		seenSlot[l.slot], seenPerson[l.person] = true, true
	}
	return w
}

// weighAll fills the counts and returns the log-likelihood. The information about the parameters is only needed
// at the end.
func (w *weigher) weighAll(information bool) float64 {
	clear(w.accuracy)
	clear(w.anchoring)
	w.log, w.product = 0, 1
	for i := range w.b.character {
		state := w.state[:w.r.errors[w.b.character[i]].states]
		w.weigh(i, state)
		w.count(i, state, information)
	}
	return w.log + math.Log(w.product)
}

// weigh fills the posterior of the states of item i and takes the likelihood of its reports into the log-likelihood.
func (w *weigher) weigh(i int, state []float64) {
	e := &w.r.errors[w.b.character[i]]
	copy(state, w.b.priors[w.b.prior[i]:w.b.prior[i+1]])
	for _, l := range w.b.looks[w.b.first[i]:w.b.first[i+1]] {
		base, slope, right := w.terms(l)
		at := state[l.state] * right
		column := e.column(int(l.state))[:len(state)]
		total := 0.0
		for s, p := range state {
			p *= base + slope*column[s]
			state[s] = p
			total += p
		}
		state[l.state] = at
		if total+at < smallProduct {
			w.scale(state)
		}
	}
	w.scale(state)
}

// terms are those of P(report | s) = base + slope · share of the said state in the errors of s, and the value for the
// said state itself.
func (w *weigher) terms(l look) (base, slope, right float64) {
	p := w.r.accuracy[l.slot]
	switch l.kind {
	case lookStated:
		return 0, 1 - p, p
	case lookConfirmed:
		a := w.r.anchoring[l.person]
		return a, (1 - a) * (1 - p), a + (1-a)*p
	case lookBetter:
		free := 1 - w.r.anchoring[l.person]
		return 0, free * (1 - p), free * p
	}
	free := 1 - w.r.anchoring[l.person]
	return free, -free * (1 - p), free * (1 - p)
}

// scale makes the numbers sum to 1 and takes their sum into the log-likelihood.
func (w *weigher) scale(state []float64) {
	total := sum(state)
	if total < leastLikelihood { // confusion weights beyond any use
		total = leastLikelihood
		for s := range state {
			state[s] = leastLikelihood / float64(len(state))
		}
	}
	inverse := 1 / total
	for s := range state {
		state[s] *= inverse
	}
	w.product *= total
	if w.product < smallProduct {
		w.log += math.Log(w.product)
		w.product = 1
	}
}

// count shares out each report: looked and read right, looked and read wrong, confirmed without a look.
func (w *weigher) count(i int, state []float64, information bool) {
	e := &w.r.errors[w.b.character[i]]
	for _, l := range w.b.looks[w.b.first[i]:w.b.first[i+1]] {
		right, anchored := w.shares(l, e, state)
		wrong := max(1-right-anchored, 0)
		s := &w.accuracy[l.slot]
		s.of += right
		s.against += wrong
		if information {
			s.information += score(right, wrong, w.r.accuracy[l.slot])
		}
		if l.kind == lookStated {
			continue
		}
		a := &w.anchoring[l.person]
		a.of += anchored
		a.against += 1 - anchored
		if information {
			a.information += score(anchored, 1-anchored, w.r.anchoring[l.person])
		}
	}
}

func (w *weigher) shares(l look, e *errorTable, state []float64) (right, anchored float64) {
	p := w.r.accuracy[l.slot]
	switch l.kind {
	case lookConfirmed:
		return w.sharesOfConfirmed(l, e, state)
	case lookDisputed:
		column := e.column(int(l.state))[:len(state)]
		for s, t := range state {
			right += t * p / (1 - (1-p)*column[s])
		}
		return right - state[l.state]*p, 0 // where the disputed state is the true one, the reading was wrong
	}
	return state[l.state], 0
}

func (w *weigher) sharesOfConfirmed(l look, e *errorTable, state []float64) (right, anchored float64) {
	p, a := w.r.accuracy[l.slot], w.r.anchoring[l.person]
	column := e.column(int(l.state))[:len(state)]
	slope := (1 - a) * (1 - p) / a
	for s, t := range state {
		anchored += t / (1 + slope*column[s])
	}
	t := state[l.state]
	whole := a + (1-a)*p
	return t * (1 - a) * p / whole, anchored - t + t*a/whole
}

// score is the squared derivative of the log-likelihood of one report by a probability p: its part of the observed
// information (Louis 1982), with the expected counts for and against p.
func score(of, against, p float64) float64 {
	d := of/p - against/(1-p)
	return d * d
}
