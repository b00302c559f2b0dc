package builder

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/key"
)

const (
	// mostChecked are the characters of a check, fewestChecked those below which there is none.
	mostChecked, fewestChecked = 6, 3
	// stray is what specimens of all other families weigh in a check beside those that do come to the ending wrongly: who comes back
	// from elsewhere meets it, too.
	stray = 0.15
	// mended is how often somebody who is sent back comes out rightly in the end. Assumed; it only weighs how strict a check is.
	mended = 0.55
)

// check is what an ending is held against: characters that tell the specimens of the family that come there from those of others.
func (b *builder) check(n *node, family int) (says []key.Saying, enough int) {
	weights := b.strays(n, family)
	var all []checked
	for c := range b.tables.Characters {
		if ch, ok := b.checkOf(c, family, weights); ok {
			all = append(all, ch)
		}
	}
	slices.SortStableFunc(all, func(x, y checked) int { return cmp.Compare(y.tells, x.tells) })
	all = all[:min(mostChecked, len(all))]
	if len(all) < fewestChecked {
		return nil, 0
	}
	for _, ch := range all {
		says = append(says, saying(&b.tables.Characters[ch.character], ch.side, 1))
	}
	return says, b.enough(all, family, weights)
}

// checked is a character of a check with the states that fit.
type checked struct {
	question
	tells float64
}

// strays are the samples of an ending by what they weigh there, with all others at a little.
func (b *builder) strays(n *node, family int) []float64 {
	out := make([]float64, len(b.samples.form))
	own, others := 0.0, 0.0
	for i, f := range b.samples.form {
		if w := float64(b.samples.weight[i]); b.forms[f].family == family {
			own += w
		} else {
			others += w
		}
	}
	for _, i := range n.samples {
		out[i] = float64(b.samples.weight[i])
	}
	here, wrong := 0.0, 0.0
	for i, w := range out {
		if b.forms[b.samples.form[i]].family == family {
			here += w
		} else {
			wrong += w
		}
	}
	for i, f := range b.samples.form {
		w := float64(b.samples.weight[i])
		if b.forms[f].family == family {
			out[i] += stray * w / own * here
		} else {
			out[i] += stray * w / others * max(wrong, here/10)
		}
	}
	return out
}

// checkOf are the states of a character that speak for the family.
func (b *builder) checkOf(c, family int, weights []float64) (checked, bool) {
	if !b.allowed[c] || b.tables.Characters[c].Effort >= key.PreparingEffort {
		return checked{}, false
	}
	states := b.states(c)
	own, others := make([]float64, states), make([]float64, states)
	ownAll, othersAll := 0.0, 0.0
	for i, s := range b.samples.columns[c] {
		mine := b.forms[b.samples.form[i]].family == family
		if mine {
			ownAll += weights[i]
		} else {
			othersAll += weights[i]
		}
		if s == unseen {
			continue
		}
		if mine {
			own[s] += weights[i]
		} else {
			others[s] += weights[i]
		}
	}
	if ownAll == 0 || othersAll == 0 {
		return checked{}, false
	}
	if b.tables.Characters[c].Kind == diagnosis.KindLength {
		return checked{}, false
	}
	side, tells, told := make([]int8, states), 0.0, 0
	for s := range side {
		if d := own[s]/ownAll - others[s]/othersAll; d > 0 && own[s] > 0.02*ownAll && told < mostStates {
			side[s] = 1
			tells += d
			told++
		}
	}
	return checked{question{c, side}, math.Round((tells-2*b.cost(c))*1e9) / 1e9}, told > 0
}

// enough is how many characters have to fit so that most specimens come out rightly in the end.
func (b *builder) enough(all []checked, family int, weights []float64) int {
	own, others := make([]float64, len(all)+1), make([]float64, len(all)+1)
	for i, f := range b.samples.form {
		fits := 0
		for _, ch := range all {
			if s := b.samples.columns[ch.character][i]; s == unseen || ch.side[s] > 0 {
				fits++
			}
		}
		if b.forms[f].family == family {
			own[fits] += weights[i]
		} else {
			others[fits] += weights[i]
		}
	}
	best, most := 0, math.Inf(-1)
	for enough := range len(all) {
		value := 0.0
		for fits := range own {
			if fits >= enough {
				value += own[fits]
			} else {
				value += mended * (own[fits] + others[fits])
			}
		}
		if value > most {
			best, most = enough, value
		}
	}
	return best
}
