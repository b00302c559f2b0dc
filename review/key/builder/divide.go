package builder

import (
	"cmp"
	"slices"
)

// divide finds the couplet for a node, and false where nothing parts it. The node is tallied.
func (b *builder) divide(n *node) (couplet, bool) {
	for b.scatter = b.tuning.scatter; b.scatter >= 1; b.scatter -= 0.25 {
		if k, ok := b.divideBy(n); ok {
			return k, true
		}
	}
	return couplet{}, false
}

func (b *builder) divideBy(n *node) (couplet, bool) {
	type start struct {
		question
		value float64
	}
	var starts []start
	for c := range b.room.counts {
		if len(b.room.counts[c]) == 0 {
			continue
		}
		if q, score, ok := b.bestAlone(n, c); ok && !n.put(q) {
			starts = append(starts, start{q, score - b.cost(c)})
		}
	}
	slices.SortStableFunc(starts, func(x, y start) int { return cmp.Compare(y.value, x.value) })
	var best couplet
	for _, s := range starts[:min(b.tuning.starts, len(starts))] {
		k, ok := b.joined(n, s.question)
		if ok && (len(best.questions) == 0 || k.score > best.score) {
			best = k
		}
	}
	return best, len(best.questions) > 0
}

// cost is what a look takes, in bits.
func (b *builder) cost(c int) float64 { return b.tuning.effort * b.tables.Characters[c].Effort }

// listed are the states of a character that leads may tell of at a node: those seen often enough, the commonest first.
func (b *builder) listed(n *node, c int) []int {
	counts, forms := b.room.counts[c], len(n.forms)
	type weighed struct {
		state  int
		weight int64
	}
	var all []weighed
	total := int64(0)
	for s := range b.states(c) {
		if n.says[c] != nil && !n.says[c][s] {
			continue
		}
		w := int64(0)
		for _, x := range counts[s*forms : (s+1)*forms] {
			w += x
		}
		total += w
		all = append(all, weighed{s, w})
	}
	var states []int
	slices.SortStableFunc(all, func(x, y weighed) int { return cmp.Compare(y.weight, x.weight) })
	for _, x := range all {
		if x.weight > 0 && (b.ordered(c) || float64(x.weight) >= b.tuning.least*float64(total)) {
			states = append(states, x.state)
		}
	}
	return states
}

// byFamily are the counts of a character by state and family of the node.
func (b *builder) byFamily(n *node, c int) [][]int64 {
	counts, forms := b.room.counts[c], len(n.forms)
	places, families := map[int]int{}, 0
	at := make([]int, forms)
	for i, f := range n.forms {
		family := b.forms[f].family
		if _, known := places[family]; !known {
			places[family] = families
			families++
		}
		at[i] = places[family]
	}
	out := make([][]int64, b.states(c))
	for s := range out {
		out[s] = make([]int64, families)
		for i, w := range counts[s*forms : (s+1)*forms] {
			out[s][at[i]] += w
		}
	}
	return out
}

// bestAlone divides the states of one character so that it parts the families best.
func (b *builder) bestAlone(n *node, c int) (question, float64, bool) {
	states := b.listed(n, c)
	if len(states) < 2 {
		return question{}, 0, false
	}
	counts := b.byFamily(n, c)
	if b.ordered(c) {
		return b.bestLimit(n, c, counts)
	}
	p := &partition{b: b, counts: counts, states: states, left: make([]int64, len(counts[0])), right: make([]int64, len(counts[0]))}
	var best []int8
	bestScore := 0.0
	for _, s := range states {
		side, score := p.climb(s, b.states(c))
		if score > bestScore {
			best, bestScore = side, score
		}
	}
	return question{c, best}, bestScore, best != nil
}

// partition divides the states of a character that has no order.
type partition struct {
	b           *builder
	counts      [][]int64
	states      []int
	left, right []int64
}

// climb begins with one state against all others and moves single states as long as that parts better.
func (p *partition) climb(first, of int) ([]int8, float64) {
	side := make([]int8, of)
	clear(p.left)
	clear(p.right)
	for _, s := range p.states {
		side[s] = -1
		addTo(p.right, p.counts[s], 1)
	}
	p.flip(side, first)
	score := p.b.parted(p.left, p.right)
	for {
		move, better := -1, score
		for _, s := range p.states {
			p.flip(side, s)
			if x := p.b.parted(p.left, p.right); x > better {
				move, better = s, x
			}
			p.flip(side, s)
		}
		if move < 0 {
			return side, score
		}
		p.flip(side, move)
		score = better
	}
}

func (p *partition) flip(side []int8, s int) {
	sign := int64(side[s]) // from the second lead to the first for -1
	addTo(p.left, p.counts[s], -sign)
	addTo(p.right, p.counts[s], sign)
	side[s] = -side[s]
}

func addTo(sum, x []int64, sign int64) {
	for i := range x {
		sum[i] += sign * x[i]
	}
}

// bestLimit divides a character whose states have an order at one place.
func (b *builder) bestLimit(n *node, c int, counts [][]int64) (question, float64, bool) {
	left, right := make([]int64, len(counts[0])), make([]int64, len(counts[0]))
	for _, x := range counts {
		addTo(right, x, 1)
	}
	best, bestScore := -1, 0.0
	for s := range len(counts) - 1 {
		addTo(left, counts[s], 1)
		addTo(right, counts[s], -1)
		if score := b.parted(left, right); score > bestScore {
			best, bestScore = s, score
		}
	}
	if best < 0 {
		return question{}, 0, false
	}
	return question{c, b.sidesAt(n, c, best)}, bestScore, true
}

// sidesAt divides an ordered character after a state: all that leads on the way here have left of it.
func (b *builder) sidesAt(n *node, c, last int) []int8 {
	side := make([]int8, b.states(c))
	for s := range side {
		side[s] = -1
		if s <= last {
			side[s] = 1
		}
		if n.says[c] != nil && !n.says[c][s] {
			side[s] = 0
		}
	}
	return side
}
