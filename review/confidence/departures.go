package confidence

import "fmt"

// Departures compares how often two persons departed from a shown state to one and the same other state with how often
// independent eyes would have.
type Departures struct {
	Items    int     // on which both have said what they hold to be true
	Observed int     // both hold the same state, and not the one that was recorded first
	Expected float64 // the mean of Observed if neither had copied the other
	// Tail is the probability of Observed or more then: small where the two share departures that nothing explains.
	Tail     float64
	Warnings []Warning
}

// Departure is one item on which two persons have said what they hold to be true.
type Departure struct {
	Character Character
	// Prior is as in Item. Others are the reports of everybody else on the item; the two are not among them.
	Prior  []float64
	Others []Report
	// Recorded is the state that was recorded first, which the two may have been shown.
	Recorded int
	// First and Second are the two: State is what each holds to be true, Accuracy how reliably each reads. Anchoring is 0
	// for somebody who looked blind.
	First, Second Reading
}

// Reading is what one person holds to be true.
type Reading struct {
	State               int
	Reader              int // of Character.Ease; 0 where there is none
	Accuracy, Anchoring float64
}

// SharedDepartures is a test of copying. Given what there was to be seen, two independent persons depart from the
// recorded state r to the state b with probability
//
//	P = Σ_t q(t) · Σ_{b ≠ r} a_1(b | t) · a_2(b | t),  a_j(b | t) = (1 − α_j) · θ_j(b | t)
//
// (θ and α as in Report), where q is the distribution of what there was to be seen given the prior and all others'
// reports, with a probability sharedError that specimen or photo misled everybody alike. Observed is then a sum of
// independent events of those probabilities, and Tail is exact. Confirming together tells nothing: anchoring explains it.
// People who agree because one knows what the other said share departures that others do not bear out.
//
// The test is our own. It is as good as the accuracies, which come from the same reports, and it cannot tell copying from
// having learnt the same mistake: it names a pair to be asked, not a culprit.
func SharedDepartures(items []Departure, sharedError float64) (Departures, error) {
	var sum DepartureSum
	for i := range items {
		if err := sum.Add(&items[i], sharedError); err != nil {
			return Departures{}, fmt.Errorf("item %d: %w", i, err)
		}
	}
	return sum.Departures(), nil
}

// DepartureSum is SharedDepartures of items that come one by one and are not kept. The zero value has none.
type DepartureSum struct {
	items, observed int
	expected        float64
	number          eventCount
}

// Add takes in one item, and changes nothing where it returns an error.
func (s *DepartureSum) Add(d *Departure, sharedError float64) error {
	if err := d.check(); err != nil {
		return err
	}
	p := d.probability(sharedError)
	s.items++
	s.expected += p
	s.number.add(p)
	if d.First.State == d.Second.State && d.First.State != d.Recorded {
		s.observed++
	}
	return nil
}

// Items is how many were added.
func (s *DepartureSum) Items() int { return s.items }

// Departures is the test over all that was added.
func (s *DepartureSum) Departures() Departures {
	out := Departures{Items: s.items, Observed: s.observed, Expected: s.expected, Tail: s.number.atLeast(s.observed)}
	switch {
	case s.items == 0:
		out.Warnings = []Warning{NoCases}
	case s.items < fewCases:
		out.Warnings = []Warning{FewCases}
	}
	return out
}

func (d *Departure) check() error {
	k := d.Character.States
	if err := d.Character.check(len(d.Character.Ease)); err != nil {
		return err
	}
	if d.Character.Kind == Length || k < 2 {
		return fmt.Errorf("a length or a single state has nothing to depart to")
	}
	if !isDistribution(d.Prior, k) {
		return fmt.Errorf("the prior is no distribution over %d states", k)
	}
	for _, s := range []int{d.Recorded, d.First.State, d.Second.State} {
		if !within(s, k) {
			return fmt.Errorf("state %d of %d", s, k)
		}
	}
	return nil
}

// probability is P.
func (d *Departure) probability(sharedError float64) float64 {
	c := newCompiled(d.Character, sharedError)
	total := 0.0
	for t, q := range d.appearance(&c) {
		for b := range c.states {
			if b != d.Recorded {
				total += q * d.First.holds(&c, b, t) * d.Second.holds(&c, b, t)
			}
		}
	}
	return total
}

func (r Reading) holds(c *compiled, b, t int) float64 {
	right, looking := unit(r.Accuracy), 1-unit(r.Anchoring)
	if ease := c.reading(r.Reader).ease; ease != nil {
		right = Sight(right, ease[t])
	}
	if b == t {
		return looking * right
	}
	return looking * (1 - right) * c.misreading[t*c.states+b]
}

// appearance is q: the distribution of what there was to be seen.
func (d *Departure) appearance(c *compiled) []float64 {
	q := c.appearance(d.Prior)
	for _, r := range d.Others {
		r.Accuracy, r.Anchoring = unit(r.Accuracy), unit(r.Anchoring)
		c.multiply(q, r)
	}
	total := sum(q)
	if total <= 0 {
		// What the others say is impossible under the prior: then the prior is all there is.
		return d.Prior
	}
	for t := range q {
		q[t] /= total
	}
	return q
}
