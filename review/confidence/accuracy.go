package confidence

import "math"

// Accuracy is an estimated accuracy of one person on one region.
type Accuracy struct {
	// Value is θ, the probability of reading an ordinary state that is to be seen, above 0 and below 1.
	Value float64
	// StandardError is 1 / √information, with the information of the reports (Louis 1982) and that of the prior. It takes
	// the other parameters as known, so it is somewhat too small where θ and α trade off.
	StandardError float64
	// Right and Wrong are the reports of known truth that would tell as much, the prior among them: θ has about the
	// distribution Beta(Right + 1, Wrong + 1), whose mode is Value.
	Right, Wrong float64
	Verdicts     int // reports that were used
	Blind        int // blind ones among them
	Warnings     []Warning
}

// Accuracy returns the estimate of a person on a region. It panics where an index is out of range.
func (r *Reliability) Accuracy(person, region int) Accuracy {
	slot := person*r.panel.Regions + region
	p, known, tally := r.accuracy[slot], r.known[slot], r.tallies[slot]
	out := Accuracy{Value: p, StandardError: 1 / math.Sqrt(known.information(p)), Right: known.of, Wrong: known.against,
		Verdicts: tally.verdicts, Blind: tally.blind}
	if known.information(p) < 2*r.role(person).accuracy().information(p) {
		out.Warnings = append(out.Warnings, PriorDecides)
	}
	if tally.blind == 0 {
		out.Warnings = append(out.Warnings, NeverBlind)
	}
	if p < 0.5 || p <= r.leastOf(int32(slot)) {
		out.Warnings = append(out.Warnings, WorseThanHalf)
	}
	return out
}

// AnchoringEstimate is the anchoring of one person.
type AnchoringEstimate struct {
	// Value is α, the probability of confirming what is shown without looking, above 0 and below 1.
	Value float64
	// Estimated is false where Value is the role's, with fewer than BlindChecks blind reports; StandardError is then 0.
	Estimated     bool
	StandardError float64
	Shown         int // verdicts on what was shown
	Blind         int // blind reports, on all regions
	Warnings      []Warning
}

// Anchoring returns the anchoring of a person. It panics where the index is out of range.
func (r *Reliability) Anchoring(person int) AnchoringEstimate {
	p, known, shown := r.anchoring[person], r.anchors[person], r.shown[person]
	out := AnchoringEstimate{Value: p, Estimated: r.estimatesAnchoring(person), Shown: shown.verdicts, Blind: shown.blind}
	if !out.Estimated {
		out.Warnings = append(out.Warnings, RoleAnchoring)
		return out
	}
	out.StandardError = 1 / math.Sqrt(known.information(p))
	if known.information(p) < 2*r.role(person).anchoring().information(p) {
		out.Warnings = append(out.Warnings, PriorDecides)
	}
	return out
}

// Items is the number of items taken in.
func (r *Reliability) Items() int { return r.items }

// Warnings are those of the whole fit.
func (r *Reliability) Warnings() []Warning {
	var out []Warning
	if !r.Converged {
		out = append(out, NotConverged)
	}
	if !r.shared {
		out = append(out, NothingShared)
	}
	for j := range r.shown {
		if r.estimatesAnchoring(j) {
			return out
		}
	}
	return append(out, NoBlindChecks)
}
