package modelstest

import (
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models/blob"
	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
)

var audits = map[string]func(fixture){
	"what was said is found when it is closed":         saidWhenClosed,
	"lists are narrowed by what audits look for":       auditedLists,
	"what a period has closed never changes":           periodNeverChanges,
	"closings hold where a clock was set back":         closedWithTheClockBack,
	"a difference is told once":                        differenceOnce,
	"families of a period are counted once":            familiesCounted,
	"saved searches are their owner's, and go with it": searchesSaved,
	"a label is found by what everybody may read":      labelsFound,
}

// saidOf is what was said of a submission that Rita and Rolf have judged.
func (f fixture) saidOf(id string) {
	f.add(entry{id: id, owner: "ada", family: "Elateridae", group: "adults"})
	f.next(id, "rita", noon.Add(time.Hour), &review.VerdictsGiven{Verdicts: []review.Verdict{
		{Observation: "o", Kind: review.VerdictDispute, By: "rita"}, {Observation: "p", Kind: review.VerdictConfirm, By: "rita"}}},
		&review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAnother, By: "rita"}})
	f.next(id, "rolf", noon.Add(time.Hour), &review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAgrees, By: "rolf"}})
}

func saidWhenClosed(f fixture) {
	f.saidOf("s")
	by := func(person string, said service.Said) []string {
		return f.find(service.SubmissionFilter{Judge: person, Said: said}, 2)
	}
	require.Empty(f, by("rita", service.SaidAnything), "it is sealed until it is closed")
	n, err := f.db.CountOfPerson(f.Context(), "rita", 10)
	require.NoError(f, err)
	require.Zero(f, n)
	f.next("s", "cora", noon.Add(2*time.Hour), &review.Undetermined{Reason: "worn"})
	for range 2 {
		for _, said := range []service.Said{service.SaidAnything, service.SaidConfirmed, service.SaidDisputed, service.SaidAnother} {
			require.Equal(f, []string{"s"}, by("rita", said), said)
		}
		require.Empty(f, by("rita", service.SaidAgrees))
		require.Empty(f, by("rolf", service.SaidConfirmed))
		require.Equal(f, []string{"s"}, by("rolf", service.SaidAgrees))
		n, err = f.db.CountOfPerson(f.Context(), "rita", 10)
		require.NoError(f, err)
		require.Equal(f, service.PersonCount{Confirmed: 1, Disputed: 1, Another: 1}, n)
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
	f.next("s", "cora", noon.Add(3*time.Hour), &review.Reopened{Reason: "a better lens"})
	require.Empty(f, by("rita", service.SaidAnything), "it is open again, and sealed")
}

func auditedLists(f fixture) {
	at := func(id string, hours int, kinds ...judgement.ContradictionKind) {
		f.add(entry{id: id, owner: "ada", family: "Elateridae", group: "adults"})
		a := judgement.Assessment{Group: "adults", TablesHash: "hash-" + id, Contradictions: []judgement.Contradiction{}}
		for _, k := range kinds {
			a.Contradictions = append(a.Contradictions, judgement.Contradiction{Kind: k})
		}
		f.next(id, "cora", noon.Add(time.Duration(hours)*time.Hour), &review.Assessed{Assessment: a},
			&review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAgrees, By: "rita"}})
	}
	at("a", 1, judgement.Excluded, judgement.Excluded, judgement.Unseen)
	at("b", 2, judgement.Unseen)
	at("c", 3)
	against := func(viewer string, kind judgement.ContradictionKind) []string {
		return f.find(service.SubmissionFilter{Viewer: viewer, Against: kind}, 2)
	}
	require.Empty(f, against("cora", judgement.Unseen), "of an open one it may tell what others said")
	require.Equal(f, []string{"b", "a"}, against("ada", judgement.Unseen), "but to its owner")
	for i, id := range []string{"a", "b", "c"} {
		f.next(id, "cora", noon.Add(time.Duration(i+1)*time.Hour), &review.Undetermined{Reason: "worn"})
	}
	require.Equal(f, []string{"b", "a"}, against("cora", judgement.Unseen))
	require.Equal(f, []string{"a"}, against("cora", judgement.Excluded))
	require.Empty(f, against("cora", judgement.Unusual))
	for range 2 {
		require.Equal(f, []string{"b", "a"}, f.find(service.SubmissionFilter{Viewer: "cora", Judge: "rita", Against: judgement.Unseen}, 1))
		require.Equal(f, []string{"a"}, f.find(service.SubmissionFilter{Viewer: "cora", Judge: "rita", Said: service.SaidAgrees, Against: judgement.Excluded}, 2))
		require.Empty(f, f.find(service.SubmissionFilter{Viewer: "cora", Judge: "rita", Said: service.SaidAnother, Against: judgement.Excluded}, 2))
		require.Equal(f, []string{"a"}, f.find(service.SubmissionFilter{Viewer: "cora", Determiner: "ada", Against: judgement.Excluded}, 2))
		require.Empty(f, f.find(service.SubmissionFilter{Viewer: "cora", Determiner: "ben", Against: judgement.Excluded}, 2))
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
	require.Equal(f, []string{"b"}, f.find(service.SubmissionFilter{Release: "hash-b"}, 2))
	require.Equal(f, []string{"b"}, f.find(service.SubmissionFilter{From: noon.Add(2 * time.Hour), Until: noon.Add(3 * time.Hour)}, 2))
	require.Equal(f, []string{"c", "a"}, f.find(service.SubmissionFilter{IDs: []string{"a", "c"}}, 2))
}

func (f fixture) closings(kind service.ClosingKind, from, until time.Time) (at []time.Time) {
	f.Helper()
	found, next, err := f.db.FindClosings(f.Context(), service.ClosingFilter{Group: "adults", Kind: kind, From: from, Until: until}, service.Page{Size: 100})
	require.NoError(f, err)
	require.Empty(f, next)
	for _, c := range found {
		at = append(at, c.At)
	}
	return at
}

func periodNeverChanges(f fixture) {
	closed, again := noon.Add(2*time.Hour), noon.Add(5*time.Hour)
	f.saidOf("s")
	f.next("s", "cora", closed, &review.Undetermined{Reason: "worn"})
	of := func() []service.Closing {
		found, _, err := f.db.FindClosings(f.Context(), service.ClosingFilter{Group: "adults", Kind: service.ClosedTestimony, Until: again}, service.Page{Size: 9})
		require.NoError(f, err)
		return found
	}
	before := of()
	require.Len(f, before, 1)
	f.next("s", "cora", noon.Add(3*time.Hour), &review.Reopened{Reason: "a better lens"})
	require.Equal(f, before, of(), "what is opened again was closed then")
	f.next("s", "rolf", noon.Add(4*time.Hour), &review.VerdictsGiven{Verdicts: []review.Verdict{{Observation: "o", Kind: review.VerdictConfirm, By: "rolf"}}})
	f.next("s", "cora", again, &review.Undetermined{Reason: "worn after all"})
	for range 2 {
		require.Equal(f, before, of(), "what was said later is of a later period")
		require.Equal(f, []time.Time{again, closed}, f.closings(service.ClosedTestimony, time.Time{}, time.Time{}))
		require.Equal(f, []time.Time{again}, f.closings(service.ClosedTestimony, again, time.Time{}))
		few, err := f.db.FewClosings(f.Context(), service.ClosingFilter{Group: "adults", Kind: service.ClosedTestimony}, 1)
		require.NoError(f, err)
		require.False(f, few)
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
	f.next("s", "cora", noon.Add(6*time.Hour), &review.RecheckDrawn{Rate: 1, Panel: 2})
	f.next("s", "rex", noon.Add(7*time.Hour), named("Elateridae", "rex"))
	require.Empty(f, f.closings(service.ClosedPanel, time.Time{}, time.Time{}), "the panel is not complete")
	f.next("s", "wilma", noon.Add(8*time.Hour), named("Buprestidae", "wilma"))
	for range 2 {
		require.Equal(f, []time.Time{noon.Add(8 * time.Hour)}, f.closings(service.ClosedPanel, time.Time{}, time.Time{}))
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
}

// closedWithTheClockBack: the clock of the program is set back after something was closed. What is done then is of the instant of the last
// event; of acts of one instant what the last of them left stands, as a rebuild makes it, and a closing of before is never lost.
func closedWithTheClockBack(f fixture) {
	m := newMeeting(f, easy())
	id := m.submit("ada", "Elateridae", "5").Submission.ID
	group := m.submission(id).Group
	close := func(why string) time.Time {
		_, err := m.service.Undetermine(f.Context(), m.actors["cora"], id, service.AnyVersion, why)
		require.NoError(f, err)
		return *m.submission(id).ClosedAt
	}
	reopen := func() {
		_, err := m.service.Reopen(f.Context(), m.actors["cora"], id, service.AnyVersion, "a better lens")
		require.NoError(f, err)
	}
	requireClosings := func(want ...time.Time) {
		f.Helper()
		for range 2 {
			found, _, err := f.db.FindClosings(f.Context(), service.ClosingFilter{Group: group, Kind: service.ClosedTestimony}, service.Page{Size: 9})
			require.NoError(f, err)
			at := []time.Time{}
			for _, c := range found {
				at = append(at, c.At)
			}
			require.Equal(f, want, at)
			differences, err := f.db.RebuildCompared(f.Context())
			require.NoError(f, err)
			for _, d := range differences {
				require.True(f, d.None(), "%+v", d)
			}
		}
	}
	first := close("worn")
	requireClosings(first)
	m.clock = noon.AddDate(0, 0, -30)
	reopen()
	requireClosings([]time.Time{}...) // in that very instant it is open again
	require.Equal(f, first, close("worn after all"), "no earlier than what was before")
	requireClosings(first)
	m.clock = first.Add(time.Hour)
	reopen()
	m.clock = noon.AddDate(0, 0, -30)
	_, err := m.service.Review(f.Context(), m.actors["rita"], id, service.AnyVersion, review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionLeftOpen, Basis: review.BasisPhotos}})
	require.NoError(f, err)
	second := close("worn, as two say")
	require.True(f, second.After(first))
	requireClosings(second, first)
}

func differenceOnce(f fixture) {
	f.saidOf("s")
	f.next("s", "cora", noon.Add(2*time.Hour), &review.Undetermined{Reason: "worn"})
	f.next("s", "cora", noon.Add(3*time.Hour), &review.Reopened{Reason: "a better lens"})
	f.next("s", "cora", noon.Add(4*time.Hour), &review.Undetermined{Reason: "worn after all"})
	m := service.NewService(f.db, &blob.Mem{}, service.NewLibrary(Tables(f.T)), service.Options{})
	came := func(which service.Came, from, until int) (told []string) {
		period := review.Period{From: noon.Add(time.Duration(from) * time.Hour), Until: noon.Add(time.Duration(until) * time.Hour)}
		lines, _, err := m.Changes(f.Context(), review.Actor{Person: "cora", Role: review.RoleCurator}, which, period, service.Page{Size: 10})
		require.NoError(f, err)
		for _, l := range lines {
			told = append(told, fmt.Sprint(l.ID, " ", l.Before, " ", l.After, " ", l.At.Sub(noon)))
		}
		return told
	}
	require.Equal(f, []string{"s open undetermined 4h0m0s"}, came(service.CameSettled, 1, 5), "though it was settled twice")
	require.Equal(f, []string{"s open undetermined 2h0m0s"}, came(service.CameSettled, 1, 3))
	require.Empty(f, came(service.CameSettled, 3, 4), "it was reopened then")
	require.Equal(f, []string{"s undetermined open 3h0m0s"}, came(service.CameReopened, 3, 4))
	require.Empty(f, came(service.CameReopened, 1, 5), "and closed again")
	_, _, err := m.Changes(f.Context(), review.Actor{Person: "rita", Role: review.RoleReviewer}, service.CameSettled, review.Period{}, service.Page{Size: 10})
	requireKind(f.T, review.KindForbidden, err)
}

func familiesCounted(f fixture) {
	confirmed := &review.Confirmed{Settlement: review.Settlement{Agreeing: []string{"rita"}}}
	for i, id := range []string{"a", "b", "c"} {
		f.add(entry{id: id, owner: "ada", family: []string{"Elateridae", "Elateridae", "Buprestidae"}[i], group: "adults"})
		f.next(id, "rita", noon.Add(time.Duration(i+1)*time.Hour), confirmed)
	}
	f.next("b", "cora", noon.Add(4*time.Hour), &review.Reopened{Reason: "a better lens"})
	f.next("b", "rita", noon.Add(5*time.Hour), confirmed)
	counted := func(from, until, most int) []service.FamilyCount {
		n, err := f.db.CountFamilies(f.Context(), review.Period{From: noon.Add(time.Duration(from) * time.Hour), Until: noon.Add(time.Duration(until) * time.Hour)}, most)
		require.NoError(f, err)
		return n
	}
	require.Equal(f, []service.FamilyCount{{GroupID: "adults", Family: "Buprestidae", Settled: 1}, {GroupID: "adults", Family: "Elateridae", Settled: 2}}, counted(0, 9, 10))
	require.Equal(f, []service.FamilyCount{{GroupID: "adults", Family: "Elateridae", Settled: 1}}, counted(0, 9, 1), "the latest alone")
	require.Empty(f, counted(6, 9, 10))
	for family, hours := range map[string]int{"Elateridae": 1, "Buprestidae": 3} {
		at := noon.Add(time.Duration(hours) * time.Hour)
		before, err := f.db.SettledBefore(f.Context(), "adults", family, at)
		require.NoError(f, err)
		require.False(f, before, family)
		before, err = f.db.SettledBefore(f.Context(), "adults", family, at.Add(time.Second))
		require.NoError(f, err)
		require.True(f, before, family)
	}
	before, err := f.db.SettledBefore(f.Context(), "larvae", "Elateridae", noon.Add(9*time.Hour))
	require.NoError(f, err)
	require.False(f, before)
}

func searchesSaved(f fixture) {
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{People: []review.Person{{ID: "ada", Name: "Ada"}, {ID: "ben", Name: "Ben"}}}))
	save := func(person, id, name string) (review.SavedSearch, error) {
		return f.db.SaveSearch(f.Context(), review.SavedSearch{ID: id, Person: person, Name: name, Query: "family=Elateridae", At: noon})
	}
	one, err := save("ada", "q1", "clicks")
	require.NoError(f, err)
	again, err := save("ada", "q2", "clicks")
	require.NoError(f, err)
	require.Equal(f, one, again, "it is kept once")
	_, err = save("ben", "q3", "clicks")
	require.NoError(f, err)
	requireKind(f.T, review.KindNotFound, f.db.RemoveSearch(f.Context(), "ada", "q3"))
	for i := range review.MostSavedSearches - 1 {
		_, err = save("ada", fmt.Sprint("more", i), fmt.Sprint("more ", i))
		require.NoError(f, err)
	}
	_, err = save("ada", "full", "too many")
	requireKind(f.T, review.KindConflict, err)
	require.NoError(f, f.db.RemoveSearch(f.Context(), "ada", "q1"))
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "ada", "left the club"))
	of := func(person string) int {
		found, err := f.db.SavedSearches(f.Context(), person)
		require.NoError(f, err)
		return len(found)
	}
	require.Zero(f, of("ada"), "they go with their person")
	require.Equal(f, 1, of("ben"))
}

func labelsFound(f fixture) {
	f.add(entry{id: "s", owner: "ada", family: "Elateridae", group: "adults", trip: "Éclépens light traps"})
	f.add(entry{id: "t", owner: "ada", family: "Elateridae", group: "adults"})
	require.Equal(f, []string{"s"}, f.find(service.SubmissionFilter{Text: "éclép"}, 2))
	require.Equal(f, []string{"s"}, f.find(service.SubmissionFilter{Text: "LIGHT TRAPS"}, 2))
}
