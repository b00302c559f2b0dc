package review

import (
	"fmt"
	"slices"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// ReviewForm is what a reviewer saves in one sitting: verdicts on some observations, perhaps an opinion on the name.
type ReviewForm struct {
	Verdicts []VerdictForm `json:"verdicts" required:"false"`
	Opinion  *OpinionForm  `json:"opinion,omitempty"`
}

// VerdictForm is a verdict on one observation.
type VerdictForm struct {
	Observation string      `json:"observation" maxLength:"60"`
	Kind        VerdictKind `json:"kind" enum:"confirm,dispute,not-visible,part-missing,cannot-judge"`
	Better      string      `json:"better,omitempty" maxLength:"60" doc:"State that a dispute gives instead; empty: only not this one"`
	Note        string      `json:"note,omitempty" maxLength:"2000"`
}

// OpinionForm is an opinion on the name.
type OpinionForm struct {
	Kind   OpinionKind `json:"kind" enum:"agrees,another,left-open"`
	Family string      `json:"family,omitempty" maxLength:"60" doc:"Where another family is given"`
	Rank   Rank        `json:"rank,omitempty" maxLength:"20" doc:"Down to which rank you agree: that of the tables (family), genus or species, as far as the name goes; empty: that of the tables. No conf. is printed for a lower one"`
	Basis  Basis       `json:"basis" enum:"specimen,photos,dissected"`
	Note   string      `json:"note,omitempty" maxLength:"2000"`
}

// DecideReview keeps the verdicts and the opinion of one sitting, and ends the hold of whoever gives them. Nobody gives a
// verdict on an observation of their own, nor an opinion on a name of their own.
func DecideReview(now *Dossier, form ReviewForm) (Decision, error) {
	m, s := now.Moment, now.Submission
	if _, err := Transition(m.Actor, ActReview, s); err != nil {
		return Decision{}, err
	}
	if m.Actor.Person == s.Determination.Determiner {
		return Decision{}, now.notOwnName("reviews")
	}
	if err := NotHeldByOther(m, s); err != nil {
		return Decision{}, err
	}
	verdicts, problems := form.verdicts(m, s, now.Specimen, now.Judge)
	opinion := form.opinion(now, &problems)
	now.checkMentorNote(&problems, opinion)
	if len(problems) == 0 && len(verdicts) == 0 && opinion == nil {
		problems.Addf("verdicts", "say something about at least one character, or about the name")
	}
	if err := problems.Err(); err != nil {
		return Decision{}, err
	}
	var d Decision
	if len(verdicts) > 0 {
		d.Submission = append(d.Submission, &VerdictsGiven{Verdicts: verdicts})
	}
	if opinion != nil {
		d.Submission = append(d.Submission, &OpinionGiven{Opinion: *opinion})
	}
	if s.Hold != nil && s.Hold.By == m.Actor.Person {
		d.Submission = append(d.Submission, &HoldEnded{})
	}
	return d, nil
}

func (f ReviewForm) verdicts(m Moment, s *Submission, spec *Specimen, judge *judgement.Judge) ([]Verdict, Problems) {
	var problems Problems
	made := []Verdict{}
	seen := map[string]bool{}
	for i, v := range f.Verdicts {
		field := fmt.Sprintf("verdicts[%d]", i)
		observation, known := spec.Observation(v.Observation)
		if !known || !slices.Contains(s.Cites, v.Observation) || observation.Withdrawn != "" {
			problems.Addf(field+".observation", "is not an observation of this submission")
			continue
		}
		if seen[v.Observation] {
			problems.Addf(field+".observation", "has two verdicts; keep one")
		}
		seen[v.Observation] = true
		if observation.By == m.Actor.Person {
			problems.Addf(field+".observation", "is your own: nobody gives a verdict on an observation of their own; leave it to others")
			continue
		}
		checkVerdict(&problems, field, v, observation, judge)
		made = append(made, Verdict{Observation: v.Observation, Kind: v.Kind, Better: v.Better, Note: strings.TrimSpace(v.Note),
			By: m.Actor.Person, Role: m.Actor.Role, At: m.Now})
	}
	return made, problems
}

func checkVerdict(p *Problems, field string, v VerdictForm, o Observation, judge *judgement.Judge) {
	if !slices.Contains(VerdictKinds, v.Kind) {
		p.Addf(field+".kind", "must be confirm, dispute, not-visible, part-missing or cannot-judge")
	}
	CheckText(p, field+".note", v.Note, 0, MaxNote)
	if v.Better == "" {
		return
	}
	if v.Kind != VerdictDispute {
		p.Addf(field+".better", "only a dispute names a better state")
		return
	}
	if v.Better == o.State {
		p.Addf(field+".better", "is the state that was stated; confirm it, or name another")
		return
	}
	if err := judge.CheckState(o.Character, v.Better); err != nil {
		p.Addf(field+".better", "%s", err)
	}
}

func (f ReviewForm) opinion(now *Dossier, p *Problems) *Opinion {
	if f.Opinion == nil {
		return nil
	}
	o := *f.Opinion
	made := Opinion{Kind: o.Kind, Basis: o.Basis, Note: strings.TrimSpace(o.Note), By: now.Actor.Person, At: now.Now}
	if ownName(now.Actor, now.Submission, now.Siblings) {
		p.Addf("opinion.kind", "you have given the name %s to this specimen yourself: nobody gives an opinion on a name of their own; leave it out",
			now.Submission.Determination.Family)
	}
	if rank := o.agreedRank(p, &now.Submission.Determination, now.Judge.Tables().Group.Rank); o.Kind == OpinionAgrees {
		made.Rank = rank
	}
	switch o.Kind {
	case OpinionAgrees, OpinionLeftOpen:
		if o.Family != "" {
			p.Addf("opinion.family", "only where you give another name")
		}
	case OpinionAnother:
		made.Family = checkOtherFamily(p, "opinion.family", o.Family, now.Submission, now.Judge.Tables())
	default:
		p.Addf("opinion.kind", "must be agrees, another or left-open")
	}
	switch o.Basis {
	case BasisSpecimen, BasisPhotos, BasisDissected:
	default:
		p.Addf("opinion.basis", "say what it rests on: specimen, photos or dissected")
	}
	CheckText(p, "opinion.note", o.Note, 0, MaxNote)
	return &made
}

// checkOtherFamily returns the accepted name of a family that differs from the proposed one.
func checkOtherFamily(p *Problems, field, name string, s *Submission, tables *diagnosis.Tables) string {
	family, _, ok := tables.Resolve(name)
	if !ok {
		p.Addf(field, "%s", tables.NotAName(name))
		return ""
	}
	if family.Name == s.Determination.Family {
		p.Addf(field, "%s is the name that was proposed", family.Name)
	}
	return family.Name
}
