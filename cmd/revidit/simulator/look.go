package simulator

import (
	"cmp"
	"math"
	"slices"

	"revidit/review"
	"revidit/review/judgement"
)

const (
	// perLook is how many characters a reviewer judges in one look; one that was drawn to be looked at blind comes on top.
	perLook = 8
	// mostLooks is after how many reviewers a case that has not settled is left undetermined.
	mostLooks = 8
)

// look is one reviewer at one case: what chance asks to be looked at blind, then verdicts on a few characters and an
// opinion on the name. It closes cases that nobody would go on with.
func (c *club) look(i, reviewer int) error {
	blind, err := c.blind(i, reviewer)
	if err != nil {
		return err
	}
	now := &c.cases[i]
	form := review.ReviewForm{Opinion: c.opinion(i, reviewer)}
	for _, at := range c.chosen(i, blind) {
		form.Verdicts = append(form.Verdicts, c.verdict(i, reviewer, at))
	}
	if err := now.Review(c.moment(reviewer), c.service(i), form); err != nil {
		return err
	}
	c.spent += len(form.Verdicts)
	if form.Opinion.Kind == review.OpinionAgrees {
		if err := c.reply(i, reviewer); err != nil {
			return err
		}
	}
	if now.Submission().Status == review.StatusOpen && c.givenUp(i) {
		if err := now.Undetermine(c.moment(reviewer), c.service(i), "the characters do not carry the name that was proposed"); err != nil {
			return err
		}
	}
	c.follow(i)
	if now.Submission().Status == review.StatusOpen {
		return nil
	}
	return c.take(i)
}

// reply answers what stands against a name that a reviewer agrees with and the characters carry.
func (c *club) reply(i, reviewer int) error {
	s := c.cases[i].Submission()
	if s.Status != review.StatusOpen || s.Assessment.Confidence < c.policy.Confidence {
		return nil
	}
	for _, f := range c.policy.Unanswered(s) {
		form := review.ReplyForm{Kind: f.Kind, Character: f.Character, State: f.State, Reason: "misread: everything else speaks for the name"}
		if s.Status != review.StatusOpen {
			return nil
		}
		if err := c.cases[i].Reply(c.moment(reviewer), c.service(i), form); err != nil {
			return err
		}
	}
	return nil
}

// blind answers what the reviewer was drawn to look at, and returns its place, or -1.
func (c *club) blind(i, reviewer int) (int, error) {
	asked, drawn := c.cases[i].Asked(c.actor(reviewer))
	if !drawn {
		return -1, nil
	}
	at := slices.IndexFunc(c.cases[i].Specimen().Observations, func(o review.Observation) bool { return o.ID == asked.ID })
	c.spent++
	return at, c.cases[i].BlindCheck(c.moment(reviewer), c.service(i), review.BlindForm{State: c.world.Reading(i, reviewer, c.asked[i][at])})
}

// chosen are the places of the characters that a reviewer judges: those that weigh most for or against the name, as the
// page shows it, each the less the more have judged it already.
func (c *club) chosen(i, blind int) []int {
	s := c.cases[i].Submission()
	observations := c.cases[i].Specimen().Observations
	worth := make([]float64, len(observations))
	var places []int
	for at := range observations {
		worth[at] = weightOf(s.Assessment, observations[at].Character) / float64(1+2*verdictsOn(s, observations[at].ID))
		if at != blind {
			places = append(places, at)
		}
	}
	slices.SortStableFunc(places, func(a, b int) int { return cmp.Compare(worth[b], worth[a]) })
	return places[:min(perLook, len(places))]
}

func verdictsOn(s *review.Submission, observation string) int {
	n := 0
	for _, v := range s.Verdicts {
		if v.Observation == observation {
			n++
		}
	}
	return n
}

// weightOf is how many decibans a character weighs, whichever way.
func weightOf(a *judgement.Assessment, character string) float64 {
	for _, w := range a.Why {
		if w.Character == character {
			return math.Abs(w.Decibans) + 0.1
		}
	}
	return 0
}

func (c *club) verdict(i, reviewer, at int) review.VerdictForm {
	o := &c.cases[i].Specimen().Observations[at]
	form := review.VerdictForm{Observation: o.ID, Kind: review.VerdictConfirm}
	if v, ok := c.copied(i, reviewer, o.ID); ok {
		form.Kind, form.Better = v.Kind, v.Better
		return form
	}
	answer := c.world.Verdict(i, reviewer, c.asked[i][at], o.State)
	if !answer.Confirms {
		form.Kind, form.Better = review.VerdictDispute, answer.Better
	}
	return form
}

// copied is what a friend said of it before, where the reviewer repeats that.
func (c *club) copied(i, reviewer int, observation string) (review.Verdict, bool) {
	friend, ok := c.world.CopiesOf(reviewer)
	if !ok {
		return review.Verdict{}, false
	}
	for _, v := range c.cases[i].Submission().Verdicts {
		if v.Observation == observation && v.By == c.world.People[friend].ID {
			return v, true
		}
	}
	return review.Verdict{}, false
}

func (c *club) opinion(i, reviewer int) *review.OpinionForm {
	name := c.named(i, reviewer)
	form := &review.OpinionForm{Kind: review.OpinionAnother, Family: name, Basis: review.BasisPhotos}
	switch name {
	case c.world.Specimens[i].Proposed:
		form.Kind, form.Family = review.OpinionAgrees, ""
	case judgement.NoneOfThese:
		form.Kind, form.Family = review.OpinionLeftOpen, ""
	}
	return form
}

// named is the name that a reviewer gives, which is a friend's where they copy.
func (c *club) named(i, reviewer int) string {
	if friend, ok := c.world.CopiesOf(reviewer); ok {
		for _, o := range c.cases[i].Submission().Opinions {
			if o.By == c.world.People[friend].ID {
				return nameOf(o, c.world.Specimens[i].Proposed)
			}
		}
	}
	return c.world.Name(i, reviewer)
}

// nameOf is the name that an opinion is for.
func nameOf(o review.Opinion, proposed string) string {
	switch o.Kind {
	case review.OpinionAgrees:
		return proposed
	case review.OpinionAnother:
		return o.Family
	}
	return judgement.NoneOfThese
}

// givenUp says whether reviewers would close a case that does not settle: when enough of them give one other name that
// the characters carry (it would be determined anew), or when so many have looked that more of them will not help.
func (c *club) givenUp(i int) bool {
	s := c.cases[i].Submission()
	if len(s.Opinions) >= mostLooks {
		return true
	}
	top := s.Assessment.Ranking[0]
	if top.Family == s.Determination.Family || top.P < c.policy.Confidence {
		return false
	}
	others := 0
	for _, o := range s.Opinions {
		if nameOf(o, s.Determination.Family) == top.Family {
			others++
		}
	}
	return others >= c.policy.Reviewers
}
