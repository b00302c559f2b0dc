package judgement

import (
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// unmentionedOf is, by state, the probability that a member who tells freely says nothing of a character; nil where the tables
// do not say how often it is mentioned.
func unmentionedOf(c *diagnosis.Character) []float64 {
	if c.Mentioned == nil {
		return nil
	}
	out := make([]float64, len(c.States))
	for s, m := range c.Mentioned {
		out[s] = 1 - m
	}
	return out
}

// weighed is what was gathered, as Model weighs it.
func (g *gathered) weighed(prior []float64) confidence.Evidence {
	return confidence.Evidence{Observations: g.observations, Silences: g.silences, Sex: g.sex, Prior: prior}
}

// gatherSilences adds what free lists leave out: characters with a striking state, within the regions of the body of which the
// list speaks, on which nobody has said anything. What somebody has looked at since is known better than by silence.
func (j *Judge) gatherSilences(g *gathered, free [][]string) {
	g.silences = g.silences[:0]
	for _, list := range free {
		for i, unmentioned := range j.unmentioned {
			if unmentioned == nil || g.has(i) || !j.speaksOf(list, j.tables.Characters[i].Region) {
				continue
			}
			g.addSilence(i, unmentioned)
		}
	}
}

func (g *gathered) has(character int) bool {
	return slices.ContainsFunc(g.observations, func(o confidence.Observation) bool { return o.Character == character })
}

func (j *Judge) speaksOf(list []string, region string) bool {
	return slices.ContainsFunc(list, func(id string) bool {
		i := j.tables.CharacterIndex(id)
		return i >= 0 && j.tables.Characters[i].Region == region
	})
}

func (g *gathered) addSilence(character int, unmentioned []float64) {
	for i := range g.silences {
		if s := &g.silences[i]; s.Character == character {
			product := slices.Clone(s.Unmentioned)
			for state, p := range unmentioned {
				product[state] *= p
			}
			s.Unmentioned = product
			return
		}
	}
	g.silences = append(g.silences, confidence.Silence{Character: character, Unmentioned: unmentioned})
}
