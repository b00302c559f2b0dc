package nature

import "math"

// Person is somebody of the club as they truly are.
type Person struct {
	ID       string
	Reviewer bool
	// Anchoring is the probability of confirming what is shown without looking.
	Anchoring float64
	// Activity is how often a reviewer comes to the queue, against 1 for the usual.
	Activity float64

	accuracy []float64 // by character, at an ordinary state
	names    float64   // skill in giving names
	copiesOf int       // person whose answers are repeated, or -1
}

// What people are like: accuracies at an ordinary state, spreads in logits.
const (
	memberAccuracy, memberSpread     = 0.82, 0.6
	reviewerAccuracy, reviewerSpread = 0.935, 0.5
	regionSpread                     = 0.25
	weakRegion                       = 0.8 // logits lost in a region of the body
	weakCharacter                    = 1.5 // logits lost on a character
)

func logit(p float64) float64    { return math.Log(p / (1 - p)) }
func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func (w *World) addPeople() {
	for i := range members + reviewers {
		w.People = append(w.People, w.person(i))
	}
	first := members
	if w.ConfirmsAll {
		w.People[first].Anchoring = 1
	}
	if w.Copies {
		w.People[first].copiesOf, w.People[first+1].copiesOf = first+1, first
	}
}

func (w *World) person(i int) Person {
	d := w.dice(character, i)
	p := Person{ID: personID(i), Reviewer: i >= members, Activity: 0.5 + d.Float64(), copiesOf: -1}
	mean, spread := memberAccuracy, memberSpread
	if p.Reviewer {
		mean, spread = reviewerAccuracy, reviewerSpread
	}
	own := logit(mean) + spread*d.NormFloat64()
	regions := w.regions()
	offset := map[string]float64{}
	for _, r := range regions {
		offset[r] = regionSpread * d.NormFloat64()
	}
	for range 1 + d.IntN(2) {
		offset[regions[d.IntN(len(regions))]] -= weakRegion
	}
	weak := d.IntN(len(w.Tables.Characters))
	for c := range w.Tables.Characters {
		x := own + offset[w.Tables.Characters[c].Region]
		if c == weak {
			x -= weakCharacter
		}
		p.accuracy = append(p.accuracy, min(max(logistic(x), 0.35), 0.985))
	}
	p.names = own - logit(mean)
	// Half of the reviewers nearly always look, the others often do not.
	p.Anchoring = 0.02 + 0.13*d.Float64()
	if d.Float64() < 0.5 {
		p.Anchoring = 0.2 + 0.4*d.Float64()
	}
	return p
}

func (w *World) regions() []string {
	var out []string
	seen := map[string]bool{}
	for i := range w.Tables.Characters {
		if r := w.Tables.Characters[i].Region; !seen[r] {
			seen[r] = true
			out = append(out, r)
		}
	}
	return out
}

// The tables say how often members and reviewers read a state right, against tableMember and tableReviewer at an ordinary
// one. People follow that for the most part only, and what is easy and what is hard differs from the tables by surprise,
// for everybody alike.
const (
	tableMember, tableReviewer = 0.85, 0.95
	followed                   = 0.85
	surprise                   = 0.3 // in logits
)

// rightly is the true probability with which a person reads a state right that a photo shows.
func (w *World) rightly(person, character, state int) float64 {
	p, c := &w.People[person], &w.Tables.Characters[character]
	x := logit(p.accuracy[character])
	if c.Read == nil {
		return p.accuracy[character]
	}
	stated, ordinary := c.Read[state].Member, tableMember
	if p.Reviewer {
		stated, ordinary = c.Read[state].Reviewer, tableReviewer
	}
	if stated > 0 {
		x += followed * (logit(stated) - logit(ordinary))
	}
	return logistic(x + surprise*w.dice(clarity, character, state).NormFloat64())
}

// Accuracy is the true probability with which a person reads what the photos of a specimen show of a character.
func (w *World) Accuracy(specimen, person, character int) float64 {
	return w.rightly(person, character, w.Specimens[specimen].shown[character].state)
}

// Shown is the state that the photos of a specimen show, as a place among those of the character.
func (w *World) Shown(specimen, character int) int {
	return w.Specimens[specimen].shown[character].state
}

// Turn is the reviewer who comes to the queue at a turn: the same in every course of events.
func (w *World) Turn(turn int) int {
	weights := make([]float64, len(w.People))
	for i := range w.People {
		if w.People[i].Reviewer {
			weights[i] = w.People[i].Activity
		}
	}
	return pick(w.dice(turnOf, turn), weights)
}
