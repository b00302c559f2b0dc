package confidence

import (
	"fmt"
	"math"
)

// Known is all that a Reliability has learnt about one person: kept, it lets another Reliability go on from there.
type Known struct {
	Accuracy  []KnownAccuracy // by region
	Anchoring KnownAnchoring
	Leaning   KnownLeaning // the zero value: as of nobody in particular
}

// KnownAccuracy is what is known about one accuracy, the prior of the role included: θ = Right / (Right + Wrong), the
// accuracy at an ordinary state, whose logit less that of the role is δ. What was kept when every state counted as an
// ordinary one is read as such: it was a mean over all states, and stands until the next refit weighs the reports anew.
type KnownAccuracy struct {
	Right, Wrong    float64 // reports of known truth that would tell as much, above 0
	Verdicts, Blind int     // reports that were used, and blind ones among them
}

// Value is θ, the probability of reading what there is to be seen, above 0 and below 1.
func (k KnownAccuracy) Value() float64 { return k.Right / (k.Right + k.Wrong) }

// StandardError is that of Accuracy.
func (k KnownAccuracy) StandardError() float64 {
	return 1 / math.Sqrt(belief{k.Right, k.Wrong}.information(k.Value()))
}

// KnownAnchoring is what is known about an anchoring: α = Unlooked / (Unlooked + Looked), estimated from BlindChecks
// blind reports on and that of the role before.
type KnownAnchoring struct {
	Unlooked, Looked float64 // shown verdicts of known kind that would tell as much, above 0
	Shown, Blind     int     // verdicts on what was shown, and blind reports on all regions
}

// Value is α, the probability of confirming what is shown without looking, above 0 and below 1.
func (k KnownAnchoring) Value() float64 { return k.Unlooked / (k.Unlooked + k.Looked) }

// Estimated is false where Value is the role's.
func (k KnownAnchoring) Estimated() bool { return k.Blind >= BlindChecks }

// StandardError is that of AnchoringEstimate.
func (k KnownAnchoring) StandardError() float64 {
	if !k.Estimated() {
		return 0
	}
	return 1 / math.Sqrt(belief{k.Unlooked, k.Looked}.information(k.Value()))
}

// Known returns what has been learnt about a person. It panics where the index is out of range.
func (r *Reliability) Known(person int) Known {
	out := Known{Anchoring: KnownAnchoring{Unlooked: r.anchors[person].of, Looked: r.anchors[person].against,
		Shown: r.shown[person].verdicts, Blind: r.shown[person].blind},
		Leaning: KnownLeaning{Toward: r.leanings[person].of, Against: r.leanings[person].against}}
	for region := range r.panel.Regions {
		slot := person*r.panel.Regions + region
		out.Accuracy = append(out.Accuracy, KnownAccuracy{Right: r.known[slot].of, Wrong: r.known[slot].against,
			Verdicts: r.tallies[slot].verdicts, Blind: r.tallies[slot].blind})
	}
	return out
}

// Resume puts what was learnt elsewhere in place of the role's prior. It leaves everything as it was where it returns an
// error.
func (r *Reliability) Resume(person int, k Known) error {
	if err := k.check(r.panel.Regions); err != nil {
		return fmt.Errorf("person %d: %w", person, err)
	}
	r.leanings[person], r.leaning[person] = straight, 0
	if k.Leaning != (KnownLeaning{}) {
		r.leanings[person], r.leaning[person] = belief{k.Leaning.Toward, k.Leaning.Against}, k.Leaning.Value()
	}
	for region, a := range k.Accuracy {
		slot := person*r.panel.Regions + region
		r.known[slot] = belief{a.Right, a.Wrong}
		r.setAccuracy(int32(slot), a.Value())
		r.tallies[slot] = tally{a.Verdicts, a.Blind}
	}
	r.anchors[person], r.anchoring[person] = belief{k.Anchoring.Unlooked, k.Anchoring.Looked}, k.Anchoring.Value()
	r.shown[person] = tally{k.Anchoring.Shown, k.Anchoring.Blind}
	return nil
}

func (k Known) check(regions int) error {
	if len(k.Accuracy) != regions {
		return fmt.Errorf("%d accuracies for %d regions", len(k.Accuracy), regions)
	}
	for region, a := range k.Accuracy {
		if !positive(a.Right) || !positive(a.Wrong) || a.Verdicts < 0 || a.Blind < 0 {
			return fmt.Errorf("region %d: what is known of the accuracy is %+v", region, a)
		}
	}
	if l := k.Leaning; l != (KnownLeaning{}) && (!positive(l.Toward) || !positive(l.Against)) {
		return fmt.Errorf("what is known of the leaning is %+v", l)
	}
	a := k.Anchoring
	if !positive(a.Unlooked) || !positive(a.Looked) || a.Shown < 0 || a.Blind < 0 {
		return fmt.Errorf("what is known of the anchoring is %+v", a)
	}
	return nil
}
