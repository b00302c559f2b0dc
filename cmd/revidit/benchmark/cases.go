package benchmark

import (
	"math"
	"math/rand/v2"
	"slices"
	"strconv"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Observations is how many characters are stated of each specimen.
const Observations = 10

// What made-up people are like. Made up, too.
const (
	memberRight   = 0.85 // probability that a member reads a state right
	reviewerRight = 0.95
	anchored      = 0.2 // probability that a reviewer confirms without a look
	proposedRight = 0.9 // probability that the proposed family is the one that was drawn
)

// Generator draws specimens from the tables, and what people say about them.
type Generator struct {
	tables *diagnosis.Tables
	random *rand.Rand
	priors []float64
}

// NewGenerator draws the same for the same tables and seed.
func NewGenerator(tables *diagnosis.Tables, seed uint64) *Generator {
	g := &Generator{tables: tables, random: rand.New(rand.NewPCG(seed, 1))}
	for _, f := range tables.Families {
		g.priors = append(g.priors, math.Sqrt(float64(f.Species)))
	}
	return g
}

// Evidence is a specimen with ten observations, its length among them where the tables know it. Each has reports of the
// given number of people: a member states it, and of the reviewers every second looks blind.
func (g *Generator) Evidence(people int) judgement.Evidence {
	family, form := g.form()
	e := judgement.Evidence{Family: family, Look: judgement.Look{Accuracy: reviewerRight}}
	if g.random.Float64() >= proposedRight {
		e.Family = g.tables.Families[g.random.IntN(len(g.tables.Families))].Name
	}
	for _, c := range g.choose(form) {
		e.Stated = append(e.Stated, g.stated(c, form.Cells[c.ID], people))
		if len(c.Views) > 0 && !slices.Contains(e.Views, c.Views[0]) {
			e.Views = append(e.Views, c.Views[0])
		}
	}
	return e
}

func (g *Generator) form() (family string, form *diagnosis.Form) {
	f := &g.tables.Families[g.pick(g.priors)]
	weights := make([]float64, len(f.Forms))
	for i := range f.Forms {
		weights[i] = f.Forms[i].Weight
	}
	return f.Name, &f.Forms[g.pick(weights)]
}

// choose takes characters that the form has and that a dead specimen shows, lengths first: nearly everybody measures the
// specimen.
func (g *Generator) choose(form *diagnosis.Form) []*diagnosis.Character {
	var lengths, others []*diagnosis.Character
	for i := range g.tables.Characters {
		c := &g.tables.Characters[i]
		switch {
		case form.Cells[c.ID] == nil || len(c.OnlyLive) > 0:
		case c.Kind == diagnosis.KindLength:
			lengths = append(lengths, c)
		default:
			others = append(others, c)
		}
	}
	g.random.Shuffle(len(others), func(i, j int) { others[i], others[j] = others[j], others[i] })
	all := append(lengths, others...)
	return all[:min(Observations, len(all))]
}

func (g *Generator) stated(c *diagnosis.Character, cell *diagnosis.Cell, people int) judgement.Stated {
	read := g.reader(c, cell)
	s := judgement.Stated{Character: c.ID, State: read(memberRight)}
	s.Reports = append(s.Reports, judgement.Report{Kind: judgement.ReportStated, Accuracy: memberRight})
	for i := range people - 1 {
		r := judgement.Report{Kind: judgement.ReportBlind, Reader: judgement.Reviewer, Better: read(reviewerRight), Accuracy: reviewerRight, Anchoring: anchored}
		if i%2 == 1 {
			r.Kind = judgement.ReportDisputed
			if r.Better == s.State || g.random.Float64() < anchored {
				r.Kind, r.Better = judgement.ReportConfirmed, ""
			}
		}
		s.Reports = append(s.Reports, r)
	}
	return s
}

// reader draws what a specimen shows, and returns what somebody reads who is right with the given probability.
func (g *Generator) reader(c *diagnosis.Character, cell *diagnosis.Cell) func(right float64) string {
	if c.Kind == diagnosis.KindLength {
		length := g.length(cell.Length)
		return func(float64) string {
			measured := min(max(length*math.Exp(0.05*g.random.NormFloat64()), c.Min), c.Max)
			return strconv.FormatFloat(measured, 'f', 2, 64)
		}
	}
	state := g.pick(cell.P)
	return func(right float64) string {
		if g.random.Float64() < right {
			return c.States[state].ID
		}
		return c.States[g.random.IntN(len(c.States))].ID
	}
}

// length is log-normal with 5 % below and above the usual lengths.
func (g *Generator) length(l diagnosis.Length) float64 {
	const quantile95 = 1.6449
	low, high := math.Log(l.Usual[0]), math.Log(l.Usual[1])
	x := math.Exp((low+high)/2 + g.random.NormFloat64()*(high-low)/2/quantile95)
	return min(max(x, l.Min), l.Max)
}

// pick draws an index by weights.
func (g *Generator) pick(weights []float64) int {
	total := 0.0
	for _, w := range weights {
		total += w
	}
	x := g.random.Float64() * total
	for i, w := range weights {
		if x -= w; x < 0 {
			return i
		}
	}
	return len(weights) - 1
}
