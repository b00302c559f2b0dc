package confidence

import (
	"fmt"
	"math"
)

// Panel says who reports on what, for Reliability.
type Panel struct {
	// Characters are as in Spec, with the roles as the readers of their Ease. A Length is measured, not chosen, and a single
	// state cannot be missed: such characters have no accuracy and no item may be about them.
	Characters []Character
	// Region is the region of the body of each character, from 0 to Regions-1. People have one accuracy for each region.
	Region  []int
	Regions int
	Roles   []Role
	// Persons are the roles of the people, as indices of Roles.
	Persons []int
	// SharedError is as in Spec: the probability that the specimen or photo misleads everybody alike at an ordinary state.
	// An accuracy is about what there was to be seen.
	SharedError float64
}

// Role is what somebody is taken for before anything is known.
type Role struct {
	// Right and Wrong, both above 0, are the reports that the prior of an accuracy counts as: its density is proportional
	// to θ^Right · (1 − θ)^Wrong, so that without any report θ is Right / (Right + Wrong).
	Right, Wrong float64
	// Anchoring is the probability of confirming what one was shown without looking, above 0 and below 1.
	Anchoring float64
	// AnchoringWeight, above 0, is the number of shown verdicts that Anchoring counts as once it is estimated.
	AnchoringWeight float64
}

// RoleOf is a role with the given accuracy and anchoring, each counting as weight reports.
func RoleOf(accuracy, anchoring, weight float64) Role {
	return Role{Right: accuracy * weight, Wrong: (1 - accuracy) * weight, Anchoring: anchoring, AnchoringWeight: weight}
}

func (r Role) accuracy() belief { return belief{of: r.Right, against: r.Wrong} }

func (r Role) anchoring() belief {
	return belief{of: r.Anchoring * r.AnchoringWeight, against: (1 - r.Anchoring) * r.AnchoringWeight}
}

// Item is one character of one specimen.
type Item struct {
	Character int
	// Prior are the probabilities of the true states without the reports below, summing to 1: from the posterior of
	// everything else, or the background. The reports below must not have gone into it, or they would count twice.
	Prior    []float64
	Verdicts []Verdict
}

// Verdict is what one person says about an item. Where a person has several on one item, the blind one counts, else the
// last: looking again at what one has judged already is no independent look.
type Verdict struct {
	Person int
	Kind   ReportKind
	// Blind marks a Stated report as a blind check. An observation of one's own is Stated, too, but not drawn at random.
	Blind bool
	State int // what is stated or was shown
	// Better is the state that a dispute names, or NoState. For Disputed only.
	Better int
	// Fixed, where it is not 0, is an accuracy above 0 and below 1 to take instead of the person's, which learns nothing
	// from this report: that of somebody who says to be unsure.
	Fixed float64
}

func (p Panel) check() error {
	if len(p.Region) != len(p.Characters) {
		return fmt.Errorf("region: %d for %d characters", len(p.Region), len(p.Characters))
	}
	for i, c := range p.Characters {
		if err := c.check(len(p.Roles)); err != nil {
			return fmt.Errorf("character %d: %w", i, err)
		}
		if !within(p.Region[i], p.Regions) {
			return fmt.Errorf("character %d: region %d of %d", i, p.Region[i], p.Regions)
		}
	}
	for i, r := range p.Roles {
		if !positive(r.Right) || !positive(r.Wrong) || !positive(r.AnchoringWeight) {
			return fmt.Errorf("role %d: right, wrong and the weight of the anchoring must be above 0", i)
		}
		if !inside(r.Anchoring) {
			return fmt.Errorf("role %d: the anchoring is %v, not above 0 and below 1", i, r.Anchoring)
		}
	}
	for i, role := range p.Persons {
		if !within(role, len(p.Roles)) {
			return fmt.Errorf("person %d: role %d of %d", i, role, len(p.Roles))
		}
	}
	if !(p.SharedError >= 0 && p.SharedError < 1) {
		return fmt.Errorf("the shared error is %v, not from 0 to below 1", p.SharedError)
	}
	return nil
}

func positive(x float64) bool { return x > 0 && !math.IsInf(x, 1) }

func inside(p float64) bool { return p > 0 && p < 1 }

func (p *Panel) checkItem(item *Item) error {
	if !within(item.Character, len(p.Characters)) {
		return fmt.Errorf("character %d of %d", item.Character, len(p.Characters))
	}
	c := p.Characters[item.Character]
	if c.Kind == Length || c.States < 2 {
		return fmt.Errorf("character %d is a length or has one state: there is no accuracy in it", item.Character)
	}
	if !isDistribution(item.Prior, c.States) {
		return fmt.Errorf("the prior is no distribution over the %d states of character %d", c.States, item.Character)
	}
	for i := range item.Verdicts {
		if err := p.checkVerdict(&item.Verdicts[i], c.States); err != nil {
			return fmt.Errorf("verdict %d: %w", i, err)
		}
	}
	return nil
}

func (p *Panel) checkVerdict(v *Verdict, states int) error {
	switch {
	case !within(v.Person, len(p.Persons)):
		return fmt.Errorf("person %d of %d", v.Person, len(p.Persons))
	case v.Kind < Stated || v.Kind > Disputed:
		return fmt.Errorf("kind %d is not known", v.Kind)
	case v.Blind && v.Kind != Stated:
		return fmt.Errorf("a blind check states, it neither confirms nor disputes")
	case !within(v.State, states):
		return fmt.Errorf("state %d of %d", v.State, states)
	case v.Kind == Disputed && v.Better != NoState && (!within(v.Better, states) || v.Better == v.State):
		return fmt.Errorf("better state %d of %d, beside state %d", v.Better, states, v.State)
	case v.Fixed != 0 && !inside(v.Fixed):
		return fmt.Errorf("the fixed accuracy is %v, not above 0 and below 1", v.Fixed)
	}
	return nil
}
