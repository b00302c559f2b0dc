package simulator

import (
	"container/heap"
	"maps"
	"slices"

	"revidit/review"
)

// arrival hands out the oldest case first.
type arrival struct {
	club  *club
	first int // before it everything is closed
}

func (a *arrival) next(reviewer int) (int, bool) {
	for a.first < len(a.club.cases) && a.club.isClosed(a.first) {
		a.first++
	}
	for i := a.first; i < len(a.club.cases); i++ {
		if a.club.takes(reviewer, i) {
			return i, true
		}
	}
	return 0, false
}

func (a *arrival) changed(int) {}
func (a *arrival) learned()    {}

func (c *club) isClosed(i int) bool { return c.cases[i].Submission().Status != review.StatusOpen }

// takes says whether a case is open and new to a reviewer.
func (c *club) takes(reviewer, i int) bool {
	return !c.isClosed(i) && !c.cases[i].Submission().HasReviewed(c.world.People[reviewer].ID)
}

// queue hands out the case where a look by the reviewer who asks is expected to tell most, as the service orders its
// queue. All cases are of about one age, so that age decides nothing between them.
type queue struct {
	club  *club
	lines map[int]*line // by reviewer
	stamp []int         // by specimen; entries with an older one are void
}

// line is the queue as one reviewer sees it.
type line struct {
	weights map[string]float64
	entries []entry
}

type entry struct {
	gain            float64
	specimen, stamp int
}

func newQueue(c *club) *queue {
	q := &queue{club: c, lines: map[int]*line{}, stamp: make([]int, len(c.cases))}
	for i := range c.world.People {
		if c.world.People[i].Reviewer {
			q.lines[i] = &line{}
		}
	}
	q.learned()
	return q
}

func (q *queue) next(reviewer int) (int, bool) {
	l := q.lines[reviewer]
	for len(l.entries) > 0 {
		e := l.entries[0]
		if e.stamp == q.stamp[e.specimen] && q.club.takes(reviewer, e.specimen) {
			return e.specimen, true
		}
		heap.Pop(l)
	}
	return 0, false
}

// changed puts a case back where it stands now.
func (q *queue) changed(specimen int) {
	q.stamp[specimen]++
	if q.club.isClosed(specimen) {
		return
	}
	for reviewer, l := range q.lines {
		if q.club.takes(reviewer, specimen) {
			heap.Push(l, q.entry(specimen, l.weights))
		}
	}
}

func (q *queue) entry(specimen int, weights map[string]float64) entry {
	gain, _ := q.club.cases[specimen].Gain(weights)
	return entry{gain: gain, specimen: specimen, stamp: q.stamp[specimen]}
}

// learned orders the lines of those anew of whom something else is known now.
func (q *queue) learned() {
	for reviewer, l := range q.lines {
		weights := review.WeightsOf(&q.club.people, q.club.actor(reviewer), q.club.judge.Tables())
		if maps.Equal(weights, l.weights) {
			continue
		}
		l.weights, l.entries = weights, l.entries[:0]
		for i := range q.club.cases {
			if q.club.takes(reviewer, i) {
				l.entries = append(l.entries, q.entry(i, weights))
			}
		}
		heap.Init(l)
	}
}

// Len implements heap.Interface.
func (l *line) Len() int { return len(l.entries) }

// Less implements heap.Interface: the largest gain first, then the oldest.
func (l *line) Less(i, j int) bool {
	a, b := l.entries[i], l.entries[j]
	return a.gain > b.gain || a.gain == b.gain && a.specimen < b.specimen
}

// Swap implements heap.Interface.
func (l *line) Swap(i, j int) { l.entries[i], l.entries[j] = l.entries[j], l.entries[i] }

// Push implements heap.Interface.
func (l *line) Push(e any) { l.entries = append(l.entries, e.(entry)) }

// Pop implements heap.Interface.
func (l *line) Pop() any {
	last := l.entries[len(l.entries)-1]
	l.entries = slices.Delete(l.entries, len(l.entries)-1, len(l.entries))
	return last
}
