package confidence

import (
	"math/big"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawSpec makes a small model: forms, sexes, missing cells, nominal and count characters.
func drawSpec(t *rapid.T) Spec {
	spec := Spec{
		None:        rapid.Float64Range(0.001, 0.2).Draw(t, "none"),
		TableError:  rapid.Float64Range(0, 0.1).Draw(t, "table error"),
		SharedError: rapid.Float64Range(0, 0.1).Draw(t, "shared error"),
	}
	if rapid.Bool().Draw(t, "readers") {
		spec.Readers = []float64{0.85, 0.95}
	}
	for range rapid.IntRange(1, 4).Draw(t, "characters") {
		c := Character{Kind: Kind(rapid.IntRange(0, 1).Draw(t, "kind")), States: rapid.IntRange(1, 4).Draw(t, "states")}
		if c.Kind == Nominal && c.States > 1 {
			c.Confused = []Confused{{From: 0, To: 1, Weight: rapid.Float64Range(0.05, 9).Draw(t, "confused")}}
		}
		if rapid.Bool().Draw(t, "eased") {
			c.Ease = drawEase(t, len(spec.Readers), c.States)
		}
		spec.Characters = append(spec.Characters, c)
	}
	for range rapid.IntRange(1, 4).Draw(t, "hypotheses") {
		h := Hypothesis{Prior: rapid.Float64Range(0.1, 100).Draw(t, "prior")}
		weights := drawDistribution(t, rapid.IntRange(1, 3).Draw(t, "forms"), 0.1)
		for _, w := range weights {
			f := Form{Weight: w, Sex: Sex(rapid.IntRange(0, 2).Draw(t, "sex"))}
			for _, c := range spec.Characters {
				if rapid.IntRange(0, 4).Draw(t, "missing") == 0 {
					f.Cells = append(f.Cells, nil)
					continue
				}
				f.Cells = append(f.Cells, drawDistribution(t, c.States, 0))
			}
			h.Forms = append(h.Forms, f)
		}
		spec.Hypotheses = append(spec.Hypotheses, h)
	}
	return spec
}

// drawEase has ordinary states, ones that are easily overlooked, and ones for which hardly anything else is taken.
func drawEase(t *rapid.T, readers, states int) [][]float64 {
	ease := make([][]float64, readers)
	for r := range ease {
		for range states {
			ease[r] = append(ease[r], rapid.SampledFrom([]float64{1, 1, 0.2, 7, 150}).Draw(t, "ease"))
		}
	}
	if readers == 0 {
		return nil
	}
	return ease
}

func drawDistribution(t *rapid.T, n int, least float64) []float64 {
	out := make([]float64, n)
	total := 0.0
	for i := range out {
		out[i] = least + float64(rapid.IntRange(0, 5).Draw(t, "weight"))
		total += out[i]
	}
	if total == 0 {
		out[0], total = 1, 1
	}
	for i := range out {
		out[i] /= total
	}
	return out
}

func drawObservations(t *rapid.T, spec Spec) []Observation {
	var out []Observation
	for range rapid.IntRange(0, 4).Draw(t, "observations") {
		c := rapid.IntRange(0, len(spec.Characters)-1).Draw(t, "character")
		states := spec.Characters[c].States
		o := Observation{Character: c}
		shown := rapid.IntRange(0, states-1).Draw(t, "shown")
		for range rapid.IntRange(1, 3).Draw(t, "reports") {
			r := Report{Kind: ReportKind(rapid.IntRange(0, 2).Draw(t, "report")), State: shown, Better: NoState,
				Accuracy: drawAccuracy(t, spec), Anchoring: rapid.Float64Range(0, 0.9).Draw(t, "anchoring")}
			if len(spec.Readers) > 0 {
				r.Reader = rapid.IntRange(0, 1).Draw(t, "reader")
			}
			if states == 1 {
				r.Kind = min(r.Kind, Confirmed) // nobody can dispute the only state there is
			}
			if r.Kind == Disputed && rapid.Bool().Draw(t, "better") {
				r.Better = (shown + 1) % states
			}
			o.Reports = append(o.Reports, r)
		}
		out = append(out, o)
	}
	return out
}

// drawAccuracy is often a usual one, for which single reports are worked out beforehand.
func drawAccuracy(t *rapid.T, spec Spec) float64 {
	if len(spec.Readers) > 0 && rapid.Bool().Draw(t, "usual") {
		return rapid.SampledFrom(spec.Readers).Draw(t, "accuracy")
	}
	return rapid.Float64Range(0.3, 0.99).Draw(t, "accuracy")
}

func rat(x float64) *big.Rat { return new(big.Rat).SetFloat64(x) }

func add(a, b *big.Rat) *big.Rat { return new(big.Rat).Add(a, b) }

func mul(factors ...*big.Rat) *big.Rat {
	out := rat(1)
	for _, f := range factors {
		out.Mul(out, f)
	}
	return out
}

func quo(a, b *big.Rat) *big.Rat { return new(big.Rat).Quo(a, b) }

func not(a *big.Rat) *big.Rat { return new(big.Rat).Sub(rat(1), a) }

// exact works out the formula of the package comment in rational numbers, and by another way: it goes through every
// hypothesis, form and combination of true states of all characters, and through who is misled.
type exact struct {
	spec         Spec
	observations []Observation
	sex          Sex
}

func (e exact) posterior() []*big.Rat {
	priors := rat(0)
	for _, h := range e.spec.Hypotheses {
		priors.Add(priors, rat(h.Prior))
	}
	var joint []*big.Rat
	for _, h := range e.spec.Hypotheses {
		joint = append(joint, mul(not(rat(e.spec.None)), quo(rat(h.Prior), priors), e.hypothesis(h)))
	}
	none := Form{Weight: 1, Cells: make([][]float64, len(e.spec.Characters))}
	joint = append(joint, mul(rat(e.spec.None), e.states(none, 0)))
	total := rat(0)
	for _, j := range joint {
		total.Add(total, j)
	}
	for i := range joint {
		joint[i] = quo(joint[i], total)
	}
	return joint
}

func (e exact) hypothesis(h Hypothesis) *big.Rat {
	forms := slices.DeleteFunc(slices.Clone(h.Forms), func(f Form) bool {
		return e.sex != AnySex && f.Sex != AnySex && f.Sex != e.sex
	})
	if len(forms) == 0 {
		forms = h.Forms
	}
	weights, sum := rat(0), rat(0)
	for _, f := range forms {
		weights.Add(weights, rat(f.Weight))
		sum.Add(sum, mul(rat(f.Weight), e.states(f, 0)))
	}
	return quo(sum, weights)
}

// states sums over the true states of the characters from c on.
func (e exact) states(f Form, c int) *big.Rat {
	if c == len(e.spec.Characters) {
		return rat(1)
	}
	sum := rat(0)
	for s := range e.spec.Characters[c].States {
		sum.Add(sum, mul(e.cell(f, c, s), e.reports(c, s), e.states(f, c+1)))
	}
	return sum
}

func (e exact) cell(f Form, c, s int) *big.Rat {
	background := e.background(c, s)
	if f.Cells[c] == nil {
		return background
	}
	tableError := rat(e.spec.TableError)
	return add(mul(not(tableError), rat(f.Cells[c][s])), mul(tableError, background))
}

func (e exact) background(c, s int) *big.Rat {
	mean, weights := rat(0), rat(0)
	for _, h := range e.spec.Hypotheses {
		for _, f := range h.Forms {
			if f.Cells[c] == nil {
				continue
			}
			w := mul(rat(h.Prior), rat(f.Weight))
			weights.Add(weights, w)
			mean.Add(mean, mul(w, rat(f.Cells[c][s])))
		}
	}
	uniform := big.NewRat(1, int64(e.spec.Characters[c].States))
	if weights.Sign() == 0 {
		return uniform
	}
	return add(mul(big.NewRat(9, 10), quo(mean, weights)), mul(big.NewRat(1, 10), uniform))
}

// reports is the probability of all reports about c when its true state is s: either everybody looks at the true state,
// or all are shown another.
func (e exact) reports(c, s int) *big.Rat {
	seen := false
	for _, o := range e.observations {
		seen = seen || o.Character == c
	}
	if !seen {
		return rat(1)
	}
	if e.spec.Characters[c].States == 1 {
		return e.reportsAt(c, s)
	}
	shared := rat(e.spec.SharedError)
	if ease := e.spec.Characters[c].Ease; ease != nil {
		shared = not(e.right(c, s, len(ease)-1, not(shared)))
	}
	sum := mul(not(shared), e.reportsAt(c, s))
	for other := range e.spec.Characters[c].States {
		sum.Add(sum, mul(shared, e.misreading(c, s, other), e.reportsAt(c, other)))
	}
	return sum
}

func (e exact) reportsAt(c, s int) *big.Rat {
	product := rat(1)
	for _, o := range e.observations {
		if o.Character != c {
			continue
		}
		for _, r := range o.Reports {
			product.Mul(product, e.report(c, r, s))
		}
	}
	return product
}

func (e exact) report(c int, r Report, s int) *big.Rat {
	anchoring := rat(r.Anchoring)
	switch {
	case r.Kind == Stated:
		return e.read(c, r.State, s, r)
	case r.Kind == Confirmed:
		return add(anchoring, mul(not(anchoring), e.read(c, r.State, s, r)))
	case r.Better == NoState:
		return mul(not(anchoring), not(e.read(c, r.State, s, r)))
	}
	return mul(not(anchoring), e.read(c, r.Better, s, r))
}

func (e exact) read(c, a, s int, r Report) *big.Rat {
	right := e.right(c, s, r.Reader, rat(r.Accuracy))
	switch {
	case e.spec.Characters[c].States == 1:
		return rat(1)
	case a == s:
		return right
	}
	return mul(not(right), e.misreading(c, s, a))
}

// right is the probability of reading s right, whose odds are those of the accuracy times the ease.
func (e exact) right(c, s, reader int, accuracy *big.Rat) *big.Rat {
	ease := e.spec.Characters[c].Ease
	if ease == nil || accuracy.Cmp(rat(1)) == 0 {
		return accuracy
	}
	odds := mul(quo(accuracy, not(accuracy)), rat(ease[reader][s]))
	return quo(odds, add(rat(1), odds))
}

// misreading is the share of r among the errors at s, written down from the words of Report and Confused.
func (e exact) misreading(c, s, r int) *big.Rat {
	if s == r {
		return rat(0)
	}
	weight := func(r int) *big.Rat {
		character := e.spec.Characters[c]
		if character.Kind == Nominal {
			for _, pair := range character.Confused {
				if s == pair.From && r == pair.To {
					return rat(pair.Weight)
				}
			}
			return rat(1)
		}
		near, far := int64(0), int64(0)
		for other := range character.States {
			if abs(other-s) == 1 {
				near++
			} else if other != s {
				far++
			}
		}
		if abs(r-s) == 1 {
			return big.NewRat(9, 10*near)
		}
		return big.NewRat(1, 10*far)
	}
	sum := rat(0)
	for other := range e.spec.Characters[c].States {
		if other != s {
			sum.Add(sum, weight(other))
		}
	}
	return quo(weight(r), sum)
}

// TestPosteriorIsExact compares with enumeration in rational numbers. Floating point costs less than 1e-9.
func TestPosteriorIsExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		spec := drawSpec(t)
		observations := drawObservations(t, spec)
		sex := Sex(rapid.IntRange(0, 2).Draw(t, "specimen's sex"))
		m, err := NewModel(spec)
		if err != nil {
			t.Fatal(err)
		}
		got := m.Posterior(observations, sex, nil)
		for h, want := range (exact{spec, observations, sex}).posterior() {
			if w, _ := want.Float64(); !near(got.P[h], w, 1e-9) {
				t.Fatalf("hypothesis %d: %v, exactly %v", h, got.P[h], w)
			}
		}
	})
}
