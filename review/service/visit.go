package service

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Visit is how far the actor has come in the first visit.
func (s *Service) Visit(ctx context.Context, actor review.Actor) (review.Visit, error) {
	return s.store.Visit(ctx, actor.Person)
}

// OffersVisit says whether the actor is offered the first visit: who has neither finished it nor done anything here.
func (s *Service) OffersVisit(ctx context.Context, actor review.Actor) (bool, error) {
	v, err := s.store.Visit(ctx, actor.Person)
	if err != nil || v.FinishedAt != nil {
		return false, err
	}
	acted, err := s.store.HasActed(ctx, actor.Person)
	return !acted, err
}

// GoOnVisit notes which step of the first visit the actor has come to.
func (s *Service) GoOnVisit(ctx context.Context, actor review.Actor, step int) error {
	if step < 1 || step > review.VisitSteps {
		return review.Invalidf("step", "must be from 1 to %d", review.VisitSteps)
	}
	return s.store.StoreVisit(ctx, review.Visit{Person: actor.Person, Step: step})
}

// EndVisit notes that the actor has finished the first visit, or does not want it.
func (s *Service) EndVisit(ctx context.Context, actor review.Actor) error {
	v, err := s.store.Visit(ctx, actor.Person)
	if err != nil {
		return err
	}
	now := s.moment(actor).Now
	return s.store.StoreVisit(ctx, review.Visit{Person: actor.Person, Step: max(v.Step, 1), FinishedAt: &now})
}

// VisitCase is a finished determination that a first visit shows: one of the club that the actor may see, or where there is none one
// that is made up from the tables.
type VisitCase struct {
	View   SubmissionView
	MadeUp bool
	// Observation is the one that it is about.
	Observation review.Observation
	judge       *judgement.Judge
}

// Stating is what the characters of the case say, as they were stated and without what others said of them, with another state of
// its character; empty: without that character.
func (c *VisitCase) Stating(state string) judgement.Assessment {
	e := judgement.Evidence{Family: c.View.Submission.Determination.Family, Sex: c.View.Specimen.Label.Sex}
	for _, o := range standing(&c.View) {
		if o.ID == c.Observation.ID {
			o.State = state
		}
		if o.State != "" {
			e.Stated = append(e.Stated, judgement.Stated{Character: o.Character, State: o.State})
		}
	}
	return c.judge.Assess(e)
}

// standing are the observations that a submission cites and that nobody took back.
func standing(v *SubmissionView) []review.Observation {
	var all []review.Observation
	for _, o := range v.Specimen.Observations {
		if o.Withdrawn == "" && slices.Contains(v.Submission.Cites, o.ID) {
			all = append(all, o)
		}
	}
	return all
}

// VisitFinished is a determination that stands, with the observation that tells most of its name.
func (s *Service) VisitFinished(ctx context.Context, actor review.Actor) (VisitCase, error) {
	return s.visitCase(ctx, actor, visitWants{
		specimen: func(c *review.Closed) bool { return len(confirmedIn(c)) >= leastShown },
		fits: func(c *VisitCase) bool {
			return c.View.Submission.Status == review.StatusConfirmed && c.View.Submission.Owner != actor.Person && c.mostTelling()
		},
		tells: func(c *VisitCase) float64 {
			return c.Stating(c.Observation.State).Confidence - c.Stating("").Confidence
		},
		madeUp: madeUpFinished,
	})
}

// VisitDisputed is a closed determination of which reviewers confirmed one character, and saw another state of a second one: the case
// is about the latter, and confirmed is the same about the former.
func (s *Service) VisitDisputed(ctx context.Context, actor review.Actor) (confirmed, disputed VisitCase, err error) {
	disputed, err = s.visitCase(ctx, actor, visitWants{
		specimen: func(c *review.Closed) bool {
			return len(confirmedIn(c)) > 0 && slices.ContainsFunc(c.Submissions[0].Verdicts, disputes)
		},
		fits: func(c *VisitCase) bool {
			both := *c
			return c.View.Submission.Owner != actor.Person && both.about(confirms) && c.about(disputes)
		},
		tells: func(c *VisitCase) float64 {
			without, with := c.effect(&review.Reliability{})
			return math.Abs(with.Confidence - without.Confidence)
		},
		madeUp: madeUpDisputed,
	})
	confirmed = disputed
	if err == nil && !confirmed.about(confirms) {
		err = review.Errorf(review.KindNotFound, "Nothing of it was confirmed.")
	}
	return confirmed, disputed, err
}

// VisitDoubtful is a determination of which something does not fit.
func (s *Service) VisitDoubtful(ctx context.Context, actor review.Actor) (VisitCase, error) {
	lines, _, err := s.Find(ctx, actor, SubmissionFilter{Doubtful: true}, Page{Size: visitViews})
	if err != nil {
		return VisitCase{}, err
	}
	for _, l := range lines {
		c, err := s.visited(ctx, actor, l.ID)
		if err != nil {
			return VisitCase{}, err
		}
		if c != nil && len(c.View.Assessment.Contradictions) > 0 {
			return *c, nil
		}
	}
	return s.visitMadeUp(ctx, visitWants{fits: func(*VisitCase) bool { return true }, madeUp: madeUpDoubtful})
}

const (
	// visitSpecimens is how many closed specimens of a group are looked through for what is wanted, of which visitTried are weighed, and
	// visitViews of these opened at most.
	visitSpecimens, visitTried, visitViews = 200, 20, 5
	// leastShown is how many characters a finished determination has at least that is shown as an example.
	leastShown = 3
)

// visitWants is what a case of a first visit is to show: what is asked of the testimony of a closed specimen, what of a submission, how
// much that shows (the most is chosen), and what is shown where the club has none.
type visitWants struct {
	specimen func(*review.Closed) bool
	fits     func(*VisitCase) bool
	tells    func(*VisitCase) float64
	madeUp   func(judgement.Example, *SubmissionView)
}

// visitCase looks among the latest closed specimens of each group. What fits is chosen before anything is shown to the actor, since of
// reviewers it is recorded what they were shown.
func (s *Service) visitCase(ctx context.Context, actor review.Actor, wants visitWants) (VisitCase, error) {
	groups, err := s.Groups(ctx)
	if err != nil {
		return VisitCase{}, err
	}
	for _, judge := range groups {
		found, err := s.visitCandidates(ctx, judge, wants)
		if err != nil {
			return VisitCase{}, err
		}
		for _, id := range found[:min(len(found), visitViews)] {
			c, err := s.visited(ctx, actor, id)
			if err != nil {
				return VisitCase{}, err
			}
			if c != nil && wants.fits(c) {
				return *c, nil
			}
		}
	}
	return s.visitMadeUp(ctx, wants)
}

// visitCandidates are submissions of a group that show what is wanted, those that show it best first.
func (s *Service) visitCandidates(ctx context.Context, judge *judgement.Judge, wants visitWants) ([]string, error) {
	closed, _, err := s.store.FindTestimonies(ctx, TestimonyFilter{Group: judge.Tables().Group.ID, Latest: true, Unread: func(string) {}}, Page{Size: visitSpecimens})
	if err != nil {
		return nil, err
	}
	closed = slices.DeleteFunc(closed, func(c review.Closed) bool { return !wants.specimen(&c) })
	tells := map[string]float64{}
	for i := range closed[:min(len(closed), visitTried)] {
		spec, err := s.store.Specimen(ctx, closed[i].Specimen.ID)
		if err != nil {
			return nil, err
		}
		submissions, err := s.store.SubmissionsOf(ctx, spec.ID)
		if err != nil {
			return nil, err
		}
		for _, sub := range submissions {
			c := VisitCase{View: SubmissionView{Submission: sub, Specimen: spec}, judge: judge}
			if sub.Group == judge.Tables().Group.ID && sub.Closed() && wants.fits(&c) {
				tells[sub.ID] = wants.tells(&c)
			}
		}
	}
	ids := slices.Sorted(maps.Keys(tells))
	slices.SortStableFunc(ids, func(a, b string) int { return cmp.Compare(tells[b], tells[a]) })
	return ids, nil
}

// visited is a submission as the actor sees it; nil where it is not shown to the actor, who is to look blind or may not read it, and
// where it is of a series in which the actor is shown no numbers.
func (s *Service) visited(ctx context.Context, actor review.Actor, id string) (*VisitCase, error) {
	view, err := s.View(ctx, actor, id)
	switch review.KindOf(err) {
	case review.KindBlind, review.KindNotFound, review.KindForbidden:
		return nil, nil
	}
	if err != nil || view.Unscored || view.Sealed {
		return nil, err
	}
	judge, err := s.Judge(ctx, view.Submission.Group)
	return &VisitCase{View: view, judge: judge}, err
}

// mostTelling makes the case about the drawn character without which its name would be least probable; false where there are few.
func (c *VisitCase) mostTelling() bool {
	least, drawn := 2.0, 0
	for _, o := range standing(&c.View) {
		if !c.drawn(o) {
			continue
		}
		drawn++
		tried := *c
		tried.Observation = o
		if p := tried.Stating("").Confidence; p < least {
			least, c.Observation = p, o
		}
	}
	return drawn >= leastShown
}

// about makes the case about the first drawn character of which somebody has said what is asked for; false where nobody has.
func (c *VisitCase) about(says func(review.Verdict) bool) bool {
	for _, o := range standing(&c.View) {
		said := func(v review.Verdict) bool { return v.Observation == o.ID && says(v) && !v.SelfGiven(o) }
		if c.drawn(o) && slices.ContainsFunc(c.View.Submission.Verdicts, said) {
			c.Observation = o
			return true
		}
	}
	return false
}

// drawn says whether the tables in force draw every state of the character of an observation.
func (c *VisitCase) drawn(o review.Observation) bool {
	t := c.judge.Tables()
	character, ok := t.Character(o.Character)
	if !ok || len(character.States) == 0 || character.State(o.State) < 0 {
		return false
	}
	return !slices.ContainsFunc(character.States, func(s diagnosis.State) bool {
		_, drawn := t.Picture(character.ID, s.ID)
		return !drawn
	})
}

func confirms(v review.Verdict) bool { return v.Kind == review.VerdictConfirm }

func disputes(v review.Verdict) bool { return v.Kind == review.VerdictDispute && v.Better != "" }

// confirmedIn are the verdicts in a testimony that confirm something.
func confirmedIn(c *review.Closed) []review.Verdict {
	return slices.DeleteFunc(slices.Clone(c.Submissions[0].Verdicts), func(v review.Verdict) bool { return !confirms(v) })
}

// VisitEffect is what the verdicts on the observation of a case did to its name: the assessment without them, and with them.
func (s *Service) VisitEffect(ctx context.Context, c VisitCase) (without, with judgement.Assessment, err error) {
	people := review.Reliability{}
	if !c.MadeUp {
		persons := review.Reporters(&c.View.Specimen, []review.Submission{c.View.Submission})
		if people, err = s.reliabilityOf(ctx, c.View.Submission.Group, persons); err != nil {
			return without, with, err
		}
	}
	without, with = c.effect(&people)
	return without, with, nil
}

// effect weighs the submission of a case alone, by what is known of people.
func (c *VisitCase) effect(people *review.Reliability) (without, with judgement.Assessment) {
	w := review.Weighing{People: people, List: c.View.Policy.Prior(c.judge.Tables()), Policy: c.View.Policy.Version}
	sub := c.View.Submission
	with = w.Assess(c.judge, &sub, &c.View.Specimen, nil)
	sub.Verdicts = slices.DeleteFunc(slices.Clone(sub.Verdicts), func(v review.Verdict) bool { return v.Observation == c.Observation.ID })
	sub.Blind = slices.DeleteFunc(slices.Clone(sub.Blind), func(b review.BlindCheck) bool { return b.Observation == c.Observation.ID })
	return w.Assess(c.judge, &sub, &c.View.Specimen, nil), with
}

// Who has stated and judged what is made up: no persons, so that their names are words of pages.
const (
	MadeUpMember   = "made-up-member"
	MadeUpReviewer = "made-up-reviewer"
)

// visitMadeUp is a case made up from the first tables that have an example.
func (s *Service) visitMadeUp(ctx context.Context, wants visitWants) (VisitCase, error) {
	groups, err := s.Groups(ctx)
	if err != nil {
		return VisitCase{}, err
	}
	for _, judge := range groups {
		example, ok := judge.Example()
		if !ok {
			continue
		}
		c := VisitCase{MadeUp: true, judge: judge}
		c.View.Submission = review.Submission{Group: judge.Tables().Group.ID, Owner: MadeUpMember, Status: review.StatusConfirmed}
		wants.madeUp(example, &c.View)
		e := review.Weighing{People: &review.Reliability{}}.Evidence(&c.View.Submission, &c.View.Specimen, nil, judge.Tables())
		e.Views = nil // it has no photos, and none are asked for
		c.View.Assessment = judge.Assess(e)
		if wants.fits(&c) {
			return c, nil
		}
	}
	return VisitCase{}, review.Errorf(review.KindNotFound, "The tables here have no example to show.")
}

// madeUpFinished is one that was named rightly, and that a reviewer confirmed throughout.
func madeUpFinished(e judgement.Example, v *SubmissionView) {
	v.Submission.Determination.Family = e.Family
	for _, stated := range append(slices.Clone(e.Stated), e.Telling) {
		say(v, stated, review.Verdict{Kind: review.VerdictConfirm})
	}
}

// madeUpDisputed is one whose member took it for another family, with the state that this one shows; a reviewer saw otherwise.
func madeUpDisputed(e judgement.Example, v *SubmissionView) {
	v.Submission.Determination.Family, v.Submission.Status = e.Taken, review.StatusRedetermined
	for _, stated := range e.Stated {
		say(v, stated, review.Verdict{Kind: review.VerdictConfirm})
	}
	say(v, e.Instead, review.Verdict{Kind: review.VerdictDispute, Better: e.Telling.State})
}

// madeUpDoubtful is one whose member stated what its name never has.
func madeUpDoubtful(e judgement.Example, v *SubmissionView) {
	v.Submission.Determination.Family = e.Taken
	for _, stated := range append(slices.Clone(e.Stated), e.Telling) {
		say(v, stated, review.Verdict{})
	}
}

// say adds what a member stated, with what a reviewer said of it where that is anything.
func say(v *SubmissionView, stated judgement.Stated, verdict review.Verdict) {
	o := review.Observation{ID: stated.Character, Character: stated.Character, State: stated.State, Sureness: review.Sure, By: MadeUpMember, Role: review.RoleMember}
	v.Specimen.Observations = append(v.Specimen.Observations, o)
	v.Submission.Cites = append(v.Submission.Cites, o.ID)
	if verdict.Kind != "" {
		verdict.Observation, verdict.By, verdict.Role = o.ID, MadeUpReviewer, review.RoleReviewer
		v.Submission.Verdicts = append(v.Submission.Verdicts, verdict)
	}
}
