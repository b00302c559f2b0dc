package simulator

import (
	"math"
	"slices"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// enough is the number of reports of a person on a region from which an estimated reliability is held against the truth.
const enough = 200

// slot is a person on a region of the body.
type slot struct{ person, region string }

// truth is what a person's reports on a region truly were worth, in the mean over what they looked at.
type truth struct {
	reports  float64
	accuracy float64             // sum
	eases    map[float64]float64 // reports by how easily the service takes the state to be read
	atEnough float64             // error of the estimate when there were enough reports; -1 before
}

// error is how far an estimated skill is from the truth: what it says of the same reports, in the mean.
func (t *truth) error(skill float64) float64 {
	estimated := 0.0
	for ease, reports := range t.eases {
		estimated += reports * confidence.Sight(skill, ease)
	}
	return math.Abs(estimated-t.accuracy) / t.reports
}

type tally map[slot]*truth

// count notes the true accuracy behind every report of a closed case.
func (c *club) count(closed *review.Closed) {
	tables := c.judge.Tables()
	for _, o := range closed.Specimen.Observations {
		character := tables.CharacterIndex(o.Character)
		if k := &tables.Characters[character]; k.Kind == diagnosis.KindLength || len(k.States) < 2 {
			continue
		}
		people := []string{o.By}
		for _, s := range closed.Submissions {
			for _, b := range s.Blind {
				if b.Observation == o.ID {
					people = append(people, b.By)
				}
			}
			for _, v := range s.Verdicts {
				if v.Observation == o.ID {
					people = append(people, v.By)
				}
			}
		}
		for _, id := range people {
			accuracy, ease := c.accuracyOf(id, c.numbers[closed.Specimen.ID], character)
			c.tally.add(slot{id, tables.Characters[character].Region}, accuracy, ease)
		}
	}
}

func (t tally) add(at slot, accuracy, ease float64) {
	if t[at] == nil {
		t[at] = &truth{atEnough: -1, eases: map[float64]float64{}}
	}
	t[at].eases[ease]++
	t[at].reports++
	t[at].accuracy += accuracy
}

// accuracyOf is the true accuracy behind a report, and the ease that the service reckons with there.
func (c *club) accuracyOf(id string, specimen, character int) (accuracy, ease float64) {
	i := slices.IndexFunc(c.world.People, func(p nature.Person) bool { return p.ID == id })
	ease = 1
	if eases := c.judge.Character(character).Ease; eases != nil {
		ease = eases[c.reader(i)][c.world.Shown(specimen, character)]
	}
	return c.world.Accuracy(specimen, i, character), ease
}

// reader is as what a person looks, as a place in confidence.Character.Ease.
func (c *club) reader(person int) int {
	if c.world.People[person].Reviewer {
		return 1
	}
	return 0
}

// reached holds estimates against the truth that have just come to rest on enough reports.
func (t tally) reached(people *review.Reliability) {
	for at, t := range t {
		if t.reports >= enough && t.atEnough < 0 {
			t.atEnough = t.error(people.People[at.person].Regions[at.region].Value())
		}
	}
}
