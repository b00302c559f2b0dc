package simulator

import (
	"math"
	"slices"

	"revidit/review"
	"revidit/review/confidence"
)

// Specimen is how one specimen came out.
type Specimen struct {
	True string
	// Top is the most probable name in the end and P its probability, with all that is known by then.
	Top string
	P   float64
	// FixedTop and FixedP are the same from the same reports with the reliabilities that roles start with.
	FixedTop string
	FixedP   float64
	// Majority is the name with the most votes among owner and reviewers, MajorityShare its share of them.
	Majority      string
	MajorityShare float64
	// LooksOurs is the number of verdicts spent on all specimens when Top last became right: 0 from the start, -1 where it
	// is wrong in the end. LooksArrival is the same when cases are taken in order of arrival.
	LooksOurs, LooksArrival int
	// RightAtStart says whether the top name was right before any reviewer looked.
	RightAtStart bool
}

// lastRight holds what is known in the end against the truth, and returns by specimen the verdicts spent when its top
// name last became right.
func (c *club) lastRight() []int {
	for i := range c.cases {
		c.noted(i, c.cases[i].Assess(c.service(i)).Ranking[0].Family)
	}
	return c.rightAt
}

// outcomes assesses everything with what is known in the end.
func (c *club) outcomes() []Specimen {
	out := make([]Specimen, len(c.cases))
	for i := range c.cases {
		made := &out[i]
		made.True = c.world.Specimens[i].True
		made.RightAtStart = c.cases[i].Submission().Opening.Family == made.True
		top := c.cases[i].Assess(c.service(i)).Ranking[0]
		made.Top, made.P = top.Family, top.P
		c.noted(i, top.Family)
		made.LooksOurs = c.rightAt[i]
		fixed := c.service(i)
		fixed.People = nil
		top = c.cases[i].Assess(fixed).Ranking[0]
		made.FixedTop, made.FixedP = top.Family, top.P
		made.Majority, made.MajorityShare = majority(c.cases[i].Submission())
	}
	return out
}

// majority is the name that most people gave. Of equal ones the one counts that was given last, by a reviewer.
func majority(s *review.Submission) (string, float64) {
	votes := map[string]int{}
	names := []string{s.Determination.Family}
	for _, o := range s.Opinions {
		names = append(names, nameOf(o, s.Determination.Family))
	}
	best := ""
	for _, name := range names {
		votes[name]++
	}
	for _, name := range names {
		if best == "" || votes[name] >= votes[best] {
			best = name
		}
	}
	return best, float64(votes[best]) / float64(len(names))
}

// enoughRight is the share of right top names up to which looks are counted.
const enoughRight = 0.95

// leastShare keeps the logarithm of a majority's share finite where all agree and are wrong.
const leastShare = 1e-3

// forecasts are probabilities of names with whether these are right.
type forecasts struct {
	p     []float64
	right []bool
}

func (f *forecasts) add(p float64, right bool) { f.p, f.right = append(f.p, p), append(f.right, right) }

func (f *forecasts) share() float64 {
	n := 0.0
	for _, r := range f.right {
		if r {
			n++
		}
	}
	return n / float64(len(f.right))
}

func (f *forecasts) scores() (brier, log float64, err error) {
	b, err := confidence.Brier(f.p, f.right)
	if err != nil {
		return 0, 0, err
	}
	rows, truth := make([][]float64, len(f.p)), make([]int, len(f.p))
	for i, p := range f.p {
		p = min(max(p, leastShare), 1-leastShare)
		rows[i] = []float64{p, 1 - p}
		if !f.right[i] {
			truth[i] = 1
		}
	}
	l, err := confidence.LogScore(rows, truth)
	return b.Value, l.Value, err
}

// looksUntil is the number of verdicts after which that share of all names is right for good, or -1.
func looksUntil(share float64, looks []int) int {
	var at []int
	for _, l := range looks {
		if l >= 0 {
			at = append(at, l)
		}
	}
	slices.Sort(at)
	n := int(math.Ceil(share * float64(len(looks))))
	if n > len(at) {
		return -1
	}
	return at[n-1]
}
