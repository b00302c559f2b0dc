package review

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// Without anything learnt everybody is what the role is taken for.
func TestNobodyIsKnownAtFirst(t *testing.T) {
	for _, r := range []*Reliability{nil, ptr(NewReliability("g"))} {
		require.Equal(t, memberAccuracy, r.Accuracy("x", RoleMember, "antenna"))
		require.Equal(t, reviewerAnchoring, r.Anchoring("x", RoleReviewer))
	}
}

func ptr[T any](v T) *T { return &v }

// record lets people report on click beetles: "good" is right, "careless" says at random one of the other states three
// times in ten. Both look blind, so that what they see shows.
func record(t require.TestingT, n int) []Closed {
	random := rand.New(rand.NewPCG(7, 11))
	var closed []Closed
	for i := range n {
		sub, spec := clickBeetle()
		spec.ID, sub.ID = fmt.Sprintf("s%d", i), fmt.Sprintf("u%d", i)
		at := spec.RegisteredAt
		sub.OpenedAt, sub.ClosedAt = &at, &at
		for _, o := range spec.Observations {
			character, ok := beetles.Tables().Character(o.Character)
			require.True(t, ok)
			seen := o.State
			if random.Float64() < 0.3 {
				seen = character.States[random.IntN(len(character.States))].ID
			}
			sub.Blind = append(sub.Blind, BlindCheck{Observation: o.ID, State: o.State, By: "good", Role: RoleReviewer},
				BlindCheck{Observation: o.ID, State: seen, By: "careless", Role: RoleReviewer},
				BlindCheck{Observation: o.ID, State: o.State, By: "other", Role: RoleReviewer})
		}
		c, ok := closedOf(&spec, []Submission{sub})
		require.True(t, ok)
		closed = append(closed, c)
	}
	return closed
}

func TestLearningTellsTheGoodFromTheCareless(t *testing.T) {
	closed := record(t, 60)
	known := NewReliability("coleoptera-adults")
	var err error
	for i := range closed {
		var people []string
		known, people, err = beetles.Learn(known, closed[i:i+1], nil, closed[i].Specimen.RegisteredAt)
		require.NoError(t, err)
		require.Equal(t, []string{"careless", "good", "o", "other"}, people)
	}
	require.Equal(t, 60, known.Version)
	require.Equal(t, 60, known.Specimens)
	require.Equal(t, 360, known.Items)
	require.Len(t, known.Added, 60)
	fitted, err := beetles.Refit(known, closed, nil, closed[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	require.Equal(t, 61, fitted.Version)
	require.Empty(t, fitted.Added)
	for _, r := range []Reliability{known, fitted} {
		good, careless := r.Accuracy("good", RoleReviewer, "antenna"), r.Accuracy("careless", RoleReviewer, "antenna")
		require.Greater(t, good, 0.96)
		// Three in ten said at random, of which one in as many as there are states is right.
		require.InDelta(t, 0.78, careless, 0.09)
		require.Equal(t, 60, r.People["careless"].Regions["antenna"].Blind)
		require.Less(t, r.Look("careless", RoleReviewer, beetles.Tables()).ByRegion["antenna"], 0.9)
		require.NotContains(t, r.People["good"].Regions, "elytra", "nobody has looked there")
		require.Equal(t, reviewerAccuracy, r.Accuracy("good", RoleReviewer, "elytra"))
	}
}

func TestAssessmentsWeighPeopleAsTheyTurnedOutToBe(t *testing.T) {
	known, _, err := beetles.Learn(NewReliability("coleoptera-adults"), record(t, 60), nil, record(t, 1)[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	sub, spec := clickBeetle()
	by := func(person string) float64 {
		s := sub
		for _, o := range spec.Observations {
			s.Blind = append(s.Blind, BlindCheck{Observation: o.ID, State: o.State, By: person, Role: RoleReviewer})
		}
		a := weighing{people: &known}.assess(beetles, &s, &spec, nil)
		require.Equal(t, 1, a.Reliability)
		return a.Odds
	}
	require.Greater(t, by("good"), by("careless"))
}

func TestLearningWaitsUntilAllIsClosed(t *testing.T) {
	sub, spec := clickBeetle()
	at := spec.RegisteredAt
	sub.OpenedAt = &at
	open := sub
	open.ID, open.Status = "second", StatusOpen
	_, ok := closedOf(&spec, []Submission{sub, open})
	require.False(t, ok)
	draft := Submission{ID: "third", Status: StatusDraft}
	c, ok := closedOf(&spec, []Submission{sub, draft})
	require.True(t, ok)
	require.Len(t, c.Submissions, 1)
	_, ok = closedOf(&spec, []Submission{draft})
	require.False(t, ok, "never came before reviewers")
}

func TestReliabilityIsWhatItsEventsMake(t *testing.T) {
	closed := record(t, 4)
	known := NewReliability("coleoptera-adults")
	var events []Event
	add := func(c Change) {
		events = append(events, Event{Stream: ReliabilityStream(known.Group), Seq: len(events) + 1, At: closed[0].Specimen.RegisteredAt, Change: c})
	}
	for i := range closed {
		learnt, people, err := beetles.Learn(known, closed[i:i+1], nil, closed[0].Specimen.RegisteredAt)
		require.NoError(t, err)
		c := &ReliabilityLearned{Specimens: []string{closed[i].Specimen.ID}, Items: 6, People: map[string]PersonKnown{}}
		for _, id := range people {
			c.People[id] = learnt.People[id]
		}
		add(c)
		known = learnt
		replayed, err := ReplayReliability(known.Group, events)
		require.NoError(t, err)
		require.Equal(t, known, replayed)
	}
	fitted, err := beetles.Refit(known, closed, nil, closed[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	add(&ReliabilityRefitted{Reliability: fitted})
	replayed, err := ReplayReliability(known.Group, events)
	require.NoError(t, err)
	require.Equal(t, fitted, replayed)
	_, err = ReplayReliability(known.Group, events[1:])
	require.ErrorContains(t, err, "event 2 follows event 0")
	_, err = ReplayReliability(known.Group, []Event{{Stream: "x", Seq: 1, Change: &Held{}}})
	require.ErrorContains(t, err, "not one of reliability")
}

// The club's list takes the place of the numbers of species, and an assessment says of which policy it was.
func TestTheClubsListIsThePrior(t *testing.T) {
	sub, spec := clickBeetle()
	sub.Cites = nil
	plain := weighing{policy: 4}.assess(beetles, &sub, &spec, nil)
	require.Zero(t, plain.Policy)
	w := weighing{policy: 4, list: map[string]float64{"Elateridae": 3, "Carabidae": 1, "Formicidae": 5}}
	a := w.assess(beetles, &sub, &spec, nil)
	require.Equal(t, 4, a.Policy)
	// 3 of 3 + 1 + a fiftieth of that for all others, beside 0.02 for none of them; Formicidae is of another group.
	require.InDelta(t, 0.98*3/4.08, a.Confidence, 1e-6)
	for _, warning := range a.Warnings {
		require.NotContains(t, warning, "Formicidae")
	}
}
