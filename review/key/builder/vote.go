package builder

import (
	"math"
	"slices"

	"revidit/review/diagnosis"
)

// mostStates is how many states a lead tells of one character at most.
const mostStates = 4

// question is a character of a couplet: by state, to which lead it speaks: 1 to the first, -1 to the second, 0 to none.
type question struct {
	character int
	side      []int8
}

// couplet is a vote of its questions; where as many speak for either lead the earliest decides.
type couplet struct {
	questions []question
	score     float64
}

// room is memory of dividing a node.
type room struct {
	counts  [][]int64 // by character: weight by state and form of the node
	local   []int     // by form: its place among those of the node, -1 for none
	balance []int8
	first   []int8
}

// node is a part of the samples on the way through the key.
type node struct {
	samples []int32
	// says are, by character, the states that are left of it where it alone has decided a couplet on the way here; nil where none has.
	says  [][]bool
	asked []question // on the way here: no question is put twice
	forms []int      // that occur in it
	parts *couplet
	below [2]*node
	ends  []int // families that it ends at, where it does
	right int64 // weight of samples that are of the family with most
	total int64
}

// tally counts weights of a node by state of a character and form.
func (b *builder) tally(n *node) {
	r := &b.room
	if r.local == nil {
		r.local = make([]int, len(b.forms))
		r.counts = make([][]int64, len(b.tables.Characters))
	}
	for i := range r.local {
		r.local[i] = -1
	}
	n.forms = n.forms[:0]
	n.total = 0
	for _, i := range n.samples {
		f := b.samples.form[i]
		n.total += b.samples.weight[i]
		if r.local[f] < 0 {
			r.local[f] = len(n.forms)
			n.forms = append(n.forms, int(f))
		}
	}
	for c := range r.counts {
		r.counts[c] = r.counts[c][:0]
		if !b.mayAsk(n, c) {
			continue
		}
		states := b.states(c)
		r.counts[c] = slices.Grow(r.counts[c], states*len(n.forms))[:states*len(n.forms)]
		clear(r.counts[c])
		column, counts, forms := b.samples.columns[c], r.counts[c], len(n.forms)
		for _, i := range n.samples {
			if s := column[i]; s != unseen && (n.says[c] == nil || n.says[c][s]) {
				counts[int(s)*forms+r.local[b.samples.form[i]]] += b.samples.weight[i]
			}
		}
	}
}

// mayAsk: what leads on the way here have told can be asked again only of the states that they left.
func (b *builder) mayAsk(n *node, c int) bool {
	return b.allowed[c] && (n.says[c] == nil || ones(n.says[c]) > 1)
}

// put says whether a question was put on the way to a node, whichever lead it spoke for.
func (n *node) put(q question) bool {
	return slices.ContainsFunc(n.asked, func(p question) bool {
		return p.character == q.character && (slices.Equal(p.side, q.side) || opposite(p.side, q.side))
	})
}

func opposite(a, b []int8) bool {
	for i := range a {
		if a[i] != -b[i] {
			return false
		}
	}
	return true
}

func ones(set []bool) (n int) {
	for _, in := range set {
		if in {
			n++
		}
	}
	return n
}

func (b *builder) states(c int) int {
	if b.tables.Characters[c].Kind == diagnosis.KindLength {
		return len(limits) + 1
	}
	return len(b.tables.Characters[c].States)
}

func (b *builder) ordered(c int) bool { return b.tables.Characters[c].Kind != diagnosis.KindStates }

func plogp(x float64) float64 {
	if x <= 0 {
		return 0
	}
	return x * math.Log2(x)
}

// parted is what a division tells: H(lead) − scatter · H(lead | family), in bits; at most 1. left and right are weights by family.
func (b *builder) parted(left, right []int64) float64 {
	var l, r int64
	given := 0.0
	for f := range left {
		if left[f] > 0 && right[f] > 0 {
			a, z := float64(left[f]), float64(right[f])
			given += plogp(a+z) - plogp(a) - plogp(z)
		}
		l += left[f]
		r += right[f]
	}
	if l == 0 || r == 0 {
		return 0
	}
	a, z := float64(l), float64(r)
	whole := plogp(a+z) - plogp(a) - plogp(z)
	return math.Round((whole-b.scatter*given)/(a+z)*1e9) / 1e9
}
