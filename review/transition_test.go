package review

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// expected lists, for each action on a submission, who may do it and where it leads, written out apart from the
// table that it checks: "role/own" or "role/other", then the statuses from which it is allowed.
var expected = []struct {
	action Action
	who    string
	from   string
	to     Status // "" leaves the status
}{
	{ActRevise, "member/own reviewer/own curator/own", "draft", ""},
	{ActSubmit, "member/own reviewer/own curator/own", "draft", StatusOpen},
	{ActHold, "reviewer/other curator/other", "open", ""},
	{ActEndHold, "reviewer/other curator/other", "open", ""},
	{ActReview, "reviewer/other curator/other", "open", ""},
	{ActReply, "reviewer/other curator/other", "open", ""},
	{ActReturn, "reviewer/other curator/other", "open", StatusReturned},
	{ActAnswer, "member/own reviewer/own curator/own", "open returned", StatusOpen},
	{ActBlind, "reviewer/other", "open", ""},
	{ActPanel, "reviewer/other", "confirmed undetermined", ""},
	{ActSettle, "reviewer/other curator/other", "open", StatusConfirmed},
	{ActRedetermine, "member/own reviewer/own curator/own reviewer/other curator/other", "open confirmed", StatusRedetermined},
	{ActUndetermine, "reviewer/other curator/other", "open", StatusUndetermined},
	{ActWithdraw, "member/own reviewer/own curator/own", "draft open returned", StatusWithdrawn},
	{ActReopen, "curator/own curator/other", "confirmed redetermined undetermined withdrawn", StatusOpen},
	{ActAudit, "curator/other", "open returned", ""},
	{ActReleaseSlip, "reviewer/other curator/other", "open returned confirmed redetermined", ""},
	{ActUphold, "curator/other", "confirmed undetermined", ""},
	{ActRead, "member/own reviewer/own curator/own", "draft open returned confirmed redetermined undetermined withdrawn", ""},
	{ActRead, "member/other reviewer/other curator/other", "open returned confirmed redetermined undetermined withdrawn", ""},
}

func actors() map[string]Actor {
	all := map[string]Actor{}
	for _, role := range Roles {
		all[string(role)+"/own"] = Actor{Person: "owner", Role: role}
		all[string(role)+"/other"] = Actor{Person: "somebody else", Role: role}
	}
	return all
}

// TestTransitionEveryCell goes through every status, action, role and stand to the submission, refused ones included.
func TestTransitionEveryCell(t *testing.T) {
	actions := map[Action]bool{}
	for _, e := range expected {
		actions[e.action] = true
	}
	cells := 0
	for action := range actions {
		for _, status := range Statuses {
			for who, actor := range actors() {
				cells++
				name := fmt.Sprintf("%s a %s submission as %s", action, status, who)
				submission := &Submission{Owner: "owner", Status: status}
				to, err := Transition(actor, action, submission)
				want, kind := outcome(action, status, who)
				if kind != "" {
					require.Equal(t, kind, KindOf(err), name)
					require.NotContains(t, Allowed(actor, submission), action, name)
					continue
				}
				require.NoError(t, err, name)
				require.Equal(t, want, to, name)
				require.Contains(t, Allowed(actor, submission), action, name)
			}
		}
	}
	require.Equal(t, len(actions)*len(Statuses)*6, cells)
}

func outcome(action Action, status Status, who string) (Status, Kind) {
	admitted := false
	for _, e := range expected {
		if e.action != action || !slices.Contains(strings.Fields(e.who), who) {
			continue
		}
		admitted = true
		if slices.Contains(strings.Fields(e.from), string(status)) {
			if e.to == "" {
				return status, ""
			}
			return e.to, ""
		}
	}
	if admitted {
		return "", KindConflict
	}
	return "", KindForbidden
}

func TestEveryRuleOfSubmissionsIsExpected(t *testing.T) {
	for _, r := range rules {
		if r.from == nil {
			continue
		}
		require.True(t, slices.ContainsFunc(expected, func(e struct {
			action Action
			who    string
			from   string
			to     Status
		}) bool {
			return e.action == r.action
		}), r.action)
		require.NotEmpty(t, actionWords[r.action])
	}
}

func TestMayWithoutStatus(t *testing.T) {
	for _, c := range []struct {
		action  Action
		allowed string
	}{
		{ActDraft, "member/own member/other reviewer/own reviewer/other curator/own curator/other"},
		{ActUpload, "member/own member/other reviewer/own reviewer/other curator/own curator/other"},
		{ActReadQueue, "reviewer/own reviewer/other curator/own curator/other"},
		{ActPrintLabels, "member/own member/other reviewer/own reviewer/other curator/own curator/other"},
		{ActReadSheet, "member/own reviewer/own curator/own curator/other"},
		{ActReadWithheld, "member/own reviewer/own curator/own curator/other"},
		{ActReadDistrict, "reviewer/own reviewer/other curator/own curator/other"},
		{ActCorrectLabel, "member/own reviewer/own curator/own curator/other"},
		{ActSetPolicy, "curator/own curator/other"},
		{ActEditTables, "curator/own curator/other"},
		{ActReadLedger, "curator/own curator/other"},
		{ActProve, "curator/own curator/other"},
		{ActBeginSeries, "member/own member/other"},
		{ActMentor, "reviewer/other curator/other"},
		{ActHandOver, "curator/own curator/other"},
		{ActTakeIn, "curator/own curator/other"},
		{ActVouch, "curator/own curator/other"},
		{ActPublish, "curator/own curator/other"},
		{ActKeepAccounts, "curator/own curator/other"},
	} {
		for who, actor := range actors() {
			require.Equal(t, slices.Contains(strings.Fields(c.allowed), who), May(actor, c.action, "owner"), "%s as %s", c.action, who)
		}
	}
}

func TestNobodyMayAnything(t *testing.T) {
	for _, r := range rules {
		require.False(t, May(Actor{}, r.action, "owner"), r.action)
		for _, status := range Statuses {
			_, err := Transition(Actor{}, r.action, &Submission{Owner: "owner", Status: status})
			require.Error(t, err)
		}
	}
}
