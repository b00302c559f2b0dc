package review

import (
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

func TestDrawsComeAtTheirRateAndStay(t *testing.T) {
	const n, rate = 20000, 0.1
	drawn := 0
	for i := range n {
		d := Draw{Rate: rate, Seed: fmt.Sprint(i)}
		require.Equal(t, d.Drawn("x"), d.Drawn("x"))
		if d.Drawn("x") {
			drawn++
		}
		require.Less(t, d.pick("x", 3), 3)
	}
	// Four standard deviations of a binomial share.
	require.InDelta(t, rate, float64(drawn)/n, 4*0.0022)
	require.False(t, Draw{Rate: 1}.Drawn("x"), "without a seed nobody is drawn")
	require.False(t, Draw{Seed: "a"}.Drawn("x"), "nor at a rate of 0")
}

// somebody returns a reviewer who is drawn for the case, or who is not.
func somebody(t *testing.T, c *Case, drawn bool) Actor {
	for i := range 100 {
		a := Actor{Person: fmt.Sprintf("reviewer-%d", i), Role: RoleReviewer}
		if _, asked := c.Asked(a); asked == drawn {
			return a
		}
	}
	require.Fail(t, "nobody of a hundred")
	return Actor{}
}

func TestBlindCheckComesBeforeEverything(t *testing.T) {
	r := newRehearsal(t, drawnPolicy(), "seed")
	c := r.open()
	a := somebody(t, c, true)
	asked, _ := c.Asked(a)
	require.Equal(t, KindBlind, KindOf(c.Review(r.moment(a.Person, a.Role), r.club, confirmAll(c))))
	require.Equal(t, KindInvalid, KindOf(c.BlindCheck(r.moment(a.Person, a.Role), r.club, BlindForm{})))
	require.Equal(t, KindInvalid, KindOf(c.BlindCheck(r.moment(a.Person, a.Role), r.club, BlindForm{State: "no such state"})))
	require.Equal(t, KindInvalid, KindOf(c.BlindCheck(r.moment(a.Person, a.Role), r.club, BlindForm{State: asked.State, Kind: VerdictNotVisible})))
	require.Empty(t, c.Submission().Blind)

	require.NoError(t, c.BlindCheck(r.moment(a.Person, a.Role), r.club, BlindForm{State: asked.State}))
	require.Equal(t, 0.5, c.Submission().Blind[0].Rate, "the probability with which it was drawn is recorded")
	_, again := c.Asked(a)
	require.False(t, again)
	require.NoError(t, c.Review(r.moment(a.Person, a.Role), r.club, confirmAll(c)))
}

func TestWhoIsNeverDrawn(t *testing.T) {
	r := newRehearsal(t, drawnPolicy(), "seed")
	c := r.open()
	a := somebody(t, c, true)
	for _, other := range []Actor{{Person: a.Person, Role: RoleCurator}, {Person: a.Person, Role: RoleMember}, {Person: "o", Role: RoleReviewer}} {
		_, asked := c.Asked(other)
		require.False(t, asked, other)
	}
	s := *c.Submission()
	other := s
	other.ID, other.Opinions = "another of the specimen", []Opinion{{By: a.Person}}
	_, asked := drawnBlind(a, &s, c.Specimen(), []Submission{s, other}, beetles.Tables())
	require.False(t, asked, "who has reviewed an earlier determination of the specimen has seen it")
	s.Status = StatusReturned
	_, asked = drawnBlind(a, &s, c.Specimen(), nil, beetles.Tables())
	require.True(t, asked, "still hidden while it is with its owner")
	s.Status = StatusConfirmed
	_, asked = drawnBlind(a, &s, c.Specimen(), nil, beetles.Tables())
	require.False(t, asked)
	s.Status = StatusOpen
	for i := range c.Specimen().Observations {
		c.Specimen().Observations[i].Withdrawn = "mistaken"
	}
	_, asked = drawnBlind(a, &s, c.Specimen(), nil, beetles.Tables())
	require.False(t, asked, "nothing left to ask")
}

func TestAMarkedPhotoIsAskedForFirst(t *testing.T) {
	r := newRehearsal(t, drawnPolicy(), "seed")
	c := r.open()
	c.Specimen().Observations[2].Photo = "p"
	for i := range 100 {
		if asked, ok := c.Asked(Actor{Person: fmt.Sprint(i), Role: RoleReviewer}); ok {
			require.Equal(t, c.Specimen().Observations[2].ID, asked.ID)
		}
	}
}

// A blind look is a report of its own kind, and a verdict of the same person on the same thing is no second one.
func TestABlindLookCountsOnce(t *testing.T) {
	sub, spec := clickBeetle()
	o := spec.Observations[0]
	sub.Blind = []BlindCheck{{Observation: o.ID, State: "rest", By: "r", Role: RoleReviewer}, {Observation: o.ID, Kind: VerdictNotVisible, By: "x", Role: RoleReviewer}}
	sub.Verdicts = []Verdict{{Observation: o.ID, Kind: VerdictConfirm, By: "r", Role: RoleReviewer}, {Observation: o.ID, Kind: VerdictConfirm, By: "x", Role: RoleReviewer}}
	e := Weighing{}.Evidence(&sub, &spec, nil, beetles.Tables())
	at := slices.IndexFunc(e.Stated, func(s judgement.Stated) bool { return s.Character == o.Character })
	looks := judgement.Reviewer
	require.Equal(t, []judgement.Report{{Kind: judgement.ReportStated, Reader: looks, Accuracy: ReviewerAccuracy},
		{Kind: judgement.ReportBlind, Better: "rest", Reader: looks, Accuracy: ReviewerAccuracy},
		{Kind: judgement.ReportConfirmed, Reader: looks, Accuracy: ReviewerAccuracy, Anchoring: ReviewerAnchoring}}, e.Stated[at].Reports)
	without := sub
	without.Blind = nil
	require.Less(t, Weighing{}.Assess(beetles, &sub, &spec, nil).Confidence, Weighing{}.Assess(beetles, &without, &spec, nil).Confidence)
}
