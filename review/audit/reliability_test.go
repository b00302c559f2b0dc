package audit

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// onBeetles is a judge on the beetles that the program brings.
var onBeetles = review.NewJudge(diagnosis.Default())

// seenClickBeetle is a confirmed determination that the shipped tables carry, common practice, no source.
func seenClickBeetle() (review.Submission, review.Specimen) {
	spec := review.Specimen{ID: "s", Label: review.Label{CatalogueNumber: "A-1"}}
	sub := review.Submission{ID: "u", Specimen: "s", Owner: "o", Status: review.StatusConfirmed, Determination: review.Determination{Family: "Elateridae", Determiner: "o"}}
	for character, state := range map[string]string{"prosternal-process": "click-spine", "antenna-form": "serrate", "pronotum-hind-corners": "pointed",
		"tarsi-counted": "5-5-5", "ventrites": "5", "hind-coxal-plates": "narrow"} {
		spec.Observations = append(spec.Observations, review.Observation{ID: character, Character: character, State: state, Sureness: review.Sure, By: "o", Role: review.RoleReviewer})
		sub.Cites = append(sub.Cites, character)
	}
	slices.Sort(sub.Cites)
	slices.SortFunc(spec.Observations, func(a, b review.Observation) int { return cmp.Compare(a.ID, b.ID) })
	return sub, spec
}

// record lets people report on click onBeetles: "good" is right, "careless" says at random one of the other states three
// times in ten. Both look blind, so that what they see shows.
func record(t require.TestingT, n int) []review.Closed {
	random := rand.New(rand.NewPCG(7, 11))
	var closed []review.Closed
	for i := range n {
		sub, spec := seenClickBeetle()
		spec.ID, sub.ID = fmt.Sprintf("s%d", i), fmt.Sprintf("u%d", i)
		at := spec.RegisteredAt
		sub.OpenedAt, sub.ClosedAt = &at, &at
		for _, o := range spec.Observations {
			character, ok := onBeetles.Tables().Character(o.Character)
			require.True(t, ok)
			seen := o.State
			if random.Float64() < 0.3 {
				seen = character.States[random.IntN(len(character.States))].ID
			}
			sub.Blind = append(sub.Blind, review.BlindCheck{Observation: o.ID, State: o.State, By: "good", Role: review.RoleReviewer},
				review.BlindCheck{Observation: o.ID, State: seen, By: "careless", Role: review.RoleReviewer},
				review.BlindCheck{Observation: o.ID, State: o.State, By: "other", Role: review.RoleReviewer})
		}
		c, ok := review.ClosedOf(&spec, []review.Submission{sub})
		require.True(t, ok)
		closed = append(closed, c)
	}
	return closed
}

func TestLearningTellsTheGoodFromTheCareless(t *testing.T) {
	closed := record(t, 60)
	known := review.NewReliability("coleoptera-adults")
	var err error
	for i := range closed {
		var people []string
		known, people, err = Learn(onBeetles, known, closed[i:i+1], nil, closed[i].Specimen.RegisteredAt)
		require.NoError(t, err)
		require.Equal(t, []string{"careless", "good", "o", "other"}, people)
	}
	require.Equal(t, 60, known.Version)
	require.Equal(t, 60, known.Specimens)
	require.Equal(t, 360, known.Items)
	require.Len(t, known.Added, 60)
	fitted, err := Refit(onBeetles, known, closed, nil, closed[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	require.Equal(t, 61, fitted.Version)
	require.Empty(t, fitted.Added)
	for _, r := range []review.Reliability{known, fitted} {
		good, careless := r.Accuracy("good", review.RoleReviewer, "antenna"), r.Accuracy("careless", review.RoleReviewer, "antenna")
		require.Greater(t, good, 0.96)
		// Three in ten said at random, of which one in as many as there are states is right.
		require.InDelta(t, 0.78, careless, 0.09)
		require.Equal(t, 60, r.People["careless"].Regions["antenna"].Blind)
		require.Less(t, r.Look("careless", review.RoleReviewer, onBeetles.Tables()).ByRegion["antenna"], 0.9)
		require.NotContains(t, r.People["good"].Regions, "elytra", "nobody has looked there")
		require.Equal(t, review.RoleAccuracy(review.RoleReviewer), r.Accuracy("good", review.RoleReviewer, "elytra"))
	}
}

func TestAssessmentsWeighPeopleAsTheyTurnedOutToBe(t *testing.T) {
	known, _, err := Learn(onBeetles, review.NewReliability("coleoptera-adults"), record(t, 60), nil, record(t, 1)[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	sub, spec := seenClickBeetle()
	by := func(person string) float64 {
		s := sub
		for _, o := range spec.Observations {
			s.Blind = append(s.Blind, review.BlindCheck{Observation: o.ID, State: o.State, By: person, Role: review.RoleReviewer})
		}
		a := review.Weighing{People: &known}.Assess(onBeetles, &s, &spec, nil)
		require.Equal(t, 1, a.Reliability)
		return a.Odds
	}
	require.Greater(t, by("good"), by("careless"))
}

func TestLearningWaitsUntilAllIsClosed(t *testing.T) {
	sub, spec := seenClickBeetle()
	at := spec.RegisteredAt
	sub.OpenedAt = &at
	open := sub
	open.ID, open.Status = "second", review.StatusOpen
	_, ok := review.ClosedOf(&spec, []review.Submission{sub, open})
	require.False(t, ok)
	draft := review.Submission{ID: "third", Status: review.StatusDraft}
	c, ok := review.ClosedOf(&spec, []review.Submission{sub, draft})
	require.True(t, ok)
	require.Len(t, c.Submissions, 1)
	_, ok = review.ClosedOf(&spec, []review.Submission{draft})
	require.False(t, ok, "never came before reviewers")
}

func TestReliabilityIsWhatItsEventsMake(t *testing.T) {
	closed := record(t, 4)
	known := review.NewReliability("coleoptera-adults")
	var events []review.Event
	add := func(c review.Change) {
		events = append(events, review.Event{Stream: review.ReliabilityStream(known.Group), Seq: len(events) + 1, At: closed[0].Specimen.RegisteredAt, Change: c})
	}
	for i := range closed {
		learnt, people, err := Learn(onBeetles, known, closed[i:i+1], nil, closed[0].Specimen.RegisteredAt)
		require.NoError(t, err)
		c := &review.ReliabilityLearned{Specimens: []string{closed[i].Specimen.ID}, Items: 6, People: map[string]review.PersonKnown{}}
		for _, id := range people {
			c.People[id] = learnt.People[id]
		}
		add(c)
		known = learnt
		replayed, err := review.ReplayReliability(known.Group, events)
		require.NoError(t, err)
		require.Equal(t, known, replayed)
	}
	fitted, err := Refit(onBeetles, known, closed, nil, closed[0].Specimen.RegisteredAt)
	require.NoError(t, err)
	add(&review.ReliabilityRefitted{Reliability: fitted})
	replayed, err := review.ReplayReliability(known.Group, events)
	require.NoError(t, err)
	require.Equal(t, fitted, replayed)
	_, err = review.ReplayReliability(known.Group, events[1:])
	require.ErrorContains(t, err, "event 2 follows event 0")
	_, err = review.ReplayReliability(known.Group, []review.Event{{Stream: "x", Seq: 1, Change: &review.Held{}}})
	require.ErrorContains(t, err, "not one of reliability")
}

// The club's list takes the place of the numbers of species, and an assessment says of which policy it was.
func TestTheClubsListIsThePrior(t *testing.T) {
	sub, spec := seenClickBeetle()
	sub.Cites = nil
	plain := review.Weighing{Policy: 4}.Assess(onBeetles, &sub, &spec, nil)
	require.Zero(t, plain.Policy)
	w := review.Weighing{Policy: 4, List: map[string]float64{"Elateridae": 3, "Carabidae": 1, "Formicidae": 5}}
	a := w.Assess(onBeetles, &sub, &spec, nil)
	require.Equal(t, 4, a.Policy)
	// 3 of 3 + 1 + a fiftieth of that for all others, beside 0.02 for none of them; Formicidae is of another group.
	require.InDelta(t, 0.98*3/4.08, a.Confidence, 1e-6)
	for _, warning := range a.Warnings {
		require.NotContains(t, warning, "Formicidae")
	}
}

// TestLeaningWaitsForThirtyBlindChecks: somebody who says a click spine wherever they look is known for it from the thirtieth blind
// check on, and weighed by it; before, nothing of it is stored.
func TestLeaningWaitsForThirtyBlindChecks(t *testing.T) {
	learnt := func(n int) review.Reliability {
		var closed []review.Closed
		for i := range n {
			sub, spec := seenClickBeetle()
			spec.ID = fmt.Sprintf("s%d", i)
			sub.OpenedAt, sub.ClosedAt = &spec.RegisteredAt, &spec.RegisteredAt
			state := "absent-or-short"
			if i%2 == 0 {
				state = "click-spine"
			}
			spec.Observations = []review.Observation{{ID: "prosternal-process", Character: "prosternal-process", State: state, Sureness: review.Sure, By: "o", Role: review.RoleReviewer}}
			sub.Cites = []string{"prosternal-process"}
			for person, seen := range map[string]string{"ready": "click-spine", "good": state, "other": state} {
				sub.Blind = append(sub.Blind, review.BlindCheck{Observation: "prosternal-process", State: seen, By: person, Role: review.RoleReviewer})
			}
			c, ok := review.ClosedOf(&spec, []review.Submission{sub})
			require.True(t, ok)
			closed = append(closed, c)
		}
		r, err := Refit(onBeetles, review.NewReliability("coleoptera-adults"), closed, nil, closed[0].Specimen.RegisteredAt)
		require.NoError(t, err)
		return r
	}
	before := learnt(confidence.BlindChecks - 1)
	require.Zero(t, before.Leaning("ready"))
	require.Nil(t, before.People["ready"].Leaning)
	after := learnt(2 * confidence.BlindChecks)
	require.Greater(t, after.Leaning("ready"), 0.5)
	require.InDelta(t, 0, after.Leaning("good"), 0.3)
	require.Zero(t, after.Leaning("nobody"))

	sub, spec := seenClickBeetle()
	sub.Blind = []review.BlindCheck{{Observation: "prosternal-process", State: "click-spine", By: "ready", Role: review.RoleReviewer}}
	for _, s := range (review.Weighing{People: &after}).Evidence(&sub, &spec, nil, onBeetles.Tables()).Stated {
		if s.Character == "prosternal-process" {
			require.Equal(t, after.Leaning("ready"), s.Reports[1].Leaning)
		}
	}
	figures := FiguresOf(after, nil, onBeetles.Tables())
	require.NotNil(t, figures.People[0].Leaning)
}
