package review

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

// TestFreeList: what a member told freely is stored as such, and tells by what it leaves out; an answer is no such list, nor is
// what a reviewer states.
func TestFreeList(t *testing.T) {
	m := Moment{Actor: Actor{Person: "ida", Role: RoleMember}, NewID: func() string { return "o" }}
	made := Observations([]ObservationForm{{Character: "head-neck", State: "no", List: ListFree}, {Character: "claws", State: "simple", List: ListAsked}}, m)
	require.Equal(t, ListFree, made[0].List)
	require.Empty(t, made[1].List, "asked is what is not said")
	require.Empty(t, Observations(asked([]ObservationForm{{Character: "head-neck", State: "no", List: ListFree}}), m)[0].List)

	require.True(t, made[0].sameAs(ObservationForm{Character: "head-neck", State: "no", List: ListFree}))
	require.False(t, made[0].sameAs(ObservationForm{Character: "head-neck", State: "no"}), "how a list arose is saved, too")

	made[0].ID, made[1].ID = "a", "b"
	byReviewer := made[0]
	byReviewer.ID, byReviewer.By, byReviewer.Role = "c", "odile", RoleReviewer
	spec := Specimen{Observations: append(made, byReviewer)}
	sub := Submission{Cites: []string{"a", "b", "c"}}
	e := Weighing{}.Evidence(&sub, &spec, nil, beetles.Tables())
	told := []judgement.FreeList{{Mentioned: []string{"head-neck"}, Since: []string{"claws"}}}
	require.Equal(t, told, e.Free)
	require.Empty(t, beetles.Posterior(e).Silences(), "a single thing is no list")
	e.Free[0].Mentioned = append(e.Free[0].Mentioned, "head-width")
	require.NotEmpty(t, beetles.Posterior(e).Silences())
	spec.Observations[0].Withdrawn = "mistaken"
	require.Equal(t, told, Weighing{}.Evidence(&sub, &spec, nil, beetles.Tables()).Free, "it was mentioned all the same")

	var p Problems
	checkObservations(&p, beetles, []ObservationForm{{Character: "head-neck", State: "no", List: "told"}}, nil)
	require.ErrorContains(t, p.Err(), "free or asked")
}
