package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

// settled is a case that two reviewers have confirmed.
func settled(t *testing.T, r *rehearsal) *Case {
	c := r.open()
	for _, person := range []string{"r1", "r2"} {
		require.NoError(t, c.Review(r.moment(person, RoleReviewer), r.club, confirmAll(c)))
	}
	require.Equal(t, StatusConfirmed, c.Submission().Status, r.club.Policy.Missing(c.Submission(), nil))
	return c
}

func recheckedCase(t *testing.T) (*rehearsal, *Case) {
	policy := undrawnPolicy()
	policy.RecheckRate = 0.5
	for _, seed := range []string{"a", "b", "c", "d", "e", "f", "g", "h", "i", "j"} {
		r := newRehearsal(t, policy, seed)
		if c := settled(t, r); c.Submission().Recheck != nil {
			return r, c
		}
	}
	require.Fail(t, "none of ten was drawn at one in two")
	return nil, nil
}

func TestARecheckIsDrawnWhenItCloses(t *testing.T) {
	_, c := recheckedCase(t)
	drawn := c.Submission().Recheck
	require.Equal(t, 0.5, drawn.Rate)
	require.Equal(t, 3, drawn.Panel)
	require.Equal(t, "Elateridae", drawn.Closing.Family)
	require.Equal(t, c.Submission().Assessment.Ranking[0].P, drawn.Closing.P)
	require.Equal(t, "Elateridae", drawn.Opening.Family)
	require.Less(t, drawn.Opening.P, drawn.Closing.P, "two reviewers have confirmed everything since")

	r := newRehearsal(t, undrawnPolicy(), "a")
	require.Nil(t, settled(t, r).Submission().Recheck)
}

func TestThePanelIsOfPeopleWhoKnowNothing(t *testing.T) {
	r, c := recheckedCase(t)
	s := c.Submission()
	require.False(t, OnPanel(Actor{Person: "r1", Role: RoleReviewer}, s, nil), "reviewed it")
	require.False(t, OnPanel(Actor{Person: "o", Role: RoleReviewer}, s, nil), "owns it")
	require.False(t, OnPanel(Actor{Person: "p1", Role: RoleCurator}, s, nil), "sees everything")
	require.False(t, OnPanel(Actor{Person: "p1", Role: RoleMember}, s, nil))
	say := func(person, family string) error {
		return c.act(r.moment(person, RoleReviewer), r.club, func(now *Dossier) (Decision, error) {
			return DecidePanel(now.Moment, now.Submission, PanelForm{Family: family}, now.Judge.Tables())
		})
	}
	require.Equal(t, KindInvalid, KindOf(say("p1", "Nothing of the kind")))
	for _, person := range []string{"p1", "p2"} {
		require.True(t, OnPanel(Actor{Person: person, Role: RoleReviewer}, s, nil))
		require.NoError(t, say(person, "Buprestidae"))
		require.False(t, OnPanel(Actor{Person: person, Role: RoleReviewer}, s, nil), "once is enough")
		_, known := s.Recheck.Truth()
		require.False(t, known, "not complete")
	}
	require.NoError(t, c.act(r.moment("p3", RoleReviewer), r.club, func(now *Dossier) (Decision, error) {
		return DecideLeave(now.Moment, now.Submission)
	}))
	require.False(t, OnPanel(Actor{Person: "p3", Role: RoleReviewer}, s, nil), "has chosen to see it")
	require.NoError(t, say("p4", "Elateridae"))
	truth, known := s.Recheck.Truth()
	require.True(t, known)
	require.Equal(t, "Buprestidae", truth)
	require.False(t, OnPanel(Actor{Person: "p5", Role: RoleReviewer}, s, nil), "complete")
	require.Equal(t, StatusConfirmed, s.Status, "a panel finds out; it decides nothing")
}

func TestADividedPanelKnowsNoTruth(t *testing.T) {
	for _, families := range [][]string{{"A", "B", "C"}, {"", "", ""}, {"A", "", "B"}, {"A", "A"}} {
		r := Recheck{Panel: 3}
		for _, f := range families {
			r.Opinions = append(r.Opinions, PanelOpinion{Family: f})
		}
		_, known := r.Truth()
		require.False(t, known, families)
	}
	none := Recheck{Panel: 3, Opinions: []PanelOpinion{{Family: judgement.NoneOfThese}, {Family: judgement.NoneOfThese}, {Family: "A"}}}
	truth, known := none.Truth()
	require.True(t, known)
	require.Equal(t, judgement.NoneOfThese, truth)
}

func TestReopeningEndsARecheck(t *testing.T) {
	r, c := recheckedCase(t)
	require.NoError(t, c.act(r.moment("k", RoleCurator), r.club, func(now *Dossier) (Decision, error) {
		return DecideReopen(now.Moment, now.Submission, "a better photo has come")
	}))
	require.Nil(t, c.Submission().Recheck)
}
