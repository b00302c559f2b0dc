package judgement

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"revidit/review/diagnosis"
)

// TestOverlookedIsPlain: a striking state that is not seen is read as one that is not striking, more often than not: whoever
// misses a simple eye on top of the head sees none rather than two. Common practice, no source.
func TestOverlookedIsPlain(t *testing.T) {
	tables := diagnosis.Default() // among the orders, filaments that break off are miscounted rather than missed
	for i := range tables.Characters {
		c := &tables.Characters[i]
		for _, id := range c.Striking {
			if c.ID == "elytra-cover" && id == "absent" {
				continue // a rest of elytra looks like short ones, which are striking, too
			}
			assert.Greater(t, plainShare(c, c.State(id)), 0.5, "%s %s", c.ID, id)
		}
	}
}

// plainShare is the share of states that are not striking among the errors at a state.
func plainShare(c *diagnosis.Character, from int) float64 {
	plain, all := 0.0, 0.0
	for to := range c.States {
		if to == from {
			continue
		}
		weight := c.MistakenFor(from, to)
		all += weight
		if !c.IsStriking(to) {
			plain += weight
		}
	}
	return plain / all
}
