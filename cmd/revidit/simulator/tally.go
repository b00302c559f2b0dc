package simulator

import (
	"math"
	"slices"

	"revidit/cmd/revidit/simulator/nature"
	"revidit/review"
	"revidit/review/diagnosis"
)

// enough is the number of reports of a person on a region from which an estimated reliability is held against the truth.
const enough = 200

// slot is a person on a region of the body.
type slot struct{ person, region string }

// truth is what a person's reports on a region truly were worth, in the mean over what they looked at.
type truth struct {
	reports  float64
	accuracy float64 // sum
	atEnough float64 // error of the estimate when there were enough reports; -1 before
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
			c.tally.add(slot{id, tables.Characters[character].Region}, c.accuracyOf(id, character))
		}
	}
}

func (t tally) add(at slot, accuracy float64) {
	if t[at] == nil {
		t[at] = &truth{atEnough: -1}
	}
	t[at].reports++
	t[at].accuracy += accuracy
}

func (c *club) accuracyOf(id string, character int) float64 {
	i := slices.IndexFunc(c.world.People, func(p nature.Person) bool { return p.ID == id })
	return c.world.People[i].Accuracy(character)
}

// reached holds estimates against the truth that have just come to rest on enough reports.
func (t tally) reached(people *review.Reliability) {
	for at, t := range t {
		if t.reports >= enough && t.atEnough < 0 {
			t.atEnough = math.Abs(people.People[at.person].Regions[at.region].Value() - t.accuracy/t.reports)
		}
	}
}
