package review

import (
	"maps"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// How often members who tell freely mention a character is assumed in the tables, and counts as much as so many lists. Below
// the other numbers nothing is learnt, or the bounds of what is assumed still hold. Our own choice, no source: with fifty, a
// share has a standard error of seven hundredths at most.
const (
	mentionWeight = 20
	mentionLeast  = 10 // states known where the character was mentioned, and as many where it was not
	mentionTaught = 50 // states known
)

// Mentions count how the first free lists of members treat a character. Of each list they tell whether it mentions the
// character, where it speaks of another one of the same region of the body. The state is known where somebody looked blind or
// had the specimen in hand, and never from what was made of the reports.
type Mentions struct {
	Lists  Told            `json:"lists"`  // all lists, whatever is known of the state
	States map[string]Told `json:"states"` // by state, those where it is known
}

// Told counts lists with and without a character.
type Told struct {
	With    int `json:"with"`
	Without int `json:"without"`
}

func (t Told) plus(o Told) Told { return Told{t.With + o.With, t.Without + o.Without} }

// Plus are both counts together.
func (m Mentions) Plus(o Mentions) Mentions {
	out := Mentions{Lists: m.Lists.plus(o.Lists), States: maps.Clone(m.States)}
	if out.States == nil {
		out.States = map[string]Told{}
	}
	for state, told := range o.States {
		out.States[state] = out.States[state].plus(told)
	}
	return out
}

// known are the lists where the state is known, of the states that a character has.
func (m Mentions) known(c *diagnosis.Character) Told {
	var known Told
	for i := range c.States {
		known = known.plus(m.States[c.States[i].ID])
	}
	return known
}

// Rates are, by state, how often the character is mentioned, and false where too little is known. What is mentioned is looked
// at more often than what is not, so that lists with and without are weighed as often as they occur among all lists (Begg C.B.
// and Greenes R.A. 1983, Assessment of diagnostic tests when disease verification is subject to selection bias, Biometrics 39:
// 207-215); that holds as far as who looks is moved by the mention and not by the state. A beta distribution around the rate
// of the tables, worth mentionWeight lists, is what is known before.
func (m Mentions) Rates(c *diagnosis.Character) (judgement.Mention, bool) {
	known := m.known(c)
	if c.Mentioned == nil || min(known.With, known.Without) < mentionLeast {
		return judgement.Mention{}, false
	}
	with, without := float64(m.Lists.With)/float64(known.With), float64(m.Lists.Without)/float64(known.Without)
	out := judgement.Mention{Specimens: known.With + known.Without, Taught: known.With+known.Without >= mentionTaught}
	for i := range c.States {
		told := m.States[c.States[i].ID]
		a, b := with*float64(told.With), without*float64(told.Without)
		of, against := mentionWeight*c.Mentioned[i], mentionWeight*(1-c.Mentioned[i])
		if a+b > 0 { // unequal weights are worth fewer lists: (Σw)² / Σw²
			worth := (a + b) * (a + b) / (with*a + without*b)
			of, against = of+worth*a/(a+b), against+worth*b/(a+b)
		}
		out.Rates = append(out.Rates, of/(of+against))
	}
	return out, true
}

// MentionRates are, by character, how often it is mentioned, of those of which enough is known.
func (r *Reliability) MentionRates(t *diagnosis.Tables) map[string]judgement.Mention {
	if r == nil || len(r.Mentions) == 0 {
		return nil
	}
	rates := map[string]judgement.Mention{}
	for i := range t.Characters {
		c := &t.Characters[i]
		if rate, ok := r.Mentions[c.ID].Rates(c); ok {
			rates[c.ID] = rate
		}
	}
	return rates
}

// MentionsSince are, by character, the counts that have changed since a former snapshot.
func (r *Reliability) MentionsSince(former Reliability) map[string]Mentions {
	changed := map[string]Mentions{}
	for character, m := range r.Mentions {
		if m.Lists != former.Mentions[character].Lists {
			changed[character] = m
		}
	}
	if len(changed) == 0 {
		return nil
	}
	return changed
}
