package review

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

var beetles = NewJudge(diagnosis.Default())

// rehearsal is a club in memory whose clock and ids count up. Invented people.
type rehearsal struct {
	t     require.TestingT
	club  *Club
	ids   int
	clock time.Time
}

func newRehearsal(t require.TestingT, policy Policy, seed string) *rehearsal {
	return &rehearsal{t: t, clock: time.Date(2026, 3, 1, 8, 0, 0, 0, time.UTC),
		club: &Club{Judge: beetles, Policy: policy, Seed: func() string { return seed }}}
}

func (r *rehearsal) moment(person string, role Role) Moment {
	r.clock = r.clock.Add(time.Minute)
	return Moment{Actor: Actor{Person: person, Role: role}, Now: r.clock, NewID: r.id}
}

func (r *rehearsal) id() string {
	r.ids++
	return fmt.Sprintf("id-%04d", r.ids)
}

// open puts the click beetle of clickBeetle before reviewers; its owner, a member, stated all of it.
func (r *rehearsal) open() *Case {
	_, spec := clickBeetle()
	spec.ID, spec.Owner = r.id(), "o"
	spec.Photos = []Photo{{ID: r.id(), View: "whole-below"}}
	for i := range spec.Observations {
		spec.Observations[i].ID, spec.Observations[i].Role = r.id(), RoleMember
	}
	c, err := OpenCase(r.moment("o", RoleMember), r.club, spec, Determination{Family: "Elateridae", Determiner: "o"})
	require.NoError(r.t, err)
	return c
}

// confirmAll is a review in which everything is confirmed and the name agreed with.
func confirmAll(c *Case) ReviewForm {
	form := ReviewForm{Opinion: &OpinionForm{Kind: OpinionAgrees, Basis: BasisPhotos}}
	for _, o := range c.Specimen().Observations {
		form.Verdicts = append(form.Verdicts, VerdictForm{Observation: o.ID, Kind: VerdictConfirm})
	}
	return form
}

// byNumber settles on two independent reviewers who agree, whoever they are and from photos too.
func byNumber() Policy {
	p := DefaultPolicy()
	p.Reviewers, p.OneSuffices = 2, false
	return p
}

// drawnPolicy draws as often as a policy may, and settles on what the six characters of the click beetle carry.
func drawnPolicy() Policy {
	p := byNumber()
	p.BlindRate, p.RecheckRate, p.Confidence = 0.5, 0.5, 0.8
	return p
}

// undrawnPolicy draws nobody, and settles alike.
func undrawnPolicy() Policy {
	p := byNumber()
	p.BlindRate, p.RecheckRate, p.Confidence = 0, 0, 0.8
	return p
}
