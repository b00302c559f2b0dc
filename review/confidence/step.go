package confidence

import (
	"reflect"
	"slices"
)

// Step goes from one Model to another that has the same hypotheses, forms and characters, and of some characters other cells: what the
// others are worth is the same by both, and is computed once. It is read-only and safe for concurrent use.
type Step struct {
	to   *Model
	same []bool // by character: compiled to the very same numbers
}

// StepTo compares two models; false where they differ in more than cells.
func (m *Model) StepTo(to *Model) (*Step, bool) {
	if m.none != to.none || len(m.characters) != len(to.characters) || !slices.Equal(m.first, to.first) || !reflect.DeepEqual(m.weight, to.weight) ||
		!slices.Equal(m.prior, to.prior) || !reflect.DeepEqual(m.dependent, to.dependent) {
		return nil, false
	}
	s := &Step{to: to, same: make([]bool, len(m.characters))}
	for c := range s.same {
		s.same[c] = reflect.DeepEqual(m.characters[c], to.characters[c])
	}
	return s, true
}

// FillPosterior is FillPosteriorOf by the model that the step goes to, to the last digit. was is what the other model makes of the same
// evidence; it is not changed, and p must be another one.
func (s *Step) FillPosterior(p, was *Posterior, e Evidence) {
	s.FillChances(p, was, e)
	p.Complete()
}

// FillChances is FillPosterior as FillChancesOf is FillPosteriorOf.
func (s *Step) FillChances(p, was *Posterior, e Evidence) {
	m := s.to
	scratch := m.borrow()
	defer m.giveBack(scratch)
	p.model, p.sex = m, was.sex
	p.prior, p.LogPrior = append(p.prior[:0], was.prior...), append(p.LogPrior[:0], was.LogPrior...)
	s.weigh(&p.weighing, &was.weighing, &scratch.arranged, e)
	p.fillChances()
}

func (s *Step) weigh(w, was *weighing, a *arranged, e Evidence) {
	m := s.to
	m.arrange(a, e.Observations)
	w.begin(m, was.seen)
	for i, c := range w.seen {
		if !s.same[c] {
			w.look(m, a, i)
			continue
		}
		w.usual[i], w.ready[i] = was.usual[i], true
		copy(w.likelihood(m, i), was.lik[was.start[i]:])
		copy(w.raised[w.start[i]:], was.raised[was.start[i]:][:m.characters[c].rows])
	}
	if slices.ContainsFunc(e.Silences, func(silence Silence) bool { return !s.same[silence.Character] }) {
		w.hush.of(m, e.Silences, a)
		return
	}
	w.hush.copy(&was.hush)
}
