package simulator

import (
	"fmt"
	"math"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/judgement"
)

// Signs are what the service itself can see of a bad day, without knowing the truth.
type Signs struct {
	// Panel is how many closed cases a blind panel has named, Claimed the mean probability that the service had claimed
	// for its names, Found the share of these that the panel gives as well.
	Panel          int
	Claimed, Found float64
	// Contradicted is the share of confirmed cases against which an excluded or unusual state still stands.
	Contradicted float64
	// First is what is known of the first reviewer, Second of the others in the mean.
	First, Others Eye
	// Pair is how much the first two reviewers agree (Cohen's kappa of their verdicts on the same observations); Pairs and
	// PairsSpread are mean and standard deviation of all other pairs.
	Pair, Pairs, PairsSpread float64
}

// Eye is how reviewers look: their estimated anchoring, the share of shown states that they dispute, and the share of
// blind looks that see another state than the one that was stated.
type Eye struct{ Anchoring, Disputes, BlindDiffers float64 }

func (c *club) signs() (Signs, error) {
	var s Signs
	c.panel(&s)
	c.contradicted(&s)
	c.eyes(&s)
	return s, c.pairs(&s)
}

// panel asks the panels that chance has drawn, and takes their word for the truth.
func (c *club) panel(s *Signs) {
	for i := range c.cases {
		sub := c.cases[i].Submission()
		if sub.Recheck == nil {
			continue
		}
		recheck := *sub.Recheck
		for _, person := range c.panelists(i, sub) {
			recheck.Opinions = append(recheck.Opinions, review.PanelOpinion{Family: c.world.PanelName(i, person), By: c.world.People[person].ID})
		}
		truth, ok := recheck.Truth()
		if !ok {
			continue
		}
		s.Panel++
		s.Claimed += recheck.Closing.P
		if truth == recheck.Closing.Family {
			s.Found++
		}
	}
	s.Claimed /= float64(max(s.Panel, 1))
	s.Found /= float64(max(s.Panel, 1))
}

// panelists are reviewers who have had nothing to do with a case, in an order that begins with another one each time.
func (c *club) panelists(i int, sub *review.Submission) []int {
	known := map[string]bool{}
	for _, id := range sub.KnownTo() {
		known[id] = true
	}
	var out []int
	for n := range c.world.People {
		person := (i + n) % len(c.world.People)
		if p := &c.world.People[person]; p.Reviewer && !known[p.ID] && len(out) < sub.Recheck.Panel {
			out = append(out, person)
		}
	}
	return out
}

func (c *club) contradicted(s *Signs) {
	confirmed := 0.0
	for i := range c.cases {
		sub := c.cases[i].Submission()
		if sub.Status != review.StatusConfirmed {
			continue
		}
		confirmed++
		for _, f := range sub.Assessment.Contradictions {
			if f.Kind == judgement.Excluded || f.Kind == judgement.Unusual {
				s.Contradicted++
				break
			}
		}
	}
	s.Contradicted /= max(confirmed, 1)
}

func (c *club) reviewers() []string {
	var ids []string
	for i := range c.world.People {
		if c.world.People[i].Reviewer {
			ids = append(ids, c.world.People[i].ID)
		}
	}
	return ids
}

func (c *club) eyes(s *Signs) {
	type counts struct{ shown, disputed, blind, differs float64 }
	by := map[string]*counts{}
	ids := c.reviewers()
	for _, id := range ids {
		by[id] = &counts{}
	}
	for i := range c.cases {
		sub := c.cases[i].Submission()
		for _, v := range sub.Verdicts {
			by[v.By].shown++
			if v.Kind == review.VerdictDispute {
				by[v.By].disputed++
			}
		}
		for _, b := range sub.Blind {
			by[b.By].blind++
			if o, ok := c.cases[i].Specimen().Observation(b.Observation); ok && o.State != b.State {
				by[b.By].differs++
			}
		}
	}
	eye := func(id string) Eye {
		n := by[id]
		return Eye{c.people.Anchoring(id, review.RoleReviewer), n.disputed / max(n.shown, 1), n.differs / max(n.blind, 1)}
	}
	s.First = eye(ids[0])
	for _, id := range ids[1:] {
		e, n := eye(id), float64(len(ids)-1)
		s.Others.Anchoring += e.Anchoring / n
		s.Others.Disputes += e.Disputes / n
		s.Others.BlindDiffers += e.BlindDiffers / n
	}
}

// pairs compares what two reviewers said of the same observations, for every two.
func (c *club) pairs(s *Signs) error {
	ids := c.reviewers()
	index := map[string]int{}
	for i, id := range ids {
		index[id] = i
	}
	tables := make([][][2][2]float64, len(ids))
	for a := range tables {
		tables[a] = make([][2][2]float64, len(ids))
	}
	for i := range c.cases {
		verdicts := c.cases[i].Submission().Verdicts
		for n, v := range verdicts {
			for _, o := range verdicts[n+1:] {
				if v.Observation != o.Observation {
					continue
				}
				first, second := v, o
				if index[first.By] > index[second.By] {
					first, second = second, first
				}
				tables[index[first.By]][index[second.By]][said(first)][said(second)]++
			}
		}
	}
	var others []float64
	for a := range ids {
		for b := a + 1; b < len(ids); b++ {
			t := &tables[a][b]
			kappa, err := confidence.CohenKappa([][]float64{t[0][:], t[1][:]})
			if err != nil {
				return fmt.Errorf("agreement of %s and %s: %w", ids[a], ids[b], err)
			}
			switch {
			case a == 0 && b == 1:
				s.Pair = kappa.Value
			case kappa.OK:
				others = append(others, kappa.Value)
			}
		}
	}
	s.Pairs, s.PairsSpread = meanAndDeviation(others)
	return nil
}

func said(v review.Verdict) int {
	if v.Kind == review.VerdictDispute {
		return 1
	}
	return 0
}

func meanAndDeviation(values []float64) (mean, deviation float64) {
	for _, v := range values {
		mean += v / float64(len(values))
	}
	for _, v := range values {
		deviation += (v - mean) * (v - mean) / float64(len(values))
	}
	return mean, math.Sqrt(deviation)
}
