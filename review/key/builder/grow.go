package builder

import "slices"

// grow divides all samples until every usual specimen stands with its own family, and takes back what is not worth a couplet.
func (b *builder) grow() *node {
	root := &node{says: make([][]bool, len(b.tables.Characters))}
	for i := range b.samples.form {
		root.samples = append(root.samples, int32(i))
	}
	b.growFrom(root)
	b.prune(root)
	return root
}

func (b *builder) growFrom(n *node) {
	b.tally(n)
	families := b.usual(n)
	b.finish(n, families)
	if len(families) < 2 && (float64(n.right) >= b.tuning.pure*float64(n.total) || float64(n.total-n.right) < b.tuning.worth*whole) {
		return
	}
	k, ok := b.divide(n)
	if !ok && len(families) > 1 {
		k, ok = b.insist(n)
	}
	if !ok {
		return
	}
	n.parts = &k
	b.part(n)
	for _, below := range n.below {
		b.growFrom(below)
	}
}

// finish says what the node would end at: the families whose usual specimens stand there, else the commonest one.
func (b *builder) finish(n *node, families []int) {
	weights := make([]int64, len(b.families))
	for _, i := range n.samples {
		weights[b.forms[b.samples.form[i]].family] += b.samples.weight[i]
	}
	n.ends = families
	if len(families) == 0 {
		best := 0
		for f, w := range weights {
			if w > weights[best] {
				best = f
			}
		}
		n.ends = []int{best}
	}
	n.right = 0
	if len(n.ends) == 1 {
		n.right = weights[n.ends[0]]
	}
}

// usual are the families whose usual specimens stand in a node, ascending.
func (b *builder) usual(n *node) []int {
	var families []int
	for _, i := range n.samples {
		if f := b.forms[b.samples.form[i]].family; b.samples.usual[i] && !slices.Contains(families, f) {
			families = append(families, f)
		}
	}
	slices.Sort(families)
	return families
}

// insist divides a node by its usual specimens alone, where all together tell nothing: they have to be told apart.
func (b *builder) insist(n *node) (couplet, bool) {
	usual := &node{says: n.says, asked: n.asked}
	for _, i := range n.samples {
		if b.samples.usual[i] {
			usual.samples = append(usual.samples, i)
		}
	}
	b.tally(usual)
	return b.divide(usual)
}

// part sends the samples of a node on.
func (b *builder) part(n *node) {
	for i := range n.below {
		says := slices.Clone(n.says)
		if len(n.parts.questions) == 1 {
			q := n.parts.questions[0]
			left := make([]bool, len(q.side))
			for s, side := range q.side {
				left[s] = side == int8(1-2*i)
			}
			says[q.character] = left
		}
		n.below[i] = &node{says: says, asked: append(slices.Clone(n.asked), n.parts.questions...)}
	}
	b.count(n, n.parts.questions)
	for i, s := range n.samples {
		to := n.below[0]
		if b.lead(i) < 0 {
			to = n.below[1]
		}
		to.samples = append(to.samples, s)
	}
}

// prune makes ends of nodes whose couplets bring too little to the right end, as long as no usual specimen is lost by that. It
// returns how much of a node comes out rightly and the couplets left.
func (b *builder) prune(n *node) (right int64, couplets int) {
	if n.parts == nil {
		return n.right, 0
	}
	couplets = 1
	for _, below := range n.below {
		r, k := b.prune(below)
		right, couplets = right+r, couplets+k
	}
	if len(b.usual(n)) < 2 && float64(right-n.right) < b.tuning.worth*whole*float64(couplets) {
		n.parts, n.below = nil, [2]*node{}
		return n.right, 0
	}
	n.ends = nil
	return right, couplets
}
