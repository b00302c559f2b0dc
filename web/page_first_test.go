package web

import (
	"net/http"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/pages"
)

// TestWhoIsNewIsAskedFirst: the form asks a member of whom nothing is known whether it is a beetle at all, without script; what is
// answered is stored, comes back with the form and the draft, and reviewers read in the assessment that it fits another order better.
func TestWhoIsNewIsAskedFirst(t *testing.T) {
	club := newAPIClubWith(t, diagnosis.All())
	judge, err := club.server.Service.Judge(t.Context(), "")
	require.NoError(t, err)
	asked := judge.WiderQuestions()
	require.NotEmpty(t, asked)
	orders, err := club.server.Service.Judge(t.Context(), asked[0].Group)
	require.NoError(t, err)
	earwig, _, ok := orders.Tables().Resolve("Dermaptera")
	require.True(t, ok)

	fields := club.submissionFields("ada")
	fields.Set("photos[0].view", "whole-below")
	var want []review.WiderAnswer
	for _, n := range asked {
		c, _ := orders.Tables().Character(n.Character)
		best, most := "", 0.0
		for i, s := range c.States {
			if share, known := earwig.Share(c.ID, i); known && share > most {
				best, most = s.ID, share
			}
		}
		fields.Set(pages.WiderField(c.ID), best)
		want = append(want, review.WiderAnswer{Character: c.ID, State: best})
	}
	form := club.page("ada", "/submissions/new?group="+judge.Tables().Group.ID, http.StatusOK)
	require.Contains(t, form, "Is it one of the Coleoptera?")
	for _, a := range want {
		require.Contains(t, form, `name="`+pages.WiderField(a.Character)+`" value="`+a.State+`"`)
	}

	fields.Set("do", "draft")
	id := idIn(t, club.postFiles("ada", "/submissions", fields).goesTo())
	require.ElementsMatch(t, want, club.viewOf("ada", id).Submission.Wider)
	edit := club.page("ada", "/submissions/"+id+"/edit", http.StatusOK)
	require.Contains(t, edit, `name="`+pages.WiderField(want[0].Character)+`" value="`+want[0].State+`" checked`)

	fields = club.submissionFields("ben")
	fields.Set("photos[0].view", "whole-below")
	for _, a := range want {
		fields.Set(pages.WiderField(a.Character), a.State)
	}
	id = idIn(t, club.postFiles("ben", "/submissions", fields).goesTo())
	v := club.viewOf("ben", id)
	require.ElementsMatch(t, want, v.Submission.Wider)
	at := slices.IndexFunc(v.Submission.Assessment.Caveats, func(c judgement.Caveat) bool { return c.Kind == judgement.CaveatWider })
	require.Equal(t, "Dermaptera", v.Submission.Assessment.Caveats[at].Name)
	require.Contains(t, club.page("ben", "/submissions/"+id, http.StatusOK), "speaks for one of the Dermaptera rather than of the Coleoptera")

	fields = club.submissionFields("ben")
	fields.Set("photos[0].view", "whole-below")
	fields.Set("key", "another")
	fields.Set(pages.WiderField(want[0].Character), "nosuch")
	text := club.shown(club.postFiles("ben", "/submissions", fields), http.StatusBadRequest)
	require.Contains(t, text, "has no state")

	none, err := club.server.Service.AskedFirst(t.Context(), club.actor("rita"), judge.Tables().Group.ID, false)
	require.NoError(t, err)
	require.Empty(t, none, "who reviews is not asked")
}
