package confidence

import "math"

// Leaning is a person's readiness to say what is striking, beside how well they see: the criterion of the theory of signal
// detection (Macmillan and Creelman 2005). It is added to logit e_s where the state is striking and taken from it where it is
// another one of the same character, so that with the accuracy of a region it makes two numbers of how often somebody overlooks
// and how often they imagine. It is one for all regions: a habit of the person, for which a region alone has too few reports.
//
// Like the anchoring it is estimated from BlindChecks blind reports on, and 0 before.

// mostLeaning bounds a leaning, in logits: who leans so far imagines, or overlooks, four and a half times as often. Assumed, no
// source.
const mostLeaning = 1.5

// leaningWeight is how many reports of known truth it counts as that nobody leans. Assumed, no source: as of a role.
const leaningWeight = 20

// straight is what is known of a leaning before anything is: its density is that of reports at even odds.
var straight = belief{of: leaningWeight / 2.0, against: leaningWeight / 2.0}

// bounded is a leaning within mostLeaning; what is no number counts as 0.
func bounded(leaning float64) float64 {
	if math.IsNaN(leaning) {
		return 0
	}
	return min(max(leaning, -mostLeaning), mostLeaning)
}

// leanOf is, by state, how a leaning moves it: 1 where it is striking, −1 beside such ones; nil where none is, or all are.
func leanOf(c Character) []float64 {
	striking := 0
	lean := make([]float64, c.States)
	for s := range lean {
		lean[s] = -1
		if c.Striking != nil && c.Striking[s] {
			lean[s] = 1
			striking++
		}
	}
	if striking == 0 || striking == c.States {
		return nil
	}
	return lean
}

// leans says whether a leaning moves a report.
func (c *compiled) leans(r *Report) bool { return r.Leaning != 0 && c.lean != nil }

// leaningSights fills in, by state, the probabilities of reading it right.
func leaningSights(out []float64, r *Report, ease, lean []float64) []float64 {
	for s := range out {
		e := math.Exp(lean[s] * r.Leaning)
		if ease != nil {
			e *= ease[s]
		}
		out[s] = Sight(r.Accuracy, e)
	}
	return out
}

// class is a kind of state to read: its ease, and how a leaning moves it.
type class struct{ ease, lean float64 }

// under is the ease of a class to somebody with a leaning.
func (c class) under(leaning float64) float64 {
	if leaning == 0 || c.lean == 0 {
		return c.ease
	}
	return c.ease * math.Exp(c.lean*leaning)
}

// easesUnder are those of all classes to a person, over the given memory.
func (r *Reliability) easesUnder(out []float64, leaning float64) []float64 {
	out = resized(out, len(r.classes))
	for i, c := range r.classes {
		out[i] = c.under(leaning)
	}
	return out
}

// lean moves the leaning of a person to where Σ_c of_c · ln e_c + against_c · ln(1 − e_c) of their reports and what is known
// before are largest, their accuracies given, and returns the change. In the leaning that is concave, and Newton's method finds it.
func (r *Reliability) lean(person int32, w *weigher) float64 {
	x := r.leaning[person]
	for range skillSteps {
		slope, curvature := r.leanings[person].slope(x)
		for region := range r.panel.Regions {
			slot := person*int32(r.panel.Regions) + int32(region)
			odds := r.accuracy[slot] / (1 - r.accuracy[slot])
			for i, c := range w.counts(slot) {
				lean := r.classes[i].lean
				all := c.of + c.against
				if lean == 0 || all == 0 {
					continue
				}
				e := odds * r.classes[i].under(x)
				e /= 1 + e
				slope += lean * (c.of - all*e)
				curvature += all * e * (1 - e)
			}
		}
		next := bounded(x + min(max(slope/curvature, -1), 1))
		moved := math.Abs(next - x)
		x = next
		if moved < skillTolerance {
			break
		}
	}
	change := math.Abs(x - r.leaning[person])
	r.setLeaning(person, x)
	return change
}

// setLeaning keeps what follows from a leaning with it.
func (r *Reliability) setLeaning(person int32, leaning float64) {
	r.leaning[person] = leaning
	for region := range r.panel.Regions {
		slot := person*int32(r.panel.Regions) + int32(region)
		r.setAccuracy(slot, r.accuracy[slot])
	}
}

// probabilityOf is a leaning as the probability whose logit it is, of which a belief is.
func probabilityOf(leaning float64) float64 { return 1 / (1 + math.Exp(-leaning)) }

// KnownLeaning is what is known about a leaning, ln(Toward / Against): estimated from BlindChecks blind reports on, 0 before.
type KnownLeaning struct {
	Toward, Against float64 // reports at even odds that would tell as much, above 0
}

// Value is the leaning, in logits.
func (k KnownLeaning) Value() float64 {
	if k.Toward <= 0 || k.Against <= 0 {
		return 0
	}
	return bounded(math.Log(k.Toward / k.Against))
}
