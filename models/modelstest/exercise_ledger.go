package modelstest

import (
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/service"
)

var ledgers = map[string]func(fixture){
	"proposals wait for another curator":                proposalsWait,
	"a panel that does not bear a name out is listed":   partedListed,
	"an upheld determination waits for nobody":          upheldWaitsNot,
	"drafts of old slips are listed to their owner":     slipsListed,
	"holds that were left are listed":                   leftHoldsListed,
	"a member who reads below members is listed":        readBelowListed,
	"owners who cannot log in are listed":               disabledListed,
	"submissions are read by their ids":                 submissionsWithIDs,
	"an audit opens what is sealed, and is told":        auditOpens,
	"who has audited gives no voice and is on no panel": auditedNoVoice,
	"reliability of others is shown as the policy says": reliabilityShown,
	"a ledger is a curator's":                           ledgerOfCurators,
}

func proposalsWait(f fixture) {
	waiting := func(by string, most int) []string {
		found, err := f.db.WaitingProposals(f.Context(), by, most)
		require.NoError(f, err)
		ids := []string{}
		for _, p := range found {
			ids = append(ids, p.ID)
		}
		return ids
	}
	f.propose("later", "adults", "cora", noon.Add(time.Hour))
	f.propose("first", "larvae", "carl", noon)
	f.propose("decided", "adults", "carl", noon)
	f.decide("decided", 2, review.ProposalApproved)
	require.Equal(f, []string{"first", "later"}, waiting("", 5), "of all groups, the first proposed first")
	require.Equal(f, []string{"first"}, waiting("cora", 5))
	require.Equal(f, []string{"later"}, waiting("carl", 5))
	require.Equal(f, []string{"first"}, waiting("", 1))
	require.Empty(f, waiting("\xff", 5))
}

// named is an answer of a panel.
func named(family, person string) *review.PanelOpinionGiven {
	return &review.PanelOpinionGiven{Opinion: review.PanelOpinion{Family: family, By: person, At: noon.Add(2 * day)}}
}

func (f fixture) parted() []string { return f.find(service.SubmissionFilter{Parted: true}, 2) }

func partedListed(f fixture) {
	for i, families := range [][]string{
		{"Elateridae", "Elateridae", "Buprestidae"},  // bears it out
		{"Buprestidae", "Buprestidae", "Elateridae"}, // names another
		{"Buprestidae", "", "Elateridae"},            // is divided
		{"Buprestidae", "Buprestidae"},               // is not complete
	} {
		id := fmt.Sprint("s", i)
		f.closed(id, i)
		for j, family := range families {
			f.next(id, fmt.Sprint("p", j), noon.Add(2*day), named(family, fmt.Sprint("p", j)))
		}
	}
	f.add(entry{id: "u", owner: "ada", family: "Elateridae"})
	f.next("u", "bob", noon, &review.Undetermined{Reason: "worn"}, &review.RecheckDrawn{Rate: 0.05, Panel: 3},
		named("Elateridae", "p1"), named("Elateridae", "p2"), named("", "p3"))
	require.ElementsMatch(f, []string{"s1", "s2", "u"}, f.parted(), "what was left undetermined and more than half named, too")
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.ElementsMatch(f, []string{"s1", "s2", "u"}, f.parted())
	f.next("s1", "cora", noon.Add(3*day), &review.Reopened{Reason: "look again"})
	require.ElementsMatch(f, []string{"s2", "u"}, f.parted())
}

func upheldWaitsNot(f fixture) {
	f.closed("s", 1)
	upheld := func(at time.Time) *review.Upheld {
		return &review.Upheld{Upholding: review.Upholding{Reason: "dissected", TablesHash: "h", By: "cora", At: at}}
	}
	f.next("s", "cora", noon.Add(day), upheld(noon.Add(day)))
	for i := range 3 {
		f.next("s", fmt.Sprint("p", i), noon.Add(2*day), named("Buprestidae", fmt.Sprint("p", i)))
	}
	require.Equal(f, []string{"s"}, f.parted(), "a panel that is complete later asks again")
	f.next("s", "cora", noon.Add(3*day), upheld(noon.Add(3*day)))
	require.Empty(f, f.parted())
	require.Equal(f, "dissected", f.submission("s").Upholding.Reason)
	f.next("s", "cora", noon.Add(4*day), &review.Reopened{Reason: "once more"})
	require.Nil(f, f.submission("s").Upholding)
}

func slipsListed(f fixture) {
	m := newMeeting(f, easy())
	plain := m.form("ada", "Elateridae", "5")
	_, err := m.service.Draft(f.Context(), m.actors["ada"], plain, "")
	require.NoError(f, err)
	worded := review.SubmissionForm{Family: "Elateridae", Wording: "Elater sp."}
	given := review.SubmissionForm{Family: "Elateridae", DeterminerName: "Old Hand"}
	wanted := []string{}
	for _, form := range []review.SubmissionForm{worded, given} {
		draft, err := m.service.Draft(f.Context(), m.actors["ada"], form, "")
		require.NoError(f, err)
		wanted = append(wanted, draft.ID)
	}
	slips := func(who string) []string {
		lines, _, err := m.service.Find(f.Context(), m.actors[who], service.SubmissionFilter{Slips: true}, service.Page{Size: 5})
		require.NoError(f, err)
		ids := []string{}
		for _, l := range lines {
			ids = append(ids, l.ID)
		}
		return ids
	}
	require.ElementsMatch(f, wanted, slips("ada"))
	require.Empty(f, slips("cora"), "drafts are their owners'")
	name := ""
	_, err = m.service.Revise(f.Context(), m.actors["ada"], wanted[1], service.AnyVersion, review.Revision{DeterminerName: &name, DeterminedOn: &name})
	require.NoError(f, err)
	require.Equal(f, wanted[:1], slips("ada"))
}

func leftHoldsListed(f fixture) {
	hold := func(id, who string, days int) {
		f.add(entry{id: id, owner: "ada", family: "Elateridae"})
		f.next(id, who, noon, &review.Held{Until: noon.Add(time.Duration(days) * day)})
	}
	hold("a", "rex", 3)
	hold("b", "uma", 1)
	hold("c", "rex", 9)
	hold("d", "rex", 2)
	f.next("d", "rex", noon, &review.HoldEnded{})
	hold("e", "uma", 2)
	f.next("e", "bob", noon, &review.Undetermined{Reason: "worn"})
	left, err := f.db.LeftHolds(f.Context(), noon.Add(9*day), 5)
	require.NoError(f, err)
	require.Equal(f, []service.LeftHold{{Person: "uma", Submission: "b", Until: noon.Add(day)}, {Person: "rex", Submission: "a", Until: noon.Add(3 * day)}}, left)
	left, err = f.db.LeftHolds(f.Context(), noon.Add(9*day), 1)
	require.NoError(f, err)
	require.Len(f, left, 1)
}

// reader is a member of whom so many reports on the head were weighed, and so many more on the legs as members read them.
func reader(role review.Role, right, wrong float64, reports int) review.PersonKnown {
	return review.PersonKnown{Role: role, Regions: map[string]confidence.KnownAccuracy{
		"head": {Right: right, Wrong: wrong, Verdicts: reports}, "legs": {Right: 17, Wrong: 3, Verdicts: 5}}}
}

func readBelowListed(f fixture) {
	people := map[string]review.PersonKnown{
		"low":      reader(review.RoleMember, 50, 50, 60),   // 0.50 ± 2.58 · 0.05
		"near":     reader(review.RoleMember, 78, 22, 60),   // 0.78 ± 2.58 · 0.041 reaches 0.85
		"few":      reader(review.RoleMember, 50, 50, 44),   // 49 reports
		"reviewer": reader(review.RoleReviewer, 50, 50, 60), // is no member
		"bad":      reader(review.RoleMember, 30, 70, 60),
	}
	f.commit(event(review.ReliabilityStream("adults"), 1, "rex", noon, learned("s1", people)))
	below := func(most int) map[string]review.PersonKnown {
		found, err := f.db.ReadBelow(f.Context(), "adults", most)
		require.NoError(f, err)
		return found
	}
	require.Equal(f, map[string]review.PersonKnown{"low": people["low"], "bad": people["bad"]}, below(5))
	require.Equal(f, []string{"head"}, people["low"].ReadsBelow())
	require.Equal(f, map[string]review.PersonKnown{"bad": people["bad"]}, below(1))
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Len(f, below(5), 2)
	other, err := f.db.ReadBelow(f.Context(), "larvae", 5)
	require.NoError(f, err)
	require.Empty(f, other)
	f.commit(event(review.ReliabilityStream("adults"), 2, "rex", noon, learned("s2", map[string]review.PersonKnown{"low": reader(review.RoleMember, 95, 5, 90)})))
	require.Equal(f, map[string]review.PersonKnown{"bad": people["bad"]}, below(5), "who has learnt it is not listed")
}

func disabledListed(f fixture) {
	for _, who := range []string{"ada", "ben", "cyd"} {
		require.NoError(f, f.db.CreateAccount(f.Context(), account(who, who, who)))
	}
	f.add(entry{id: "a", owner: "ada", family: "Elateridae"})
	f.add(entry{id: "b", owner: "ben", family: "Elateridae"})
	f.next("b", "bob", noon, &review.Returned{Return: review.Return{ID: "r", By: "bob"}})
	f.add(entry{id: "c", owner: "cyd", family: "Elateridae"})
	f.next("c", "bob", noon, &review.Undetermined{Reason: "worn"})
	disabled := func() []string {
		ids, err := f.db.DisabledOwners(f.Context(), 5)
		require.NoError(f, err)
		return ids
	}
	require.Empty(f, disabled())
	for _, who := range []string{"ada", "ben", "cyd"} {
		require.NoError(f, f.db.ChangeAccount(f.Context(), who, auth.AccountChange{Disabled: new(true)}))
	}
	require.Equal(f, []string{"ada", "ben"}, disabled(), "nothing of Cyd's waits")
}

func submissionsWithIDs(f fixture) {
	f.add(entry{id: "a", owner: "ada", family: "Elateridae"})
	f.add(entry{id: "b", owner: "ada", catalogue: "C-2", family: "Elateridae"})
	found, err := f.db.SubmissionsWith(f.Context(), []string{"b", "none", "\xff"}, nil)
	require.NoError(f, err)
	require.Equal(f, map[string]review.Submission{"b": f.submission("b")}, found)
	specimen, err := f.db.Specimen(f.Context(), found["b"].Specimen)
	require.NoError(f, err)
	numbers, err := f.db.CatalogueNumbers(f.Context(), []string{specimen.ID, "none", "\xff"})
	require.NoError(f, err)
	require.NotEmpty(f, specimen.Label.CatalogueNumber)
	require.Equal(f, map[string]string{specimen.ID: specimen.Label.CatalogueNumber}, numbers)
}

func auditOpens(f fixture) {
	m := newCrowd(f, byNumber())
	open, antenna, _ := m.disputed()
	version := m.view("cora", open.ID).Version
	require.True(f, m.view("cora", open.ID).Sealed)
	_, err := m.service.Audit(f.Context(), m.actors["cora"], open.ID, service.AnyVersion, " ")
	m.requireFields(err, "reason")
	for _, who := range []string{"ada", "rosa"} {
		_, err := m.service.Audit(f.Context(), m.actors[who], open.ID, service.AnyVersion, "I want to see it")
		requireKind(f.T, review.KindForbidden, err)
	}
	_, err = m.service.Audit(f.Context(), m.actors["cora"], open.ID, version, "two complaints about it")
	require.NoError(f, err)
	seen := m.view("cora", open.ID)
	require.False(f, seen.Sealed)
	require.NotEmpty(f, seen.Submission.Verdicts)
	require.Equal(f, version, seen.Version, "nobody's decision is stale by it")
	_, err = m.service.Audit(f.Context(), m.actors["cora"], open.ID, service.AnyVersion, "again")
	requireKind(f.T, review.KindConflict, err)

	// Who may not see what was said hears that it was opened, and not why.
	require.Equal(f, []string{""}, auditReasons(m.view("rosa", open.ID)))
	require.Equal(f, []string{"two complaints about it"}, auditReasons(m.view("ada", open.ID)))
	for who, want := range map[string]string{"rosa": "", "ada": "two complaints about it", "cora": "two complaints about it"} {
		history, err := m.service.HistoryOf(f.Context(), m.actors[who], open.ID)
		require.NoError(f, err)
		told := 0
		for _, e := range history.Entries {
			if c, ok := e.Change.(*review.Audited); ok {
				told++
				require.Equal(f, []string{"cora", want}, []string{e.Actor, c.Reason}, who)
			}
		}
		require.Equal(f, 1, told, who)
	}
	after := m.reviewed("cora", open.ID, verdictOn(antenna, review.VerdictDispute, "serrate"))
	require.True(f, m.verdictsOf("cora", after.ID)[antenna].AfterOpening)
}

func auditReasons(v service.SubmissionView) (reasons []string) {
	for _, a := range v.Submission.Audits {
		reasons = append(reasons, a.Reason)
	}
	return reasons
}

func auditedNoVoice(f fixture) {
	policy := easy()
	policy.Reviewers = 1
	m := newMeeting(f, policy)
	open := m.submit("ada", "Elateridae", "5")
	_, err := m.service.Audit(f.Context(), m.actors["cora"], open.ID, service.AnyVersion, "nobody has looked for weeks")
	require.NoError(f, err)
	m.reviewed("cora", open.ID, agreed())
	after := m.view("ada", open.ID).Submission
	require.Equal(f, review.StatusOpen, after.Status, "agreement after an audit is no voice, though nobody had said anything by then")
	require.True(f, after.Opinions[0].AfterOpening)
	require.Contains(f, after.KnownTo(), "cora", "and looks blind at it no more, in whatever role")
	m.reviewed("rita", open.ID, agreed())
	require.Equal(f, review.StatusConfirmed, m.view("ada", open.ID).Submission.Status)
}

func reliabilityShown(f fixture) {
	m := newMeeting(f, byNumber())
	group := m.view("ada", m.submit("ada", "Elateridae", "5").ID).Submission.Group
	people := map[string]review.PersonKnown{}
	for who, right := range map[string]float64{"ada": 70, "ben": 80, "ida": 90} {
		people[who] = review.PersonKnown{Role: review.RoleMember, Regions: map[string]confidence.KnownAccuracy{"antenna": {Right: right, Wrong: 100 - right, Verdicts: 30}}}
	}
	for _, who := range []string{"rita", "cora"} {
		people[who] = review.PersonKnown{Role: review.RoleReviewer, Regions: map[string]confidence.KnownAccuracy{"antenna": {Right: 96, Wrong: 4, Verdicts: 40}}}
	}
	f.commit(event(review.ReliabilityStream(group), 1, "program", noon, learned("s1", people)))
	names := func(r review.Reliability) (persons []string) {
		for person := range r.People {
			persons = append(persons, person)
		}
		slices.Sort(persons)
		return persons
	}
	seen := func(who string) review.Reliability {
		now, _, err := m.service.Reliability(f.Context(), m.actors[who], group)
		require.NoError(f, err)
		then, _, err := m.service.ReliabilityAt(f.Context(), m.actors[who], group, 1)
		require.NoError(f, err)
		require.Equal(f, names(now), names(then), "a former version is shown no otherwise")
		require.Equal(f, now.Totals, then.Totals)
		return now
	}
	require.Equal(f, []string{"cora"}, names(seen("cora")), "her own")
	totals := seen("cora").Totals
	require.Len(f, totals, 1, "of two reviewers it could be told who is meant")
	require.InDelta(f, 0.8, totals[0].Accuracy, 1e-12)
	require.Equal(f, []any{review.RoleMember, "antenna", 3, 90}, []any{totals[0].Role, totals[0].Region, totals[0].People, totals[0].Reports})
	require.Equal(f, []string{"ada"}, names(seen("ada")))
	require.Empty(f, seen("ada").Totals)
	require.Empty(f, names(seen("rolf")))

	policy := byNumber()
	policy.ReliabilityShown, policy.Reason = review.ShownNames, "we know each other"
	_, err := m.service.SetPolicy(f.Context(), m.actors["cora"], service.AnyVersion, policy)
	require.NoError(f, err)
	require.ElementsMatch(f, []string{"ada", "ben", "ida", "rita", "cora"}, names(seen("cora")))
	require.Equal(f, []string{"ada"}, names(seen("ada")))
	policy.ReliabilityShown = "everything"
	_, err = m.service.SetPolicy(f.Context(), m.actors["cora"], service.AnyVersion, policy)
	m.requireFields(err, "reliability_shown")
}

func ledgerOfCurators(f fixture) {
	m := newMeeting(f, byNumber())
	group := m.view("ada", m.submit("ada", "Elateridae", "5").ID).Submission.Group
	for _, who := range []string{"ada", "rita"} {
		_, err := m.service.Ledger(f.Context(), m.actors[who])
		requireKind(f.T, review.KindForbidden, err)
	}
	ledger := func() service.Ledger {
		l, err := m.service.Ledger(f.Context(), m.actors["cora"])
		require.NoError(f, err)
		return l
	}
	empty := ledger()
	require.Empty(f, empty.Proposals)
	require.Empty(f, empty.People)
	require.Empty(f, empty.Unnamed)

	f.commit(event(review.ReliabilityStream(group), 1, "program", noon, learned("s1", map[string]review.PersonKnown{"ada": reader(review.RoleMember, 50, 50, 60)})))
	f.propose("p", group, "carl", noon)
	f.propose("own", group, "cora", noon)
	l := ledger()
	require.Empty(f, l.People, "the policy shows totals")
	require.Equal(f, map[review.AttentionReason]int{review.AttentionReadsBelow: 1}, l.Unnamed)
	require.Len(f, l.Proposals, 2, "Cora is the only curator, who decides on her own, too")

	carl := account("carl", "carl", "Name of carl")
	carl.Role = review.RoleCurator
	require.NoError(f, f.db.CreateAccount(f.Context(), carl))
	policy := byNumber()
	policy.ReliabilityShown, policy.Reason = review.ShownNames, "we know each other"
	_, err := m.service.SetPolicy(f.Context(), m.actors["cora"], service.AnyVersion, policy)
	require.NoError(f, err)
	l = ledger()
	require.Len(f, l.Proposals, 1, "what waits for a second curator is another's")
	require.Equal(f, "p", l.Proposals[0].ID)
	require.Equal(f, []review.Attention{{Person: "ada", Why: review.AttentionReadsBelow, Group: group, Regions: []string{"head"}, Count: 65}}, l.People)
	require.Equal(f, "Name of ada", l.Names["ada"])
}
