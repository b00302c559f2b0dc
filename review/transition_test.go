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
	{ActRevise, "member/own keeper/own reviewer/own curator/own machine/own", "draft", ""},
	{ActSubmit, "member/own keeper/own reviewer/own curator/own machine/own", "draft", StatusOpen},
	{ActHold, "reviewer/other curator/other", "open", ""},
	{ActEndHold, "reviewer/other curator/other", "open", ""},
	{ActReview, "reviewer/other curator/other", "open", ""},
	{ActReply, "reviewer/other curator/other", "open", ""},
	{ActReturn, "reviewer/other curator/other", "open", StatusReturned},
	{ActAnswer, "member/own keeper/own reviewer/own curator/own machine/own", "open returned", StatusOpen},
	{ActBlind, "reviewer/other", "open", ""},
	{ActPanel, "reviewer/other", "confirmed undetermined", ""},
	{ActSettle, "reviewer/other curator/other", "open", StatusConfirmed},
	{ActRedetermine, "member/own keeper/own reviewer/own curator/own reviewer/other curator/other", "open confirmed", StatusRedetermined},
	{ActUndetermine, "reviewer/other curator/other", "open", StatusUndetermined},
	{ActWithdraw, "member/own keeper/own reviewer/own curator/own machine/own", "draft open returned", StatusWithdrawn},
	{ActReopen, "curator/own curator/other", "confirmed redetermined undetermined withdrawn", StatusOpen},
	{ActAudit, "curator/other", "open returned", ""},
	{ActReleaseSlip, "reviewer/other curator/other", "open returned confirmed redetermined", ""},
	{ActUphold, "curator/other", "confirmed undetermined", ""},
	{ActReadPast, "member/own keeper/own reviewer/own curator/own machine/own member/other keeper/other reviewer/other curator/other machine/other", "open returned confirmed redetermined undetermined withdrawn", ""},
	{ActRead, "member/own keeper/own reviewer/own curator/own machine/own", "draft open returned confirmed redetermined undetermined withdrawn", ""},
	{ActRead, "member/other keeper/other reviewer/other curator/other machine/other", "open returned confirmed redetermined undetermined withdrawn", ""},
}

func actors() map[string]Actor {
	all := map[string]Actor{}
	for _, role := range Roles {
		all[string(role)+"/own"] = Actor{Person: "owner", Role: role, Scopes: ScopesOf(AllScopes)}
		all[string(role)+"/other"] = Actor{Person: "somebody else", Role: role, Scopes: ScopesOf(AllScopes)}
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
	require.Equal(t, len(actions)*len(Statuses)*2*len(Roles), cells)
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
		{ActDraft, "member keeper reviewer curator machine"},
		{ActUpload, "member keeper reviewer curator machine"},
		{ActReadQueue, "reviewer curator"},
		{ActPrintLabels, "member keeper reviewer curator machine"},
		{ActReadSheet, "member/own reviewer/own machine/own keeper curator"},
		{ActReadWithheld, "member/own reviewer/own keeper curator"},
		{ActReadDistrict, "reviewer keeper curator"},
		{ActCorrectLabel, "member/own reviewer/own keeper curator"},
		{ActPublish, "keeper curator"},
		{ActHandOver, "keeper curator machine"},
		{ActTakeIn, "keeper curator"},
		{ActReadChanges, "keeper curator machine"},
		{ActVouch, "curator"},
		{ActSetPolicy, "curator"},
		{ActEditTables, "curator"},
		{ActReassess, "curator"},
		{ActReadFigures, "curator"},
		{ActRefit, "curator"},
		{ActReadPerson, "member/own keeper/own reviewer/own curator"},
		{ActReadLedger, "curator"},
		{ActProve, "curator"},
		{ActKeepReviewers, "curator"},
		{ActKeepMachines, "curator"},
		{ActBeginSeries, "member"},
		{ActLeaveSeries, "member/own keeper/own reviewer/own curator/own"},
		{ActReadSeries, "member/own keeper/own reviewer curator"},
		{ActMentor, "reviewer/other curator/other"},
		{ActKeepOwn, "member keeper reviewer curator"},
		{ActReadPeople, "member keeper reviewer curator"},
		{ActReadSelf, "member keeper reviewer curator machine"},
		{ActReadSpecimen, "member keeper reviewer curator machine"},
		{ActKeepAccounts, "curator"},
		{ActChangeAccount, "curator/other"},
	} {
		for who, actor := range actors() {
			role, _, _ := strings.Cut(who, "/")
			allowed := strings.Fields(c.allowed)
			require.Equal(t, slices.Contains(allowed, who) || slices.Contains(allowed, role), May(actor, c.action, "owner"), "%s as %s", c.action, who)
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

// TestFamiliesNarrow: who is named for families reviews these and nothing else, and does all that concerns no name.
func TestFamiliesNarrow(t *testing.T) {
	rita := Actor{Person: "rita", Role: RoleReviewer, Families: FamiliesOf([]string{"Elateridae", "Buprestidae", "Elateridae"})}
	require.Equal(t, []string{"Buprestidae", "Elateridae"}, rita.Families.Names())
	within := &Submission{Owner: "ada", Status: StatusOpen, Determination: Determination{Family: "Elateridae"}}
	beyond := &Submission{Owner: "ada", Status: StatusOpen, Determination: Determination{Family: "Elat"}}
	for _, action := range []Action{ActHold, ActReview, ActReply, ActReturn, ActSettle, ActRedetermine, ActUndetermine} {
		_, err := Transition(rita, action, within)
		require.NoError(t, err, action)
		_, err = Transition(rita, action, beyond)
		require.Equal(t, KindForbidden, KindOf(err), action)
		require.ErrorContains(t, err, "Buprestidae, Elateridae")
		require.NotContains(t, Allowed(rita, beyond), action)
	}
	_, err := Transition(rita, ActRead, beyond)
	require.NoError(t, err)
	own := &Submission{Owner: "rita", Status: StatusOpen, Determination: Determination{Family: "Cerambycidae"}}
	_, err = Transition(rita, ActRedetermine, own)
	require.NoError(t, err, "one's own is of any family")
	require.False(t, May(rita, ActMentor, "ada"), "a beginner's series is of all families")
	require.True(t, May(rita, ActReadQueue, ""))
	require.False(t, rita.LooksBlind())
}

// TestMachinesNeverDecide: with every scope there is, a machine submits, reads and writes what leaves the house. None of it is a
// review or a decision.
func TestMachinesNeverDecide(t *testing.T) {
	machine := Actor{Person: "m", Role: RoleMachine, Scopes: ScopesOf(AllScopes)}
	var may []Action
	for _, r := range rules {
		if !slices.Contains(may, r.action) && Ever(machine, r.action) {
			may = append(may, r.action)
		}
	}
	require.ElementsMatch(t, []Action{ActRevise, ActSubmit, ActAnswer, ActWithdraw, ActDraft, ActUpload, ActRead, ActReadPast, ActList, ActReadSpecimen, ActReadTables,
		ActAssess, ActReadPolicy, ActReadSelf, ActPrintLabels, ActReadSheet, ActHandOver, ActReadChanges}, may)
	for _, r := range rules {
		if !slices.Contains(r.roles, RoleMachine) {
			continue
		}
		require.True(t, r.scope != "" || r.action == ActReadSelf, r.action)
		machine.Scopes = ""
		require.Equal(t, r.action == ActReadSelf, Ever(machine, r.action), r.action)
		machine.Scopes = Scopes(r.scope)
		require.True(t, Ever(machine, r.action), r.action)
	}
}
