package confidence

// Sight is the probability e of reading a state right, for somebody of the given accuracy: logit e = logit accuracy + ln ease.
// Both ends stay where they are: who is always or never right is so with every state.
func Sight(accuracy, ease float64) float64 {
	if ease == 1 {
		return accuracy
	}
	right := accuracy * ease
	return right / (right + 1 - accuracy)
}

// sights fills in, by state, the probabilities of reading it right.
func sights(out []float64, accuracy float64, ease []float64) []float64 {
	for s := range out {
		out[s] = accuracy
		if ease != nil {
			out[s] = Sight(accuracy, ease[s])
		}
	}
	return out
}

// reading is how one kind of reader reads a character.
type reading struct {
	ease []float64 // by state; nil where every state is an ordinary one
	// said are, in columns, P(report | row) of one report by a reader of the accuracy usual.
	said  []float64
	usual float64
	// powers are said under the exponents that groups of dependent characters may give, but for 1.
	powers []power
	right  []float64 // by state: of the accuracy usual
}

// power is a matrix with each number raised to an exponent.
type power struct {
	exponent float64
	said     []float64
}

// usualReport is one report by a reader of the usual accuracy, whose likelihoods are prepared; without a reading it is none.
type usualReport struct {
	*reading
	state int
}

// under are its likelihoods by row, of so many, under an exponent; nil where they are not prepared.
func (u usualReport) under(exponent float64, rows int) []float64 {
	if u.reading == nil {
		return nil
	}
	for i := range u.powers {
		if p := &u.powers[i]; p.exponent == exponent {
			return p.said[u.state*rows:][:rows]
		}
	}
	return nil
}

// rightAt is, by state, the probability that a report is read right, over the given room; nil where it is the accuracy itself.
func (c *compiled) rightAt(room []float64, report *Report) []float64 {
	r := c.reading(report.Reader)
	switch {
	case c.leans(report):
		return leaningSights(room, report, r.ease, c.lean)
	case r.ease == nil:
		return nil
	case report.Accuracy == r.usual:
		return r.right
	}
	return sights(room, report.Accuracy, r.ease)
}

// ordinary reads every state alike.
var ordinary = &reading{}

// readingsOf are by reader; none where all states are ordinary to everybody.
func readingsOf(character Character) []reading {
	readings := make([]reading, len(character.Ease))
	for r, ease := range character.Ease {
		for _, e := range ease {
			if e != 1 {
				readings[r].ease = ease
			}
		}
	}
	return readings
}

// reading is that of a kind of reader.
func (c *compiled) reading(reader int) *reading {
	if reader >= len(c.readings) || c.kind == Length || c.states == 1 {
		return ordinary
	}
	return &c.readings[reader]
}

// sharedErrors are, by state, the probabilities of misleading everybody alike: the specimen or the photo is looked through
// like a pair of eyes of the accuracy 1 − κ, to which each state is as easy as to the last reader.
func sharedErrors(character Character, shared float64) []float64 {
	errors := make([]float64, character.States)
	for s := range errors {
		errors[s] = shared
		if n := len(character.Ease); n > 0 && shared > 0 {
			errors[s] = 1 - Sight(1-shared, character.Ease[n-1][s])
		}
	}
	return errors
}

// appearance is what there is to be seen where the true states have the distribution p: Σ_s p(s) · [(1 − κ_s) · 1(s = t) +
// κ_s · w(s → t)].
func (c *compiled) appearance(p []float64) []float64 {
	out, misled := make([]float64, c.states), make([]float64, c.states)
	for s, share := range p {
		out[s] = (1 - c.shared[s]) * share
		addScaled(misled, c.misreading[s*c.states:], c.shared[s]*share)
	}
	addScaled(out, misled, 1)
	return out
}

// told fills in P(report) of a reader where what there is to be seen has the distribution q: Σ_t q(t) · P(report | t).
func (c *compiled) told(out, q []float64, r *reading, accuracy float64) {
	clear(out)
	for t, share := range q {
		e := accuracy
		if r.ease != nil {
			e = Sight(accuracy, r.ease[t])
		}
		out[t] += share * e
		addScaled(out, c.misreading[t*c.states:], share*(1-e))
	}
}

// toldBy is told by somebody of whom it is known by state how often they read it right.
func (c *compiled) toldBy(out, q, right []float64) {
	clear(out)
	for t, share := range q {
		out[t] += share * right[t]
		addScaled(out, c.misreading[t*c.states:], share*(1-right[t]))
	}
}

// reports are, by row, P(report | row) of one report by a reader.
func (c *compiled) reports(reader int, accuracy float64) []float64 {
	r := c.reading(reader)
	out := make([]float64, len(c.rightly))
	for i := 0; i < len(out); i += c.states {
		switch {
		case r.ease != nil:
			c.told(out[i:i+c.states], c.rightly[i:i+c.states], r, accuracy)
		default:
			copy(out[i:i+c.states], blend(c.wrongly[i:i+c.states], c.rightly[i:i+c.states], accuracy))
		}
	}
	return out
}

// usualReport is what all reports about a character are where there is one alone, by a reader of the usual accuracy.
func (c *compiled) usualReport(reports []Report) usualReport {
	if len(reports) != 1 || reports[0].Kind != Stated {
		return usualReport{}
	}
	r := c.reading(reports[0].Reader)
	if r.said == nil || reports[0].Accuracy != r.usual || c.leans(&reports[0]) {
		return usualReport{}
	}
	return usualReport{r, reports[0].State}
}

// prepare works out what readers of the usual accuracies would say, and that under exponents.
func (c *compiled) prepare(usual, exponents []float64) {
	if len(c.readings) == 0 && c.kind != Length && c.states > 1 {
		c.readings = make([]reading, len(usual))
	}
	for r := range c.readings {
		reading := &c.readings[r]
		if r >= len(usual) {
			continue
		}
		reading.usual, reading.right = usual[r], sights(make([]float64, c.states), usual[r], reading.ease)
		reading.said = transposed(c.reports(r, usual[r]), c.states)
		keepAbove0(reading.said)
		for _, e := range exponents {
			reading.powers = append(reading.powers, power{e, raised(make([]float64, len(reading.said)), reading.said, e)})
		}
	}
}
