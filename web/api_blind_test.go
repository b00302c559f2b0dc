package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

func TestBlindCheckByTheAPI(t *testing.T) {
	club := newAPIClub(t)
	v := club.asked()
	blind := at(v, "/blind")
	require.Equal(t, blind, club.call("rita", "GET", at(v, ""), nil).toLook())

	got := club.call("rita", "GET", blind, nil).is(http.StatusOK)
	look := decoded[service.BlindView](got)
	require.Equal(t, "ventrites", look.Character)
	require.Equal(t, v.Submission.Photos[0], look.Marked)
	require.Equal(t, &review.Region{X: 0.1, Y: 0.1, W: 0.5, H: 0.5}, look.Region)
	require.Empty(t, look.Photos[0].By, "who photographed it has determined it")
	require.False(t, look.Recheck)
	club.call("rita", "GET", blind, nil, "If-None-Match", got.header.Get("ETag")).is(http.StatusNotModified)

	answer := map[string]any{"state": "6", "note": "the last one is small"}
	club.call("rita", "POST", blind, answer, "If-Match", `"99"`).is(http.StatusPreconditionFailed)
	require.Equal(t, []string{"state"}, club.call("rita", "POST", blind, map[string]any{"state": "many"}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"state"}, club.call("rita", "POST", blind, map[string]any{}).is(http.StatusBadRequest).fields())
	require.Equal(t, []string{"state"}, club.call("rita", "POST", blind, map[string]any{"state": "6", "kind": "cannot-judge"}).is(http.StatusBadRequest).fields())
	club.call("rita", "POST", at(v, "/panel"), map[string]any{"family": "Elateridae"}).is(http.StatusConflict)

	seen := club.call("rita", "POST", blind, answer, "If-Match", got.header.Get("ETag")).is(http.StatusOK).view()
	require.Equal(t, "Elateridae", seen.Submission.Determination.Family, "from now on it is shown")
	require.True(t, seen.Sealed, "others' verdicts are not")
	require.Len(t, seen.Submission.Blind, 1)
	require.Equal(t, "6", seen.Submission.Blind[0].State)
	club.call("rita", "GET", blind, nil).is(http.StatusConflict)
	club.call("rita", "POST", blind, answer).is(http.StatusConflict)

	require.Empty(t, club.call("rolf", "GET", at(v, ""), nil).is(http.StatusOK).view().Submission.Blind, "sealed like a verdict")
	require.Equal(t, "6", club.call("ada", "GET", at(v, ""), nil).view().Submission.Blind[0].State)
	club.call("rita", "POST", at(v, "/reviews"), agrees).is(http.StatusOK)
}

func TestAPanelByTheAPI(t *testing.T) {
	club := newAPIClub(t)
	v := club.closed()
	blind := at(v, "/blind")
	require.Equal(t, blind, club.call("rita", "GET", at(v, ""), nil).toLook())
	look := decoded[service.BlindView](club.call("rita", "GET", blind, nil).is(http.StatusOK))
	require.True(t, look.Recheck)
	require.Empty(t, look.Character)
	require.Nil(t, look.Region)
	require.Len(t, look.Photos, 1)

	panel := at(v, "/panel")
	club.call("rita", "POST", panel, map[string]any{"family": "Drilidae"}, "If-Match", `"1"`).is(http.StatusPreconditionFailed)
	require.Equal(t, []string{"family"}, club.call("rita", "POST", panel, map[string]any{"family": "Nonidae"}).is(http.StatusBadRequest).fields())
	club.call("rita", "POST", blind, map[string]any{"state": "5"}).is(http.StatusConflict)
	seen := club.call("rita", "POST", panel, map[string]any{"family": "Drilidae"}).is(http.StatusOK).view()
	require.Equal(t, "Elateridae", seen.Submission.Recheck.Opinions[0].Family, "an old name leads to the present one")
	require.Equal(t, review.StatusConfirmed, seen.Submission.Status)
	club.call("rita", "POST", panel, map[string]any{}).is(http.StatusConflict)

	left := club.call("rolf", "POST", panel+"/leave", nil).is(http.StatusOK).view()
	require.Equal(t, []string{club.people["rolf"]}, left.Submission.Recheck.Left)
	club.call("rolf", "POST", panel+"/leave", nil).is(http.StatusConflict)
	club.call("ben", "POST", panel+"/leave", nil).is(http.StatusConflict)
}

// While a submission is with its owner nobody can look at it, and it stays closed all the same.
func TestBlindCheckHasToWait(t *testing.T) {
	club := newAPIClub(t)
	v := club.asked()
	club.call("rolf", "POST", at(v, "/returns"), map[string]any{"want": "specimen", "text": "send it"}).is(http.StatusOK)
	require.Empty(t, club.call("rita", "GET", at(v, ""), nil).toLook())
	require.Empty(t, club.call("rita", "GET", at(v, "/blind"), nil).toLook())
	club.call("rita", "POST", at(v, "/blind"), map[string]any{"state": "5"}).is(http.StatusConflict)
	lines := decoded[lines](club.call("rita", "GET", "/api/v1/submissions", nil)).Items
	require.True(t, lines[0].Blind)
	require.Empty(t, lines[0].Look)
	club.call("ada", "POST", at(v, "/answers"), map[string]any{"text": "here"}).is(http.StatusOK)
	require.Equal(t, at(v, "/blind"), club.call("rita", "GET", at(v, ""), nil).toLook())
}

// Every determination of a specimen names the others, so that all are closed until one has been looked at.
func TestAllDeterminationsOfASpecimenAreClosed(t *testing.T) {
	club := newAPIClub(t)
	club.chance("blind_rate", 0, "recheck_rate", 0)
	first := club.submitted()
	club.draws("rita")
	next := club.call("rolf", "POST", at(first, "/redeterminations"), map[string]any{"family": "Buprestidae", "reason": "plates"}).is(http.StatusCreated).view()
	for _, path := range []string{at(first, ""), at(first, "/events"), at(next, ""), "/api/v1/specimens/" + first.Submission.Specimen} {
		require.Equal(t, at(next, "/blind"), club.call("rita", "GET", path, nil).toLook(), path)
	}
	again := map[string]any{"specimen": first.Submission.Specimen, "family": "Elateridae", "draft": true}
	require.Equal(t, at(next, "/blind"), club.call("rita", "POST", "/api/v1/submissions", again).toLook(), "nor by a determination of one's own")
	for _, l := range decoded[lines](club.call("rita", "GET", "/api/v1/submissions", nil)).Items {
		require.True(t, l.Blind)
		require.Equal(t, next.Submission.ID, l.Look)
	}
	club.call("rita", "GET", at(first, "/blind"), nil).is(http.StatusConflict)
	club.call("rita", "POST", at(next, "/blind"), map[string]any{"kind": "not-visible"}).is(http.StatusOK)
	club.call("rita", "GET", at(first, ""), nil).is(http.StatusOK)
}

// Of a determination that was followed by another one, nobody asks any more whether it is right.
func TestRedeterminedIsNotRechecked(t *testing.T) {
	club := newAPIClub(t)
	v := club.closed()
	club.chance("blind_rate", 0, "recheck_rate", 0)
	club.call("ada", "POST", at(v, "/redeterminations"), map[string]any{"family": "Buprestidae", "reason": "plates"}).is(http.StatusCreated)
	club.call("rita", "GET", at(v, ""), nil).is(http.StatusOK)
	for _, l := range decoded[struct{ Items []service.QueueLine }](club.call("rita", "GET", "/api/v1/queue", nil)).Items {
		require.False(t, l.Recheck)
	}
}

// The dice are in the event of the submission: whoever reads them could work out who will be asked.
func TestDiceAreToldToNobodyWhileItIsOpen(t *testing.T) {
	club := newAPIClub(t)
	v := club.asked()
	for _, who := range []string{"rolf", "cora", "ada"} {
		require.NotContains(t, string(club.call(who, "GET", at(v, "/events"), nil).is(http.StatusOK).body), `"seed"`, who)
		require.NotContains(t, string(club.call(who, "GET", at(v, ""), nil).is(http.StatusOK).body), `"seed"`, who)
	}
	club.call("cora", "POST", at(v, "/undetermination"), reason).is(http.StatusOK)
	require.Contains(t, string(club.call("ada", "GET", at(v, "/events"), nil).body), `"seed":"`+club.seed+`"`, "then everybody can check them")
}

// What to check next is worked out for whoever reviews; the stored one is for nobody in particular.
func TestNextIsForWhoAsks(t *testing.T) {
	club := newAPIClub(t)
	v := club.submitted()
	require.False(t, club.call("ada", "GET", at(v, ""), nil).view().ForYou)
	require.True(t, club.call("rita", "GET", at(v, ""), nil).view().ForYou)
}

func TestDocumentSaysWhereOneHasToLookFirst(t *testing.T) {
	club := newAPIClub(t)
	doc := decoded[struct {
		Paths map[string]map[string]struct {
			Responses map[string]struct{ Description string }
		}
		Components map[string]map[string]json.RawMessage
	}](club.call("", "GET", "/api/v1/openapi.json", nil).is(http.StatusOK))
	// The type of the problem is the address of its description (RFC 6901 pointer in the fragment).
	address, pointer, _ := strings.Cut(blindType, "#/components/")
	require.Equal(t, "/api/v1/openapi.json", address)
	part, name, _ := strings.Cut(pointer, "/")
	require.Contains(t, string(doc.Components[part][name]), "look blind")

	v := club.asked()
	checked := 0
	for _, r := range routeCases {
		// What is never a reviewer's is refused before anything is looked at.
		if !r.onSubmission() || strings.Contains(r.path, "/proof?") || strings.HasSuffix(r.path, "/label") || strings.HasSuffix(r.path, "/vouching") || strings.Contains(r.path, "/publication") || strings.Contains(r.path, "{photo}") || strings.Contains(r.path, "/panel") || strings.HasSuffix(r.path, "/blind") {
			continue
		}
		checked++
		require.Equal(t, at(v, "/blind"), club.try(r, "rita", v).toLook(), "%s %s", r.method, r.path)
		require.Contains(t, doc.Paths[r.template()][strings.ToLower(r.method)].Responses["409"].Description, blindType, "%s %s", r.method, r.path)
	}
	require.Greater(t, checked, 15)
}
