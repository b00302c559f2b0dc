package confidence

import "math"

// weigher is the first step of EM: what there was to be seen on each item, given the present accuracies, and what each
// report says of its person. It allocates once.
type weigher struct {
	r *Reliability
	b *batch
	// The accuracies and people that the batch is about and that are estimated, each once.
	slots, persons []int32
	accuracy       []counts // expected: looked and read right, or wrong; by slot, fixed ones as well, and class of ease
	information    []float64
	anchoring      []counts // expected: confirmed without a look, or looked; by person
	known          []float64
	leaning        []float64 // information about the leanings, by person
	state          [MaxStates]float64
	// The log-likelihood so far is log + ln product: a logarithm for each item would take a sixth of the time.
	log, product float64
}

// counts are expected reports for and against a probability.
type counts struct{ of, against float64 }

func newWeigher(r *Reliability, b *batch) *weigher {
	w := &weigher{r: r, b: b, accuracy: make([]counts, len(r.accuracy)*len(r.classes)), information: make([]float64, len(r.accuracy)),
		anchoring: make([]counts, len(r.anchoring)), known: make([]float64, len(r.anchoring)), leaning: make([]float64, len(r.anchoring))}
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

// counts of a slot, by class of ease.
func (w *weigher) counts(slot int32) []counts {
	n := len(w.r.classes)
	return w.accuracy[int(slot)*n:][:n]
}

// sights of a slot, by class of ease.
func (w *weigher) sights(slot int32) []float64 {
	n := len(w.r.classes)
	return w.r.sights[int(slot)*n:][:n]
}

// weighAll fills the counts and returns the log-likelihood. The information about the parameters is only needed
// at the end.
func (w *weigher) weighAll(information bool) float64 {
	clear(w.accuracy)
	clear(w.information)
	clear(w.anchoring)
	clear(w.known)
	clear(w.leaning)
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
		base, slope := w.terms(l)
		sights, classes := w.sights(l.slot), e.of(w.r.panel.Persons[l.person])
		column := e.column(int(l.state))[:len(state)]
		total := 0.0
		var at float64
		if classes == nil {
			at = state[l.state] * (base + slope*sights[0])
			wrong := slope * (1 - sights[0])
			for s, p := range state {
				p *= base + wrong*column[s]
				state[s] = p
				total += p
			}
		} else {
			at = state[l.state] * (base + slope*sights[classes[l.state]])
			for s, p := range state {
				p *= base + slope*(1-sights[classes[s]])*column[s]
				state[s] = p
				total += p
			}
		}
		state[l.state] = at
		if total+at < smallProduct {
			w.scale(state)
		}
	}
	w.scale(state)
}

// terms are those of P(report | s) = base + slope · P(reading the said state | s).
func (w *weigher) terms(l look) (base, slope float64) {
	switch l.kind {
	case lookStated:
		return 0, 1
	case lookConfirmed:
		a := w.r.anchoring[l.person]
		return a, 1 - a
	case lookBetter:
		return 0, 1 - w.r.anchoring[l.person]
	}
	free := 1 - w.r.anchoring[l.person]
	return free, -free
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
		sharing := sharing{counts: w.counts(l.slot), sights: w.sights(l.slot), kinds: w.r.classes, classes: e.of(w.r.panel.Persons[l.person])}
		anchored := 0.0
		switch l.kind {
		case lookConfirmed:
			anchored = sharing.confirmed(state, int(l.state), e, w.r.anchoring[l.person])
		case lookDisputed:
			sharing.disputed(state, int(l.state), e)
		default:
			sharing.stated(state, int(l.state))
		}
		if information {
			w.information[l.slot] += sharing.slope*sharing.slope - sharing.bend
			w.leaning[l.person] += sharing.leaning*sharing.leaning - sharing.leaningBend
		}
		if l.kind == lookStated {
			continue
		}
		a := &w.anchoring[l.person]
		a.of += anchored
		a.against += 1 - anchored
		if information {
			w.known[l.person] += score(anchored, 1-anchored, w.r.anchoring[l.person])
		}
	}
}

// sharing shares out one report to the counts of its person.
type sharing struct {
	counts  []counts
	sights  []float64
	kinds   []class
	classes []uint8
	// slope and bend are the first derivative of ln P(report) by the logit of the accuracy and what of the second is not
	// its square: of a report that is right with e they are right·(1 − e) − wrong·e and (1 − 2e) times that.
	slope, bend float64
	// leaning and leaningBend are the same by the leaning.
	leaning, leaningBend float64
}

func (h *sharing) add(class uint8, right, wrong float64) {
	h.counts[class].of += right
	h.counts[class].against += wrong
	e := h.sights[class]
	slope := right*(1-e) - wrong*e
	h.slope += slope
	h.bend += (1 - 2*e) * slope
	lean := h.kinds[class].lean
	h.leaning += lean * slope
	h.leaningBend += lean * lean * (1 - 2*e) * slope
}

func (h *sharing) stated(state []float64, a int) {
	if h.classes == nil {
		h.add(0, state[a], max(1-state[a], 0))
		return
	}
	for s, t := range state {
		if s == a {
			h.add(h.classes[s], t, 0)
			continue
		}
		h.add(h.classes[s], 0, t)
	}
}

// disputed, without a better state: whoever read the state right did not read a, unless a it was.
func (h *sharing) disputed(state []float64, a int, e *errorTable) {
	column := e.column(a)[:len(state)]
	if h.classes == nil {
		p, right := h.sights[0], 0.0
		for s, t := range state {
			right += t * p / (1 - (1-p)*column[s])
		}
		right -= state[a] * p // where the disputed state is the true one, the reading was wrong
		h.add(0, right, max(1-right, 0))
		return
	}
	for s, t := range state {
		right, p := 0.0, h.sights[h.classes[s]]
		if s != a {
			right = t * p / (1 - (1-p)*column[s])
		}
		h.add(h.classes[s], right, max(t-right, 0))
	}
}

func (h *sharing) confirmed(state []float64, a int, e *errorTable, anchoring float64) (anchored float64) {
	column := e.column(a)[:len(state)]
	if h.classes == nil {
		p := h.sights[0]
		slope := (1 - anchoring) * (1 - p) / anchoring
		for s, t := range state {
			anchored += t / (1 + slope*column[s])
		}
		t, whole := state[a], anchoring+(1-anchoring)*p
		right := t * (1 - anchoring) * p / whole
		anchored += t*anchoring/whole - t
		h.add(0, right, max(1-right-anchored, 0))
		return anchored
	}
	for s, t := range state {
		class := h.classes[s]
		p := h.sights[class]
		reads := (1 - p) * column[s]
		if s == a {
			reads = p
		}
		unlooked := t * anchoring / (anchoring + (1-anchoring)*reads)
		anchored += unlooked
		if s == a {
			h.add(class, max(t-unlooked, 0), 0)
			continue
		}
		h.add(class, 0, max(t-unlooked, 0))
	}
	return anchored
}

// score is the squared derivative of the log-likelihood of one report by a probability p: its part of the observed
// information (Louis 1982), with the expected counts for and against p.
func score(of, against, p float64) float64 {
	d := of/p - against/(1-p)
	return d * d
}
