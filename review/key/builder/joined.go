package builder

import (
	"cmp"
	"math"
	"slices"
)

// joined adds questions to a first one, two at a time, as long as the vote of all parts the node better by more than the looks take.
func (b *builder) joined(n *node, first question) (couplet, bool) {
	k := couplet{questions: []question{first}}
	score, ok := b.vote(n, k.questions)
	k.score = score - b.cost(first.character)
	if !ok {
		return k, false
	}
	for len(k.questions)+2 <= b.tuning.characters {
		better, found := b.withTwo(n, k)
		if !found {
			break
		}
		k = better
	}
	return k, true
}

// withTwo is the couplet with the two questions more that raise its score most.
func (b *builder) withTwo(n *node, k couplet) (couplet, bool) {
	rivals := b.rivals(n, k.questions)
	best, found := k, false
	for i := range rivals {
		for j := i + 1; j < len(rivals); j++ {
			questions := append(slices.Clone(k.questions), rivals[i], rivals[j])
			score, ok := b.vote(n, questions)
			for _, q := range questions {
				score -= b.cost(q.character)
			}
			if ok && score > best.score {
				best, found = couplet{questions, score}, true
			}
		}
	}
	return best, found
}

// rivals are the questions that agree best with the way in which the couplet parts the forms of a node.
func (b *builder) rivals(n *node, asked []question) []question {
	towards := b.towards(n, asked)
	type rival struct {
		question
		agrees float64
	}
	var all []rival
	for c := range b.room.counts {
		if len(b.room.counts[c]) == 0 || slices.ContainsFunc(asked, func(q question) bool { return q.character == c }) {
			continue
		}
		if q, agrees := b.agreeing(n, c, towards); q.side != nil && !n.put(q) {
			all = append(all, rival{q, agrees - b.cost(c)})
		}
	}
	slices.SortStableFunc(all, func(x, y rival) int { return cmp.Compare(y.agrees, x.agrees) })
	var out []question
	for _, r := range all[:min(b.tuning.rivals, len(all))] {
		out = append(out, r.question)
	}
	return out
}

// towards is, by form of a node, the share of it that the vote sends to the first lead.
func (b *builder) towards(n *node, asked []question) []float64 {
	left, all := make([]int64, len(n.forms)), make([]int64, len(n.forms))
	b.count(n, asked)
	for i, s := range n.samples {
		f, w := b.room.local[b.samples.form[s]], b.samples.weight[s]
		all[f] += w
		if b.lead(i) > 0 {
			left[f] += w
		}
	}
	out := make([]float64, len(n.forms))
	for f := range out {
		if all[f] > 0 {
			out[f] = float64(left[f]) / float64(all[f])
		}
	}
	return out
}

// agreeing divides the states of a character by the lead to which the forms that show them go, and says how well that agrees: the
// difference of the distributions of states in both leads, in total variation.
func (b *builder) agreeing(n *node, c int, towards []float64) (question, float64) {
	forms := len(n.forms)
	var to [2][]float64
	var sums [2]float64
	for i := range to {
		to[i] = make([]float64, b.states(c))
	}
	for s := range b.states(c) {
		for f, w := range b.room.counts[c][s*forms : (s+1)*forms] {
			to[0][s] += towards[f] * float64(w)
			to[1][s] += (1 - towards[f]) * float64(w)
		}
		sums[0] += to[0][s]
		sums[1] += to[1][s]
	}
	if sums[0] <= 0 || sums[1] <= 0 {
		return question{}, 0
	}
	if b.ordered(c) {
		return b.agreeingLimit(n, c, to, sums)
	}
	side, agrees := make([]int8, b.states(c)), 0.0
	var of [2]int
	for _, s := range b.listed(n, c) {
		difference := to[0][s]/sums[0] - to[1][s]/sums[1]
		lead, sign := 0, int8(1)
		if difference < 0 {
			lead, sign = 1, -1
		}
		if of[lead] == mostStates || difference == 0 {
			continue
		}
		of[lead]++
		side[s] = sign
		agrees += math.Abs(difference)
	}
	if of[0] == 0 || of[1] == 0 {
		return question{}, 0
	}
	return question{c, side}, math.Round(agrees/2*1e9) / 1e9
}

func (b *builder) agreeingLimit(n *node, c int, to [2][]float64, sums [2]float64) (question, float64) {
	best, most, one, two := -1, 0.0, 0.0, 0.0
	for s := range b.states(c) - 1 {
		one += to[0][s] / sums[0]
		two += to[1][s] / sums[1]
		if x := math.Abs(one - two); x > math.Abs(most) {
			best, most = s, one-two
		}
	}
	if best < 0 {
		return question{}, 0
	}
	side := b.sidesAt(n, c, best)
	if most < 0 {
		for s := range side {
			side[s] = -side[s]
		}
	}
	if !slices.Contains(side, 1) || !slices.Contains(side, -1) {
		return question{}, 0
	}
	return question{c, side}, math.Round(math.Abs(most)*1e9) / 1e9
}

// count adds the votes up, sample by sample of a node.
func (b *builder) count(n *node, asked []question) {
	r := &b.room
	r.balance = slices.Grow(r.balance[:0], len(n.samples))[:len(n.samples)]
	r.first = slices.Grow(r.first[:0], len(n.samples))[:len(n.samples)]
	clear(r.balance)
	clear(r.first)
	var votes [256]int8
	for _, q := range asked {
		clear(votes[:])
		copy(votes[:], q.side)
		column := b.samples.columns[q.character]
		for i, s := range n.samples {
			v := votes[column[s]]
			r.balance[i] += v
			if r.first[i] == 0 {
				r.first[i] = v
			}
		}
	}
}

// lead is that of a sample by its place in the node: 1 for the first, -1 for the second. Who cannot decide takes either, by turns.
func (b *builder) lead(i int) int {
	switch v := cmp.Or(b.room.balance[i], b.room.first[i]); {
	case v > 0:
		return 1
	case v < 0:
		return -1
	}
	return 1 - 2*(i&1)
}

// vote is how well questions part a node together; false where they do not.
func (b *builder) vote(n *node, asked []question) (float64, bool) {
	left, right := make([]int64, len(b.families)), make([]int64, len(b.families))
	b.count(n, asked)
	for i, s := range n.samples {
		family := b.forms[b.samples.form[s]].family
		if b.lead(i) > 0 {
			left[family] += b.samples.weight[s]
		} else {
			right[family] += b.samples.weight[s]
		}
	}
	score := b.parted(left, right)
	return score, score > 0
}
