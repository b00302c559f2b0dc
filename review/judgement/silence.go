package judgement

import (
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// FreeList is the first list of one observer that was told freely.
type FreeList struct {
	Mentioned []string // the characters in it
	// Since are characters that the same observer has stated later, being asked: that report tells what their eye saw, and
	// that they had not mentioned it before tells no more.
	Since []string
}

// Tells says whether it tells by what it leaves out: who names a single thing says what strikes most, and describes nothing.
func (l *FreeList) Tells() bool { return len(l.Mentioned) > 1 }

// Mention is what data tell of how often a character is mentioned.
type Mention struct {
	Rates     []float64 // by state, above 0 and below 1
	Specimens int       // on which the state was known
	Taught    bool      // they are enough to stand for themselves: the bounds of what is assumed do not hold
}

// unmentionedOf is, by state, the probability that a member who tells freely says nothing of a character.
func unmentionedOf(mentioned []float64) []float64 {
	if mentioned == nil {
		return nil
	}
	out := make([]float64, len(mentioned))
	for s, m := range mentioned {
		out[s] = 1 - m
	}
	return out
}

// silenceOf is the silence of one who tells freely on a character; without Unmentioned where silence tells nothing.
func (j *Judge) silenceOf(character int, learnt map[string]Mention) confidence.Silence {
	out := confidence.Silence{Character: character, Unmentioned: j.unmentioned[character]}
	if out.Unmentioned == nil || len(learnt) == 0 {
		return out
	}
	if m, ok := learnt[j.tables.Characters[character].ID]; ok && len(m.Rates) == len(out.Unmentioned) {
		out.Unmentioned, out.Taught = unmentionedOf(m.Rates), m.Taught
	}
	return out
}

// weighed is what was gathered, as Model weighs it.
func (g *gathered) weighed(prior []float64) confidence.Evidence {
	return confidence.Evidence{Observations: g.observations, Silences: g.silences, Sex: g.sex, Prior: prior}
}

// gatherSilences adds what free lists leave out: characters with a striking state, within the regions of the body of which the
// list speaks, whatever others have said of them.
func (j *Judge) gatherSilences(g *gathered, e *Evidence) {
	g.silences, g.mentions = g.silences[:0], e.Mentions
	for i := range e.Free {
		list := &e.Free[i]
		if !list.Tells() {
			continue
		}
		for c := range j.unmentioned {
			if silence := j.silenceOf(c, e.Mentions); silence.Unmentioned != nil && j.passesOver(list, &j.tables.Characters[c]) {
				g.addSilence(silence)
			}
		}
	}
}

// passesOver says whether a list leaves out a character that was in view: the list speaks of its region, or of one beside it.
func (j *Judge) passesOver(list *FreeList, c *diagnosis.Character) bool {
	return !slices.Contains(list.Mentioned, c.ID) && !slices.Contains(list.Since, c.ID) && slices.ContainsFunc(list.Mentioned, func(id string) bool {
		i := j.tables.CharacterIndex(id)
		return i >= 0 && c.InView(j.tables.Characters[i].Region)
	})
}

func (g *gathered) addSilence(silence confidence.Silence) {
	for i := range g.silences {
		if s := &g.silences[i]; s.Character == silence.Character {
			product := slices.Clone(s.Unmentioned)
			for state, p := range silence.Unmentioned {
				product[state] *= p
			}
			s.Unmentioned = product
			return
		}
	}
	g.silences = append(g.silences, silence)
}
