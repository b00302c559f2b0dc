package judgement

import (
	"slices"

	"revidit/review/confidence"
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
func (w *Weigher) Standing(e *Evidence) Standing {
	j, s := w.judge, w.judge.borrow()
	defer j.giveBack(s)
	j.fill(&s.gathered, e)
	j.fillViews(s, e.Views)
	j.model.FillPosteriorOf(&s.posterior, s.gathered.weighed(w.priors))
	p, leads, most := &s.posterior, j.index.byName[0], uint64(0)
	for _, h := range j.index.byName {
		if n := nanos(p.P[h]); n > most {
			leads, most = h, n
		}
	}
	out := Standing{Leads: j.index.names[leads]}
	subject := leads
	if g := &s.gathered; g.family != nil {
		out.Family, subject = g.family.Name, g.hypothesis
	}
	out.Rival = j.index.names[p.Rival(subject)]
	out.Confidence = float64(nanos(p.P[subject])) / PerUnit
	out.Contradictions = j.contradictions(s, e.Views != nil)
	return out
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
