package review

import (
	"slices"

	"revidit/review/judgement"
)

// hint is what the service has told the owner of a draft that does not fit: a state of a character.
type hint = judgement.Selected

// hintsOf are the states that an assessment says do not fit, each once. That no photo shows a character says nothing about its
// state, and that another family fits better nothing about a single one.
func hintsOf(a judgement.Assessment) []hint {
	var told []hint
	add := func(h hint) {
		if h.Character != "" && !slices.Contains(told, h) {
			told = append(told, h)
		}
	}
	for _, c := range a.Contradictions {
		if c.Kind == judgement.Unseen || c.Kind == judgement.BetterFit {
			continue
		}
		add(hint{Character: c.Character, State: c.State})
		for _, w := range c.With {
			add(w)
		}
	}
	return told
}

// afterHint says whether somebody who states a character had been told before that another state of it does not fit.
func afterHint(told []hint, character, state string) bool {
	return slices.ContainsFunc(told, func(h hint) bool { return h.Character == character && h.State != state })
}

// Told adds to a draft what its owner is told that does not fit as it stands now. It is remembered however the draft changes:
// what has been said cannot be unsaid.
func (now *Dossier) Told(d Draft) Draft {
	then := *now
	then.Take(d, now.Registered)
	told := slices.Clone(d.Told)
	for _, h := range hintsOf(then.Alone()) {
		if !slices.Contains(told, h) && len(told) < maxTold {
			told = append(told, h)
		}
	}
	d.Told = told
	return d
}

// maxTold bounds what a draft remembers: more than there are states that anybody tries.
const maxTold = 400

// Alone is the assessment of the submission that is looked at by what its owner states in it, for that owner as the one who
// looks next: never by what others said of its specimen, which may be sealed.
func (now *Dossier) Alone() judgement.Assessment {
	w := now.weighing(now.Judge)
	look := now.People.Look(now.Actor.Person, now.Actor.Role, now.Judge.Tables())
	w.look = &look
	own := *now.Submission
	own.Verdicts, own.Blind = nil, nil
	return w.Assess(now.Judge, &own, now.Specimen, nil)
}
