package confidence

import "math"

// leftOut is the posterior probability of all forms together that Information may leave out, the least probable ones:
// after a few observations that is nearly all of them. It changes a result by less than leftOut · log2(n / leftOut) bits
// for n forms, 0.00025 bits for 260: each form left out takes at most w · log2(1/w) from the sums, which is largest where
// all are alike.
const leftOut = 1e-5

// Information is, for each character that is not seen, the expected information in bits about the hypothesis from one
// report by a person of the given accuracy (one value for each character): the mutual information of hypothesis and
// report given all that is known, over the posterior of the forms. It is 0 for seen characters. A character that depends
// on a seen one counts with their exponent.
func (p *Posterior) Information(accuracy []float64) []float64 {
	m := p.model
	bits := make([]float64, len(m.characters))
	weights := p.formWeights()
	for c := range bits {
		if contains(p.Seen, c) {
			continue
		}
		bits[c] = p.information(&m.characters[c], unit(accuracy[c]), weights) * m.exponentBeside(c, p.Seen)
	}
	return bits
}

// formWeights are P(hypothesis, form | reports), 0 where left out, by form.
func (p *Posterior) formWeights() []float64 {
	m := p.model
	weights := make([]float64, m.forms())
	negligible := leftOut / float64(m.forms())
	for h, prob := range p.P {
		for f := m.first[h]; f < m.first[h+1]; f++ {
			if w := prob * math.Exp(p.formLog[f]-p.LogLikelihood[h]); w >= negligible {
				weights[f] = w
			}
		}
	}
	return weights
}

// information is Σ_h P(h) · Σ_r P(r | h) · log2 [P(r | h) / P(r)], with the joint probabilities P(h, r).
func (p *Posterior) information(c *compiled, accuracy float64, weights []float64) float64 {
	m := p.model
	right, wrong := accuracy, 1-accuracy
	var mix, joint [MaxStates]float64
	total := 0.0
	for h := range p.P {
		part := joint[:c.states]
		clear(part)
		mass := 0.0
		for f := m.first[h]; f < m.first[h+1]; f++ {
			w := weights[f]
			if w == 0 {
				continue
			}
			mass += w
			rightly, wrongly := c.rightly[f*c.states:][:len(part)], c.wrongly[f*c.states:][:len(part)]
			for r := range part {
				part[r] += w * (right*rightly[r] + wrong*wrongly[r])
			}
		}
		if mass == 0 {
			continue
		}
		for r, v := range part {
			mix[r] += v
			total += plogp(v)
		}
		total -= plogp(mass)
	}
	for _, v := range mix[:c.states] {
		total -= plogp(v)
	}
	return max(total+plogp(sum(mix[:c.states])), 0) / math.Ln2
}

// exponentBeside is the exponent that a character would have beside the seen ones.
func (m *Model) exponentBeside(character int, seen []int) float64 {
	e := 1.0
	for _, d := range m.dependent {
		if !contains(d.Characters, character) {
			continue
		}
		for _, c := range seen {
			if contains(d.Characters, c) {
				e = min(e, d.Exponent)
			}
		}
	}
	return e
}

func sum(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total
}
