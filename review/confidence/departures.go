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
	out := Departures{Items: len(items), Tail: 1}
	if len(items) == 0 {
		out.Warnings = []Warning{NoCases}
		return out, nil
	}
	if len(items) < fewCases {
		out.Warnings = []Warning{FewCases}
	}
	p := make([]float64, len(items))
	for i := range items {
		if err := items[i].check(); err != nil {
			return Departures{}, fmt.Errorf("item %d: %w", i, err)
		}
		p[i] = items[i].probability(sharedError)
		out.Expected += p[i]
		if items[i].First.State == items[i].Second.State && items[i].First.State != items[i].Recorded {
			out.Observed++
		}
	}
	out.Tail = atLeast(p, out.Observed)
	return out, nil
}

func (d *Departure) check() error {
	k := d.Character.States
	if err := d.Character.check(); err != nil {
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
	c := compiled{kind: d.Character.Kind, states: d.Character.States, misreading: misreading(d.Character)}
	c.readAs = transposed(c.misreading, c.states)
	total := 0.0
	for t, q := range d.appearance(&c, sharedError) {
		for b := range c.states {
			if b != d.Recorded {
				total += q * d.First.holds(&c, b, t) * d.Second.holds(&c, b, t)
			}
		}
	}
	return total
}

func (r Reading) holds(c *compiled, b, t int) float64 {
	accuracy, looking := unit(r.Accuracy), 1-unit(r.Anchoring)
	if b == t {
		return looking * accuracy
	}
	return looking * (1 - accuracy) * c.misreading[t*c.states+b]
}

// appearance is q: the distribution of what there was to be seen.
func (d *Departure) appearance(c *compiled, sharedError float64) []float64 {
	q := make([]float64, c.states)
	for t := range q {
		q[t] = (1 - sharedError) * d.Prior[t]
		for s, p := range d.Prior {
			q[t] += sharedError * p * c.misreading[s*c.states+t]
		}
	}
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

// atLeast is the probability that k or more of independent events with probabilities p happen.
func atLeast(p []float64, k int) float64 {
	if k <= 0 {
		return 1
	}
	// fewer[n] is the probability of n events so far, n below k.
	fewer := make([]float64, k)
	fewer[0] = 1
	for _, v := range p {
		for n := k - 1; n > 0; n-- {
			fewer[n] = fewer[n]*(1-v) + fewer[n-1]*v
		}
		fewer[0] *= 1 - v
	}
	return min(max(1-sum(fewer), 0), 1)
}
