package judgement

import (
	"reflect"
	"slices"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Standing is of an assessment what a change of the tables, the policy or of what is known of people can move: how sure the name is,
// who leads, and what does not fit.
type Standing struct {
	Family     string // accepted name of the proposed family; "": the tables have none
	Confidence float64
	Leads      string // most probable family
	Rival      string // most probable one beside Family
	// Contradictions are those of an Assessment.
	Contradictions []Contradiction
}

// Weigher weighs many specimens with one prior and leaves out what only a reader wants to know: why, and what to look at next. It is
// safe for concurrent use.
type Weigher struct {
	judge  *Judge
	priors []float64 // by family; nil: those of the tables
}

// Weigher returns one for a prior by family (Evidence.Prior), which takes the place of that of the evidence.
func (j *Judge) Weigher(prior map[string]float64) *Weigher {
	return &Weigher{judge: j, priors: slices.Clone(j.weights(prior, &gathered{}))}
}

// Judge is whose tables are weighed by.
func (w *Weigher) Judge() *Judge { return w.judge }

// Standing is that of the evidence: its numbers and contradictions are those of Judge.Assess.
func (w *Weigher) Standing(e *Evidence) (out Standing) {
	w.FillStanding(&out, e)
	return out
}

// FillStanding is Standing into out, whose memory it uses again.
func (w *Weigher) FillStanding(out *Standing, e *Evidence) {
	s := w.judge.borrow()
	defer w.judge.giveBack(s)
	w.weigh(s, e)
	w.judge.fillStanding(out, s, &s.posterior, e.Views != nil)
}

func (w *Weigher) weigh(s *scratch, e *Evidence) {
	w.judge.fill(&s.gathered, e)
	w.judge.fillViews(s, e.Views)
	w.judge.model.FillChancesOf(&s.posterior, s.gathered.weighed(w.priors))
}

// fillStanding is where what was gathered stands by a posterior, which is that of s.
func (j *Judge) fillStanding(out *Standing, s *scratch, p *confidence.Posterior, photos bool) {
	j.fillNumbers(out, s, p)
	out.Contradictions = j.contradictions(out.Contradictions[:0], s, photos)
}

func (j *Judge) fillNumbers(out *Standing, s *scratch, p *confidence.Posterior) {
	leads, most := j.index.byName[0], 0.0
	for _, h := range j.index.byName {
		if p.P[h] > most && nanos(p.P[h]) > nanos(most) {
			leads, most = h, p.P[h]
		}
	}
	out.Leads, out.Family = j.index.names[leads], ""
	subject := leads
	if g := &s.gathered; g.family != nil {
		out.Family, subject = g.family.Name, g.hypothesis
	}
	out.Rival = j.index.names[p.Rival(subject)]
	out.Confidence = float64(nanos(p.P[subject])) / PerUnit
}

// Two weighs by two weighers whose judges differ in the cells of their tables alone: what they have in common is done once. It is safe for
// concurrent use.
type Two struct {
	before, after *Weigher
	step          *confidence.Step
	cells         []map[int]bool // by family: characters of which a form shows something else
}

// TwoOf puts two weighers together; false where their tables differ in more than cells, or their priors.
func TwoOf(before, after *Weigher) (*Two, bool) {
	step, ok := before.judge.model.StepTo(after.judge.model)
	if !ok || !slices.Equal(before.priors, after.priors) || !before.judge.tables.SameButCells(after.judge.tables) {
		return nil, false
	}
	return &Two{before, after, step, otherCells(before.judge.tables, after.judge.tables)}, true
}

func otherCells(a, b *diagnosis.Tables) []map[int]bool {
	cells := make([]map[int]bool, len(a.Families))
	for f := range cells {
		cells[f] = map[int]bool{}
		for i := range a.Families[f].Forms {
			for c := range a.Characters {
				id := a.Characters[c].ID
				if !reflect.DeepEqual(a.Families[f].Forms[i].Cells[id], b.Families[f].Forms[i].Cells[id]) {
					cells[f][c] = true
				}
			}
		}
	}
	return cells
}

// FillStandings is FillStanding by both.
func (t *Two) FillStandings(before, after *Standing, e *Evidence) { t.fill(before, after, e, false) }

// FillApart is FillStandings, but leaves out what contradicts by both alike: for who asks for nothing but what sets the two apart. A
// better fit is told of each.
func (t *Two) FillApart(before, after *Standing, e *Evidence) { t.fill(before, after, e, true) }

func (t *Two) fill(before, after *Standing, e *Evidence, apart bool) {
	j := t.before.judge
	s := j.borrow()
	defer j.giveBack(s)
	t.before.weigh(s, e)
	g := &s.gathered
	concerned := g.family != nil && slices.ContainsFunc(g.findings, func(f Finding) bool { return t.cells[g.hypothesis][f.Index] })
	if concerned || !apart {
		j.fillStanding(before, s, &s.posterior, e.Views != nil)
	} else {
		j.fillNumbers(before, s, &s.posterior)
		j.fillBetterFit(before, nil, s)
	}
	t.step.FillChances(&s.other, &s.posterior, g.weighed(t.before.priors))
	s.posterior, s.other = s.other, s.posterior
	if concerned {
		t.after.judge.fillStanding(after, s, &s.posterior, e.Views != nil)
		return
	}
	t.after.judge.fillNumbers(after, s, &s.posterior)
	t.after.judge.fillBetterFit(after, before.Contradictions, s)
}

// fillBetterFit takes over the contradictions of a former standing where the proposed family shows nothing else of what was stated: only a
// better fit may be another one then.
func (j *Judge) fillBetterFit(out *Standing, former []Contradiction, s *scratch) {
	out.Contradictions = out.Contradictions[:0]
	for _, c := range former {
		if c.Kind != BetterFit {
			out.Contradictions = append(out.Contradictions, c)
		}
	}
	if s.gathered.family == nil {
		return
	}
	s.found = s.found[:0]
	j.betterFit(s)
	out.Contradictions = append(out.Contradictions, s.found...)
}

// Weights are by how many decibans each stated character speaks for one family against another, in the order of the tables, and the
// prior before them as WhyPrior. Nil where the tables lack one of the two.
func (w *Weigher) Weights(e *Evidence, family, rival string) []Weight {
	j, s := w.judge, w.judge.borrow()
	defer j.giveBack(s)
	subject, other := slices.Index(j.index.names, family), slices.Index(j.index.names, rival)
	if subject < 0 || other < 0 || subject == other {
		return nil
	}
	j.fill(&s.gathered, e)
	j.model.FillPosteriorOf(&s.posterior, s.gathered.weighed(w.priors))
	s.posterior.FillWhy(&s.weights, subject, other)
	out := []Weight{{Character: WhyPrior, Decibans: s.weights.Prior}}
	for i, c := range s.posterior.Seen {
		out = append(out, Weight{Character: j.tables.Characters[c].ID, Decibans: s.weights.Characters[i]})
	}
	return out
}

// Weighed is what the bare posterior of a specimen takes: for those who measure what that alone costs.
func (w *Weigher) Weighed(e *Evidence) confidence.Evidence {
	return w.judge.gather(*e).weighed(w.priors)
}
