package confidence

// eventCount is the distribution of how many of independent events happen, each with its own probability (Poisson 1837).
// It is exact but for outcomes less probable than leastOutcome, which are forgotten: so the time for one more event grows
// with the standard deviation of the number, not with the number, and n events leave out less than 2n · leastOutcome.
type eventCount struct {
	low int       // the outcome of p[0]
	p   []float64 // nil: no event yet
}

// leastOutcome is far below any tail that somebody would act upon.
const leastOutcome = 1e-24

// add takes in an event with probability v.
func (c *eventCount) add(v float64) {
	if c.p == nil {
		c.p = []float64{1}
	}
	if v > 0 {
		c.p = append(c.p, 0)
	}
	for n := len(c.p) - 1; n > 0; n-- {
		c.p[n] = c.p[n]*(1-v) + c.p[n-1]*v
	}
	c.p[0] *= 1 - v
	for len(c.p) > 1 && c.p[len(c.p)-1] < leastOutcome {
		c.p = c.p[:len(c.p)-1]
	}
	for len(c.p) > 1 && c.p[0] < leastOutcome {
		c.p, c.low = c.p[1:], c.low+1
	}
}

// atLeast is the probability that k or more of the events happen. It is summed up from the least probable, so that small tails are not
// lost in rounding.
func (c *eventCount) atLeast(k int) float64 {
	if k <= c.low {
		return 1
	}
	tail := 0.0
	for n := len(c.p) - 1; n >= k-c.low; n-- {
		tail += c.p[n]
	}
	return min(tail, 1)
}
