package audit

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// toldFreely is a closed specimen of which a member told the given characters freely, and of which more was observed.
func toldFreely(n int, list map[string]string, more []review.Observation, change func(*review.Submission)) review.Closed {
	at := time.Date(2026, 5, 1, 0, 0, n, 0, time.UTC)
	spec := review.Specimen{ID: fmt.Sprintf("s%d", n)}
	sub := review.Submission{ID: "u", Specimen: spec.ID, Owner: "ida", Status: review.StatusConfirmed, OpenedAt: &at, ClosedAt: &at, Verdicts: []review.Verdict{}}
	for character, state := range list {
		spec.Observations = append(spec.Observations, review.Observation{ID: character, Character: character, State: state, Sureness: review.Sure,
			By: "ida", Role: review.RoleMember, List: review.ListFree, At: at})
	}
	spec.Observations = append(spec.Observations, more...)
	sub.Cites = review.ObservationIDs(spec.Observations)
	change(&sub)
	c, _ := review.ClosedOf(&spec, []review.Submission{sub})
	return c
}

// TestMentionsAreCounted: lists count where they speak of another character of the region; a state is known from blind looks and
// from who had the specimen in hand, not from photos and not from the observer.
func TestMentionsAreCounted(t *testing.T) {
	head := map[string]string{"head-neck": "no", "rostrum": "long"}
	silent := map[string]string{"head-neck": "no", "claws": "simple"}
	asked := []review.Observation{{ID: "later", Character: "rostrum", State: "long", Sureness: review.Sure, By: "ida", Role: review.RoleMember}}
	confirm := func(id string) []review.Verdict {
		return []review.Verdict{{Observation: id, Kind: review.VerdictConfirm, By: "odile", Role: review.RoleReviewer}}
	}
	inHand := func(basis review.Basis) []review.Opinion { return []review.Opinion{{By: "odile", Basis: basis}} }
	for name, c := range map[string]struct {
		closed review.Closed
		lists  review.Told
		states map[string]review.Told
	}{
		"blind": {toldFreely(1, head, nil, func(s *review.Submission) {
			s.Blind = []review.BlindCheck{{Observation: "rostrum", State: "short-broad", By: "odile", Role: review.RoleReviewer}}
		}), review.Told{With: 1}, map[string]review.Told{"short-broad": {With: 1}}},
		"in hand": {toldFreely(2, silent, asked, func(s *review.Submission) {
			s.Verdicts, s.Opinions = confirm("later"), inHand(review.BasisDissected)
		}), review.Told{Without: 1}, map[string]review.Told{"long": {Without: 1}}},
		"from photos": {toldFreely(3, silent, asked, func(s *review.Submission) {
			s.Verdicts, s.Opinions = confirm("later"), inHand(review.BasisPhotos)
		}), review.Told{Without: 1}, nil},
		"another state in hand": {toldFreely(4, head, nil, func(s *review.Submission) {
			s.Verdicts, s.Opinions = confirm("rostrum"), inHand(review.BasisSpecimen)
			s.Verdicts[0].Kind, s.Verdicts[0].Better = review.VerdictDispute, "none"
		}), review.Told{With: 1}, map[string]review.Told{"none": {With: 1}}},
		"two that differ": {toldFreely(5, head, nil, func(s *review.Submission) {
			s.Verdicts, s.Opinions = confirm("rostrum"), inHand(review.BasisSpecimen)
			s.Blind = []review.BlindCheck{{Observation: "rostrum", State: "none", By: "pia", Role: review.RoleReviewer}}
		}), review.Told{With: 1}, nil},
		"the only one of its region": {toldFreely(6, map[string]string{"rostrum": "long", "claws": "simple"}, nil, func(*review.Submission) {}), review.Told{}, nil},
	} {
		for _, closed := range []review.Closed{c.closed, c.closed.Testimony()} {
			got := mentions(onBeetles, []review.Closed{closed})["rostrum"]
			require.Equal(t, c.lists, got.Lists, name)
			require.Equal(t, len(c.states), len(got.States), name)
			for state, told := range c.states {
				require.Equal(t, told, got.States[state], name)
			}
		}
	}
}

// TestMentionsAreLearnt: closed specimens teach what is mentioned, a refit counts the same again, and what was taken back was
// mentioned all the same.
func TestMentionsAreLearnt(t *testing.T) {
	var closed []review.Closed
	for n := range 4 {
		c := toldFreely(n, map[string]string{"head-neck": "no", "rostrum": "long"}, nil, func(s *review.Submission) {
			s.Blind = []review.BlindCheck{{Observation: "rostrum", State: "long", By: "odile", Role: review.RoleReviewer}}
		})
		closed = append(closed, c.Testimony())
	}
	back := toldFreely(9, map[string]string{"head-neck": "no", "rostrum": "long"}, nil, func(*review.Submission) {})
	for i := range back.Specimen.Observations {
		if back.Specimen.Observations[i].Character == "rostrum" {
			back.Specimen.Observations[i].Withdrawn = "a shadow"
		}
	}
	closed = append(closed, back.Testimony())
	known, _, err := Learn(onBeetles, review.NewReliability("coleoptera-adults"), closed[:2], nil, closed[0].At())
	require.NoError(t, err)
	further, _, err := Learn(onBeetles, known, closed[2:], nil, closed[0].At())
	require.NoError(t, err)
	require.Equal(t, review.Told{With: 5}, further.Mentions["rostrum"].Lists)
	require.Equal(t, map[string]review.Told{"long": {With: 4}}, further.Mentions["rostrum"].States)
	require.Equal(t, 2, known.Mentions["rostrum"].Lists.With, "the former snapshot stays")
	fitted, err := Refit(onBeetles, further, closed, nil, closed[0].At())
	require.NoError(t, err)
	require.Equal(t, further.Mentions, fitted.Mentions)
}
