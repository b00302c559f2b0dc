package review

import (
	"math"
	"slices"

	"revidit/review/judgement"
)

// DoubtKind is a reason to ask before a review is stored.
type DoubtKind string

const (
	// DoubtPartly: characters are passed over, and saving opens what others said of them.
	DoubtPartly DoubtKind = "partly"
	// DoubtFar: it agrees with a name that the characters make unlikely.
	DoubtFar DoubtKind = "far"
	// DoubtAgainst: the verdicts in it speak against the name that it gives.
	DoubtAgainst DoubtKind = "against"
)

// Bounds of what is worth a question. Unlikely is a probability below a third, as the IPCC's guidance on uncertainties has
// it (Mastrandrea et al. 2010, table 1); three decibans are a factor of two in the odds, our own choice.
const (
	unlikely        = 1.0 / 3
	againstDecibans = 3
)

// Doubt is something that a reviewer is asked before a review is stored, with what it rests on. It refuses nothing.
type Doubt struct {
	Kind DoubtKind
	// DoubtPartly: how many of the characters that others stated were looked at, of how many.
	Looked, Of int
	// Name is the one given, and P its probability with the verdicts counted; Rival is the most probable other one. DoubtFar
	// and DoubtAgainst only.
	Name, Rival string
	P           float64
	// Factor is how many times the verdicts lower the odds of the name. DoubtAgainst only.
	Factor float64
}

// Doubts are what a review raises, from what the actor may see alone: what is sealed tells nothing. A review that would be
// refused raises none.
func Doubts(now *Dossier, form ReviewForm) []Doubt {
	verdicts, problems := form.verdicts(now.Moment, now.Submission, now.Specimen, now.Judge)
	opinion := form.opinion(now, &problems)
	if len(problems) > 0 || len(verdicts) == 0 && opinion == nil {
		return nil
	}
	var doubts []Doubt
	if partly, raised := now.partly(verdicts); raised {
		doubts = append(doubts, partly)
	}
	if opinion == nil || opinion.Kind == OpinionLeftOpen {
		return doubts
	}
	name := now.Submission.Determination.Family
	if opinion.Kind == OpinionAnother {
		name = opinion.Family
	}
	before, after := now.Shown(), now.shownWith(verdicts)
	d := Doubt{Name: name, P: probabilityOf(after, name), Rival: likeliestBut(after, name)}
	if opinion.Kind == OpinionAgrees && d.P < unlikely {
		far := d
		far.Kind = DoubtFar
		doubts = append(doubts, far)
	}
	if fall := logit(probabilityOf(before, name)) - logit(d.P); fall >= againstDecibans*math.Ln10/10 {
		d.Kind, d.Factor = DoubtAgainst, math.Exp(fall)
		doubts = append(doubts, d)
	}
	return doubts
}

// partly says how many characters that others stated are passed over. After opening there is nothing left to open.
func (now *Dossier) partly(verdicts []Verdict) (Doubt, bool) {
	if !SealedFrom(now.Actor, now.Submission) {
		return Doubt{}, false
	}
	d := Doubt{Kind: DoubtPartly}
	for _, id := range now.Standing() {
		if o, _ := now.Specimen.Observation(id); o.By == now.Actor.Person {
			continue
		}
		d.Of++
		if slices.ContainsFunc(verdicts, func(v Verdict) bool { return v.Observation == id }) {
			d.Looked++
		}
	}
	return d, d.Looked < d.Of
}

// shownWith is the assessment that the actor would be shown with verdicts of theirs, and of others what is shown now.
func (now *Dossier) shownWith(verdicts []Verdict) judgement.Assessment {
	seen := SeenBy(now.Actor, *now.Submission)
	seen.Verdicts = mergeVerdicts(seen.Verdicts, verdicts)
	return now.AssessFor(now.Judge, &seen, OpenTo(now.Actor, now.Siblings))
}

// probabilityOf is that of a name in a ranking, never 0 or 1; that of a name which the tables do not rank is the least.
func probabilityOf(a judgement.Assessment, name string) float64 {
	for _, r := range a.Ranking {
		if r.Family == name {
			return r.P
		}
	}
	return 1 / judgement.PerUnit
}

func likeliestBut(a judgement.Assessment, name string) string {
	for _, r := range a.Ranking {
		if r.Family != name {
			return r.Family
		}
	}
	return ""
}

func logit(p float64) float64 { return math.Log(p / (1 - p)) }
