package review

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
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
func gainsOf(a Assessment, t *diagnosis.Tables, looks int) []RegionGain {
	gains := []RegionGain{}
	for _, region := range regionsOf(t) {
		best := doubtOf(a)
		for _, n := range a.Next {
			if c, ok := t.Character(n.Character); ok && c.Region == region {
				best = max(best, min(1, n.Bits))
				break
			}
		}
		gains = append(gains, RegionGain{Region: region, Gain: best / float64(1+looks)})
	}
	slices.SortStableFunc(gains, func(a, b RegionGain) int { return cmp.Compare(b.Gain, a.Gain) })
	return gains
}

// doubtOf is twice the probability that the first name is wrong, at most 1: a lower bound of the entropy of the question
// whether it is right, in bits.
func doubtOf(a Assessment) float64 { return min(1, 2*(1-a.Ranking[0].P)) }

// looks is how many people have judged characters of a submission.
func (s *Submission) looks() int {
	var people []string
	for _, v := range s.Verdicts {
		people = append(people, v.By)
	}
	slices.Sort(people)
	return len(slices.Compact(people))
}

// assessed is the event of an assessment now. The gain counts what reviewers said: a queue that did not would send people
// to cases that others have cleared up. Who has not looked is shown the order alone, not the numbers.
func (now *situation) assessed() *Assessed {
	assessment := now.assess(now.submission, now.siblings)
	gains := gainsOf(assessment, now.judge.Tables(), now.submission.looks())
	return &Assessed{Assessment: assessment.Brief(), Gain: gains[0].Gain, Gains: gains}
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
	if w.look != nil {
		e.Look = *w.look
	}
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
	words := fmt.Sprintf("%d %s", days, plural(days, "day", "days"))
	switch {
	case l.Recheck && days == 0:
		return "closed and drawn for a blind recheck today"
	case l.Recheck:
		return "closed and drawn for a blind recheck " + words + " ago"
	case l.Blind:
		return "drawn by chance for a blind look by you; has waited " + words
	case l.others() && l.Region == "":
		return "others have looked, and what they say stays closed until you have saved yours; has waited " + words
	case l.LongestWaiting:
		return "has waited longest of those left: " + words
	case l.Region == "":
		return "has waited " + words
	}
	return fmt.Sprintf("one more look by you (%s) is expected to tell %.2f bits about the family", l.Region, l.Gain)
}

// weightsOf are QueueFilter.Weights of a person.
func (s *Service) weightsOf(ctx context.Context, actor Actor, group string) (map[string]float64, error) {
	judge, err := s.Judge(ctx, group)
	if KindOf(err) == KindNotFound {
		return nil, nil // the queue of a group that is not there is empty
	}
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
