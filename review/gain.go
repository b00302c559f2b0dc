package review

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// RegionGain is what one look at a region of the body is expected to tell about the family, in bits, at most 1, by a
// reviewer of whom nothing else is known.
type RegionGain struct {
	Region string  `json:"region"`
	Gain   float64 `json:"gain"`
}

// gainsOf are the gains of one more look at each region, the largest first: what a character that nobody has stated is
// expected to tell, or the doubt about the first name that another look at the stated ones can clear up, whichever is
// more. Every look so far has answered a part of the question, so that the next is expected to tell the less: otherwise
// everybody would be sent to the few cases that nobody can solve.
func gainsOf(a judgement.Assessment, t *diagnosis.Tables, looks int) []RegionGain {
	gains := []RegionGain{}
	for _, region := range t.Regions() {
		best := doubtOf(a)
		for _, n := range a.Next {
			if c, ok := t.Character(n.Character); ok && c.Region == region && n.Group == "" {
				best = max(best, min(1, n.Bits))
			}
		}
		gains = append(gains, RegionGain{Region: region, Gain: best / float64(1+looks)})
	}
	slices.SortStableFunc(gains, func(a, b RegionGain) int { return cmp.Compare(b.Gain, a.Gain) })
	return gains
}

// doubtOf is twice the probability that the first name is wrong, at most 1: a lower bound of the entropy of the question
// whether it is right, in bits.
func doubtOf(a judgement.Assessment) float64 { return min(1, 2*(1-a.Ranking[0].P)) }

// looks is how many people have judged characters of a submission that others had stated.
func (s *Submission) looks(spec *Specimen) int {
	var people []string
	for _, v := range s.Verdicts {
		if o, ok := spec.Observation(v.Observation); ok && v.SelfGiven(o) {
			continue
		}
		people = append(people, v.By)
	}
	slices.Sort(people)
	return len(slices.Compact(people))
}

// WeightsOf are QueueFilter.Weights of a person of whom so much is known.
func WeightsOf(people *Reliability, actor Actor, t *diagnosis.Tables) map[string]float64 {
	weights := map[string]float64{}
	for _, region := range t.Regions() {
		weights[region] = lookWeight(people.Accuracy(actor.Person, actor.Role, region))
	}
	return weights
}

// weighedGain is the largest gain by region, each times the weight of the region (1 where it has none).
func weighedGain(gains []RegionGain, weights map[string]float64) (gain float64, region string) {
	for _, g := range gains {
		weight, ok := weights[g.Region]
		if !ok {
			weight = 1
		}
		if v := g.Gain * weight; v > gain {
			gain, region = v, g.Region
		}
	}
	return gain, region
}

// lookWeight is what a look with an accuracy tells of a yes-or-no question, in bits, in units of what it tells with a
// reviewer's: the capacity of a binary symmetric channel, 1 − H(θ) (Shannon 1948, A Mathematical Theory of
// Communication, section 16). Rounded, so that the order of a queue does not hang on the last digits.
func lookWeight(accuracy float64) float64 {
	return math.Round(1000*confidence.Capacity(accuracy)/confidence.Capacity(ReviewerAccuracy)) / 1000
}
