package judgement

import "math"

// What Weight.Character says where the weight is that of no character.
const (
	WhyPrior    = "prior"    // how common the family is
	WhyTogether = "together" // what the characters say jointly beyond each by itself
)

// Weight is how far a character moves the odds of the subject against its best rival.
type Weight struct {
	// Character is a character id, WhyPrior or WhyTogether.
	Character string `json:"character"`
	// Decibans: the log odds with the character minus those without it; 10 are a factor of ten, minus speaks against.
	Decibans float64 `json:"decibans"`
	// Silent: the character was not mentioned where people told freely; else it was stated. Silence says so in words, in assessments of
	// a time that stored them. The API fills it in.
	Silent  bool   `json:"silent,omitempty" doc:"The character was not mentioned where people told freely; else it was stated"`
	Silence string `json:"silence,omitempty" doc:"Of a silence: what was not mentioned, in the language of Accept-Language or else of the caller"`
	// Specimens: on so many specimens of the club it was seen how often that is mentioned; 0: the tables assume it.
	Specimens int `json:"specimens,omitempty" doc:"Of a silence: on how many specimens of the club it was learnt how often the character is mentioned (version: reliability); left out where the tables assume it"`
}

// OfSilence says whether it is the weight of what nobody has mentioned.
func (w Weight) OfSilence() bool { return w.Silent || w.Silence != "" }

// leastSilence is how many decibans a silence moves that is worth a word; what the others move stands in "together".
const leastSilence = 0.5

// explain fills Rival, Odds and Why. The weights, rounded to thousandths, sum to Odds: "together" is the remainder.
func (a *Assessment) explain(j *Judge, s *scratch, subject int) {
	p, w := &s.posterior, &s.weights
	rival := p.Rival(subject)
	p.FillWhy(w, subject, rival)
	a.Rival = j.index.names[rival]
	a.Odds = thousandths(w.Total)
	prior := thousandths(w.Prior)
	rest := a.Odds - prior
	a.Why = make([]Weight, 0, len(p.Seen)+2)
	a.Why = append(a.Why, Weight{Character: WhyPrior, Decibans: prior})
	for i, c := range p.Seen {
		v := thousandths(w.Characters[i])
		rest -= v
		a.Why = append(a.Why, Weight{Character: j.tables.Characters[c].ID, Decibans: v})
	}
	for i, silence := range p.Silences() {
		v := thousandths(w.Silences[i])
		if math.Abs(v) < leastSilence {
			continue
		}
		rest -= v
		c := &j.tables.Characters[silence.Character]
		a.Why = append(a.Why, Weight{Character: c.ID, Decibans: v, Silent: true, Specimens: s.gathered.mentions[c.ID].Specimens})
	}
	a.Why = append(a.Why, Weight{Character: WhyTogether, Decibans: thousandths(rest)})
}

// thousandths rounds; +0 turns a negative zero into a plain one, which JSON would show.
func thousandths(x float64) float64 { return math.Round(x*1000)/1000 + 0 }
