package review

import (
	"context"
	"fmt"
	"math"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// AgeScaleDays is the age at which an open submission comes as far forward as one where a look tells a whole bit.
const AgeScaleDays = 30

// gainOf is how much one more look is expected to tell about the family, in bits, at most 1: the best of
// what-to-check-next.
func gainOf(next []Next) float64 {
	if len(next) == 0 {
		return 0
	}
	return min(1, next[0].Bits)
}

// RegionGain is what one look at a region of the body is expected to tell about the family, in bits, at most 1, by a
// reviewer of whom nothing else is known.
type RegionGain struct {
	Region string  `json:"region"`
	Gain   float64 `json:"gain"`
}

// gainsOf are the best looks at each region, the most telling first.
func gainsOf(next []Next, t *diagnosis.Tables) []RegionGain {
	gains := []RegionGain{}
	for _, n := range next {
		c, ok := t.Character(n.Character)
		known := func(g RegionGain) bool { return g.Region == c.Region }
		if ok && !slices.ContainsFunc(gains, known) {
			gains = append(gains, RegionGain{Region: c.Region, Gain: min(1, n.Bits)})
		}
	}
	return gains
}

// assessed is the event of an assessment now, with the gain that everybody may know: verdicts count in it only where
// their submission is closed, those of the submission itself by the number of people alone. Where only verdicts are new,
// before is how many people had looked, and the gain is that of then, shared by one more; otherwise before is -1.
func (now *situation) assessed(before int) *Assessed {
	assessment := now.assess(now.submission, now.siblings)
	gain, gains := now.submission.Gain, slices.Clone(now.submission.Gains)
	if before < 0 {
		next := now.openNext(assessment)
		gain, gains, before = gainOf(next), gainsOf(next, now.judge.Tables()), 0
	}
	left := float64(1+before) / float64(1+now.submission.looks())
	for i := range gains {
		gains[i].Gain *= left
	}
	return &Assessed{Assessment: assessment.Brief(), Gain: gain * left, Gains: gains}
}

// openNext is what to check next as far as everybody may know it, given an assessment with all that is known.
func (now *situation) openNext(assessment Assessment) []Next {
	closed := []Submission{}
	hidden := len(now.submission.Verdicts)+len(now.submission.Blind) > 0
	for i := range now.siblings {
		if now.siblings[i].Closed() {
			closed = append(closed, now.siblings[i])
		} else if now.siblings[i].ID != now.submission.ID {
			hidden = true
		}
	}
	if !hidden {
		return assessment.Next
	}
	open := unseenOf(*now.submission)
	return now.assess(&open, closed).Next
}

// looks is how many people have judged characters of a submission. Each of them has answered a part of the question, so
// that the next is expected to tell the less: without that the queue would send everybody to the few cases that nobody
// can solve. That somebody has looked gives away nothing of what was seen.
func (s *Submission) looks() int {
	var people []string
	for _, v := range s.Verdicts {
		people = append(people, v.By)
	}
	slices.Sort(people)
	return len(slices.Compact(people))
}

// weighing is by what the reports of this situation are weighed.
func (now *situation) weighing() weighing {
	return weighing{people: now.people, list: now.policy.List, policy: now.policy.Version}
}

// assess judges a submission of the specimen, and says by which versions.
func (now *situation) assess(s *Submission, siblings []Submission) Assessment {
	return now.weighing().assess(now.judge, s, now.specimen, siblings)
}

func (w weighing) assess(j *Judge, s *Submission, spec *Specimen, siblings []Submission) Assessment {
	e := w.evidenceOf(s, spec, siblings, j.Tables())
	a := j.Assess(e)
	if w.people != nil {
		a.Reliability = w.people.Version
	}
	if e.Prior != nil {
		a.Policy = w.policy
	}
	return a
}

func queueReason(l QueueLine, f QueueFilter) string {
	days := int(f.AsOf.Sub(l.WaitsSince).Hours() / 24)
	if l.Recheck {
		return fmt.Sprintf("closed and drawn for a blind recheck %d %s ago: name the family from the photos", days, plural(days, "day", "days"))
	}
	if l.Priority > l.Gain {
		return fmt.Sprintf("has waited %d %s", days, plural(days, "day", "days"))
	}
	return fmt.Sprintf("one more look by you (%s) is expected to tell %.2f bits about the family", l.Region, l.Gain)
}

// weightsOf are QueueFilter.Weights of a person.
func (s *Service) weightsOf(ctx context.Context, actor Actor, group string) (map[string]float64, error) {
	judge, err := s.Judge(ctx, group)
	if err != nil {
		return nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return nil, err
	}
	return WeightsOf(&people, actor, judge.Tables()), nil
}

// WeightsOf are QueueFilter.Weights of a person of whom so much is known.
func WeightsOf(people *Reliability, actor Actor, t *diagnosis.Tables) map[string]float64 {
	weights := map[string]float64{}
	for _, region := range regionsOf(t) {
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
	return math.Round(1000*confidence.Capacity(accuracy)/confidence.Capacity(reviewerAccuracy)) / 1000
}
