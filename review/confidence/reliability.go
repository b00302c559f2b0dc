// # What reliability can and cannot know
//
// Reliability estimates an accuracy θ for each person and region of the body, and an anchoring α for each person, from
// reports whose truth nobody knows. DawidSkene is the method as published, with a full matrix of error rates for each
// observer. Both find the parameters that explain the agreement best, and some things cannot be told from reports alone:
//
//   - θ and α trade off. Somebody who confirms nearly everything may see well or may not look: where most of what is
//     shown is right, α + (1 − α)·θ is all that shows. Only blind reports tell them apart, so α stays the role's until
//     a person has BlindChecks of them.
//   - A group that errs together looks like a group that is right. Neither more reports nor more iterations help; only
//     people outside the group, the prior of the item, or a blind panel do. The reports are taken as independent given
//     what there is to be seen.
//   - The names of the states are not in the data. With everybody right or everybody wrong in the same permutation the
//     likelihood is the same; of the mirrored solutions the fit takes the one near the roles' priors, where it starts, and
//     no accuracy is let fall so low that a report of a state would speak against it. Somebody who has two states by
//     each other's names is seen as somebody whose reports on that region tell nothing.
//   - Misreading has a direction: how often a state is overlooked and how often it is imagined are two numbers
//     (Green and Swets 1966; Macmillan and Creelman 2005). Both are the role's, as the tables say, moved by the
//     person's one δ: somebody who sees better overlooks less and imagines less. That somebody is readier than others to
//     say what is striking (a criterion of their own, KnownLeaning) is hard to tell from seeing better or worse where
//     the truth is not known, and striking states are rare: it is nothing until a person has BlindChecks blind reports,
//     and one number for all regions from then on. α waits for the same.
//   - Who is never on an item with others is compared with the item's prior only, and people who share items among
//     themselves only are compared with each other only.
//   - The confusion weights are everybody's. Somebody who mixes up another pair than most is seen as less accurate.
//   - What is judged may be easier than what is not: θ holds for items like those reported on.
//
// The prior of the role decides where reports are few, which of mirrored solutions is taken, and how far anybody can be
// from certain: with Right and Wrong above 0 no accuracy is 0 or 1.
package confidence

import (
	"fmt"
	"math"
)

// BlindChecks is the number of blind reports from which a person's anchoring is estimated. Our own choice, no source:
// with thirty, the share that agrees with what is shown has a standard error of nine hundredths at most.
const BlindChecks = 30

// ReliabilityOptions: the zero value stands for a tolerance of 1e-5 and at most 500 iterations. Where most is confirmed
// one step is about a tenth of what is left to go, so 1e-5 leaves about 1e-4, far below any standard error.
type ReliabilityOptions struct {
	// Tolerance is the largest change of an accuracy or anchoring in one iteration at which the fit ends.
	Tolerance     float64
	MaxIterations int
}

func (o ReliabilityOptions) orDefaults() (ReliabilityOptions, error) {
	if !(o.Tolerance >= 0) || o.MaxIterations < 0 {
		return o, fmt.Errorf("options: tolerance %v, %d iterations: none may be below 0", o.Tolerance, o.MaxIterations)
	}
	if o.Tolerance == 0 {
		o.Tolerance = 1e-5
	}
	if o.MaxIterations == 0 {
		o.MaxIterations = 500
	}
	return o, nil
}

// Reliability is how far people can be relied on, as estimated from their reports.
//
// Model: an item shows a state s with a prior probability. Person j reads it right with e_s, else the confusion weights of
// s say which other state is read. logit e_s is that of the role at s plus one δ for each person and region; it is given as
// θ, the accuracy at a state to which the role's Ease is 1. The report follows from the reading as in Report: blind reports and observations tell
// it, shown verdicts confirm without a look with probability α. The estimate is the mode of the posterior under the
// priors of Role, by EM (Dempster, Laird and Rubin 1977; Dawid and Skene 1979) with the state, and whether a person
// looked and read right, as what is missing. The log posterior never falls from one iteration to the next.
//
// Sources: Dempster A.P., Laird N.M., Rubin D.B. 1977. Maximum likelihood from incomplete data via the EM algorithm.
// Journal of the Royal Statistical Society B 39: 1-38; for the errors Louis T.A. 1982. Finding the observed information
// matrix when using the EM algorithm. Journal of the Royal Statistical Society B 44: 226-233. One accuracy with shared
// confusion weights, and anchoring, are our own; TestFitIsAMaximum checks the result against the formula of Report.
//
// A Reliability may be read by many at once; Add must not run beside anything else.
type Reliability struct {
	panel   Panel
	errors  []errorTable
	fixed   map[float64]int32
	classes []class   // the different kinds of states: the first is the ordinary one
	room    []float64 // for the eases of the classes to somebody
	// misreadings are those of the characters, by character; nil of a length.
	misreadings [][]float64
	accuracy    []float64 // θ by person and region, then the fixed ones
	sights      []float64 // e by the same and ease
	least       []float64 // the least θ by role and region
	known       []belief  // about θ, without the fixed ones
	tallies     []tally   // the same
	anchoring   []float64 // α by person
	anchors     []belief  // about α
	leaning     []float64 // in logits, by person
	leanings    []belief  // about the probabilities whose logits these are
	shown       []tally   // by person: verdicts on what was shown, and blind reports
	items       int
	shared      bool // some item has reports of two people

	// LogPosterior is the natural logarithm of likelihood times priors, up to a constant, at the start of each iteration
	// of the last fit or Add.
	LogPosterior []float64
	Converged    bool
}

// belief is what is known about a probability: the reports of known truth, for it and against it, that would tell as
// much. Its density is proportional to p^of · (1 − p)^against.
type belief struct{ of, against float64 }

// mode is the most probable value, with further counts.
func (b belief) mode(c counts) float64 {
	return (b.of + c.of) / (b.of + b.against + c.of + c.against)
}

// after has the mode p and the information of both about p.
func (b belief) after(information, p float64) belief {
	worth := (b.information(p) + information) * p * (1 - p)
	return belief{of: worth * p, against: worth * (1 - p)}
}

// afterLogit is after, with the information about the logit of p. At the least p that is let be the reports would have it
// lower, and what is known counts as much as before at least.
func (b belief) afterLogit(information, p float64) belief {
	_, own := b.slope(math.Log(p / (1 - p)))
	worth := (own + information) / (p * (1 - p))
	if !(worth > 0) {
		worth = b.of + b.against
	}
	return belief{of: worth * p, against: worth * (1 - p)}
}

func (b belief) information(p float64) float64 { return b.of/(p*p) + b.against/((1-p)*(1-p)) }

func (b belief) log(p float64) float64 { return b.of*math.Log(p) + b.against*math.Log(1-p) }

type tally struct{ verdicts, blind int }

// NewReliability knows the roles' priors only.
func NewReliability(panel Panel) (*Reliability, error) {
	if err := panel.check(); err != nil {
		return nil, fmt.Errorf("panel: %w", err)
	}
	r := &Reliability{panel: panel, fixed: map[float64]int32{}, Converged: true,
		tallies: make([]tally, len(panel.Persons)*panel.Regions), shown: make([]tally, len(panel.Persons))}
	if r.classes = classesIn(panel.Characters, len(panel.Roles)); len(r.classes) > mostClasses {
		return nil, fmt.Errorf("panel: the states are of %d different kinds, more than %d", len(r.classes), mostClasses)
	}
	for _, c := range panel.Characters {
		e := newErrorTable(c, panel.SharedError)
		e.classes = classesOf(c, r.classes, len(panel.Roles))
		r.errors = append(r.errors, e)
		var w []float64
		if c.Kind != Length {
			w = misreading(c)
		}
		r.misreadings = append(r.misreadings, w)
	}
	r.addLeast()
	for j := range panel.Persons {
		role := r.role(j)
		r.anchoring = append(r.anchoring, role.Anchoring)
		r.anchors = append(r.anchors, role.anchoring())
		r.leaning, r.leanings = append(r.leaning, 0), append(r.leanings, straight)
		for range panel.Regions {
			r.accuracy = append(r.accuracy, role.accuracy().mode(counts{}))
			r.known = append(r.known, role.accuracy())
		}
	}
	r.sights = make([]float64, len(r.accuracy)*len(r.classes))
	for slot, p := range r.accuracy {
		r.setAccuracy(int32(slot), p)
	}
	return r, nil
}

// FitReliability is the refit from all reports. Neither the order of the items nor that of the people changes it by more
// than rounding; equal input gives an equal result. It starts from the roles' priors.
func FitReliability(panel Panel, items []Item, options ReliabilityOptions) (*Reliability, error) {
	r, err := NewReliability(panel)
	if err != nil {
		return nil, err
	}
	if err := r.learn(items, options); err != nil {
		return nil, err
	}
	return r, nil
}

// Add takes in the items of one more closed submission without going back to the older ones: what is known about each
// person by then (Accuracy.Right and Wrong) is the prior for the new items. It forgets how the older estimates depended
// on each other; the share of that in the error vanishes as reports grow in number, and the estimates approach those of
// FitReliability. TestOnlineApproachesRefit states how near in the mean: an accuracy to 0.02 from two hundred reports for
// each person and region, to 0.01 from eight hundred, to 0.004 from three thousand.
//
// A person's anchoring is learnt from the submission that brings the thirtieth blind check on, without the verdicts
// before it. Refit then, from time to time, and whenever a submission is reopened: an item must be added once only.
func (r *Reliability) Add(items []Item) error { return r.learn(items, ReliabilityOptions{}) }

// learn leaves everything as it was where it returns an error.
func (r *Reliability) learn(items []Item, o ReliabilityOptions) error {
	o, err := o.orDefaults()
	if err != nil {
		return err
	}
	b, err := r.compile(items)
	if err != nil {
		return err
	}
	r.tally(b)
	r.iterate(newWeigher(r, b), o)
	return nil
}

func (r *Reliability) iterate(w *weigher, o ReliabilityOptions) {
	r.Converged, r.LogPosterior = false, nil
	for range o.MaxIterations {
		logPrior := r.logPrior(w)
		r.LogPosterior = append(r.LogPosterior, logPrior+w.weighAll(false))
		if r.improve(w) < o.Tolerance {
			r.Converged = true
			break
		}
	}
	w.weighAll(true)
	r.keep(w)
}

// tally counts the reports, which no iteration changes.
func (r *Reliability) tally(b *batch) {
	r.items += len(b.character)
	for i := range b.character {
		r.shared = r.shared || b.first[i+1]-b.first[i] > 1
	}
	for _, l := range b.looks {
		if l.kind != lookStated {
			r.shown[l.person].verdicts++
		}
		if l.blind {
			r.shown[l.person].blind++
		}
		if int(l.slot) >= len(r.known) {
			continue
		}
		r.tallies[l.slot].verdicts++
		if l.blind {
			r.tallies[l.slot].blind++
		}
	}
}

// improve is the second step of EM, and returns the largest change.
func (r *Reliability) improve(w *weigher) float64 {
	change := 0.0
	for _, slot := range w.slots {
		r.room = r.easesUnder(r.room, r.leaning[int(slot)/r.panel.Regions])
		p := accuracyFor(r.known[slot], w.counts(slot), r.room, r.accuracy[slot])
		p = max(p, r.leastOf(slot))
		change = max(change, math.Abs(p-r.accuracy[slot]))
		r.setAccuracy(slot, p)
	}
	for _, j := range w.persons {
		p := r.anchors[j].mode(w.anchoring[j])
		change = max(change, math.Abs(p-r.anchoring[j]))
		r.anchoring[j] = p
		change = max(change, r.lean(j, w))
	}
	return change
}

// keep makes what is known now the prior of what comes.
func (r *Reliability) keep(w *weigher) {
	for _, slot := range w.slots {
		r.known[slot] = r.known[slot].afterLogit(w.information[slot], r.accuracy[slot])
	}
	for _, j := range w.persons {
		r.anchors[j] = r.anchors[j].after(w.known[j], r.anchoring[j])
		r.leanings[j] = r.leanings[j].afterLogit(w.leaning[j], probabilityOf(r.leaning[j]))
	}
}

func (r *Reliability) logPrior(w *weigher) float64 {
	log := 0.0
	for _, slot := range w.slots {
		log += r.known[slot].log(r.accuracy[slot])
	}
	for _, j := range w.persons {
		log += r.anchors[j].log(r.anchoring[j]) + r.leanings[j].log(probabilityOf(r.leaning[j])) - r.leanings[j].log(0.5)
	}
	return log
}

func (r *Reliability) role(person int) Role { return r.panel.Roles[r.panel.Persons[person]] }

func (r *Reliability) estimatesAnchoring(person int) bool {
	return r.shown[person].blind >= BlindChecks
}
