package modelstest

import (
	"fmt"
	"slices"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

var testimonies = map[string]func(fixture){
	"what was said stands there from the last closing to the next opening": testimonyWhileClosed,
	"testimonies are read in order of closing, page by page":               testimoniesInOrder,

	"what was told freely stays with it": testimonyOfFreeLists,

	"nothing is learnt twice":                                   learntOnce,
	"a specimen belongs to each group that reviewers saw it in": testimonyOfGroups,
	"rechecks are read with what has become of them":            rechecksRead,
}

// testimonies are all that a filter finds, in pages of two.
func (f fixture) testimonies(filter service.TestimonyFilter) []review.Closed {
	f.Helper()
	found := []review.Closed{}
	for page := (service.Page{Size: 2}); ; {
		some, next, err := f.db.FindTestimonies(f.Context(), filter, page)
		require.NoError(f, err)
		found = append(found, some...)
		if page.Cursor = next; next == "" {
			return found
		}
	}
}

func idsOf(closed []review.Closed) []string {
	ids := []string{}
	for _, c := range closed {
		ids = append(ids, c.Specimen.ID)
	}
	return ids
}

func (f fixture) closedIn(group string) []string {
	f.Helper()
	return idsOf(f.testimonies(service.TestimonyFilter{Group: group}))
}

func (f fixture) waitingIn(group string) []string {
	f.Helper()
	return idsOf(f.testimonies(service.TestimonyFilter{Group: group, Waiting: true}))
}

// observed is an entry with one observation and what two people said of it.
func (f fixture) observed(id string) {
	f.Helper()
	specimen, submission := review.SpecimenStream(id), review.SubmissionStream(id)
	seen := review.Observation{ID: id + "-o", Character: "ventrites", State: "5", Sureness: review.FairlySure, By: "ada", Role: review.RoleMember, At: noon}
	f.commit(event(specimen, 1, "ada", noon, &review.SpecimenRegistered{ID: id, Label: review.Label{Sex: "female"}}),
		event(specimen, 2, "ada", noon, &review.ObservationsRecorded{Observations: []review.Observation{seen}}),
		event(submission, 1, "ada", noon, &review.Drafted{ID: id, Proposal: review.Proposal{Group: "adults", Specimen: id, Cites: []string{seen.ID}}}))
	f.next(id, "ada", noon, &review.Submitted{},
		&review.BlindChecked{Check: review.BlindCheck{Observation: seen.ID, State: "6", By: "bob", Role: review.RoleReviewer, Rate: 0.5, At: noon}},
		&review.VerdictsGiven{Verdicts: []review.Verdict{
			{Observation: seen.ID, Kind: review.VerdictDispute, Better: "4", Note: "?", By: "cyd", Role: review.RoleReviewer, At: noon.Add(time.Microsecond)},
			{Observation: seen.ID, Kind: review.VerdictNotVisible, By: "dan", Role: review.RoleReviewer, At: noon}}})
}

func testimonyWhileClosed(f fixture) {
	f.observed("a")
	require.Empty(f, f.closedIn("adults"))
	f.next("a", "rex", noon, &review.Undetermined{Reason: "worn"})
	require.Equal(f, []review.Closed{{
		Specimen: review.Specimen{ID: "a", Label: review.Label{Sex: "female"}, Observations: []review.Observation{
			{ID: "0", Character: "ventrites", State: "5", Sureness: review.FairlySure, By: "ada", Role: review.RoleMember, At: noon}}},
		Submissions: []review.Submission{{Specimen: "a", Cites: []string{"0"},
			Blind: []review.BlindCheck{{Observation: "0", State: "6", By: "bob", Role: review.RoleReviewer, At: noon}},
			Verdicts: []review.Verdict{{Observation: "0", Kind: review.VerdictDispute, Better: "4", By: "cyd", Role: review.RoleReviewer,
				At: noon.Add(time.Microsecond)}}}},
	}}, f.testimonies(service.TestimonyFilter{Group: "adults"}), "and nothing of who could not see it")

	f.commit(event(review.SpecimenStream("a"), 3, "rex", noon, &review.LabelCorrected{Label: review.Label{Sex: "male"}}))
	require.Equal(f, "male", f.testimonies(service.TestimonyFilter{Group: "adults"})[0].Specimen.Label.Sex)
	f.commit(event(review.SpecimenStream("a"), 4, "rex", noon, &review.ObservationWithdrawn{Observation: "a-o", Reason: "a scratch"}))
	require.Empty(f, f.testimonies(service.TestimonyFilter{Group: "adults"})[0].Specimen.Observations)

	f.next("a", "rex", noon, &review.Reopened{Reason: "again"})
	require.Empty(f, f.closedIn("adults"))
	f.next("a", "rex", noon, &review.Withdrawn{})
	require.Equal(f, []string{"a"}, f.closedIn("adults"))

	// A draft is nobody's business; one that comes before reviewers is, until it is closed, too.
	f.commit(event(review.SubmissionStream("b"), 1, "ada", noon, &review.Drafted{ID: "b", Proposal: review.Proposal{Group: "adults", Specimen: "a"}}))
	require.Equal(f, []string{"a"}, f.closedIn("adults"))
	f.next("b", "ada", noon, &review.Submitted{})
	require.Empty(f, f.closedIn("adults"))
	f.next("b", "ada", noon, &review.Withdrawn{})
	require.Equal(f, []string{"a"}, f.closedIn("adults"))

	f.add(entry{id: "discarded", owner: "o", group: "adults", draft: true})
	f.next("discarded", "o", noon, &review.Withdrawn{})
	require.Equal(f, []string{"a"}, f.closedIn("adults"), "nobody but its owner ever saw it")
}

// testimonyOfFreeLists: what a list mentioned stays, what was taken back of it too, and who had the specimen in hand.
func testimonyOfFreeLists(f fixture) {
	specimen, submission := review.SpecimenStream("a"), review.SubmissionStream("a")
	told := func(id, character, state string) review.Observation {
		return review.Observation{ID: id, Character: character, State: state, Sureness: review.Sure, List: review.ListFree, By: "ada", Role: review.RoleMember, At: noon}
	}
	plates, snout := told("o1", "ventrites", "5"), told("o2", "rostrum", "long")
	f.commit(event(specimen, 1, "ada", noon, &review.SpecimenRegistered{ID: "a"}),
		event(specimen, 2, "ada", noon, &review.ObservationsRecorded{Observations: []review.Observation{plates, snout}}),
		event(submission, 1, "ada", noon, &review.Drafted{ID: "a", Proposal: review.Proposal{Group: "adults", Specimen: "a", Cites: []string{"o1", "o2"}}}))
	f.next("a", "ada", noon, &review.Submitted{},
		&review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAgrees, Basis: review.BasisDissected, By: "rex", At: noon}})
	f.commit(event(specimen, 3, "ada", noon, &review.ObservationWithdrawn{Observation: "o2", Reason: "a shadow"}))
	f.next("a", "rex", noon, &review.Undetermined{Reason: "worn"})
	plates.ID, snout.ID, snout.Withdrawn = "0", "1", review.TakenBack
	want := []review.Closed{{Specimen: review.Specimen{ID: "a", Observations: []review.Observation{plates, snout}},
		Submissions: []review.Submission{{Specimen: "a", Cites: []string{"0"}, Verdicts: []review.Verdict{},
			Opinions: []review.Opinion{{By: "rex", Basis: review.BasisSpecimen}}}}}}
	require.Equal(f, want, f.testimonies(service.TestimonyFilter{Group: "adults"}))
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, want, f.testimonies(service.TestimonyFilter{Group: "adults"}))
}

func testimoniesInOrder(f fixture) {
	var want []string
	for i := range 7 {
		id := fmt.Sprintf("s%d", (i*3)%7)
		f.add(entry{id: id, owner: "o", group: "adults"})
		f.next(id, "o", noon.Add(time.Duration(i)*time.Minute), &review.Withdrawn{})
		want = append(want, id)
	}
	require.Equal(f, want, f.closedIn("adults"))
	through := noon.Add(3 * time.Minute)
	require.Equal(f, want[:4], idsOf(f.testimonies(service.TestimonyFilter{Group: "adults", Through: through})))
	slices.Reverse(want)
	require.Equal(f, want, idsOf(f.testimonies(service.TestimonyFilter{Group: "adults", Latest: true})))
	for _, unknown := range []string{"", "none", "%", "Adults", "a\x00b", "\xff"} {
		require.Empty(f, f.closedIn(unknown))
	}
	f.add(entry{id: "open", owner: "o", group: "adults"})
	count, err := f.db.CountTestimonies(f.Context(), "adults")
	require.NoError(f, err)
	require.Equal(f, service.TestimonyCount{Latest: noon.Add(6 * time.Minute), Closed: 7, Waiting: 7, Open: 1}, count)
	for _, cursor := range []string{"x", "2026 s1", " "} {
		_, _, err := f.db.FindTestimonies(f.Context(), service.TestimonyFilter{Group: "adults"}, service.Page{Size: 2, Cursor: cursor})
		requireKind(f.T, review.KindInvalid, err)
	}
}

func learntOnce(f fixture) {
	stream := review.ReliabilityStream("adults")
	for i, id := range []string{"a", "b", "c", "d"} {
		f.add(entry{id: id, owner: "o", group: "adults"})
		f.next(id, "o", noon.Add(time.Duration(i)*time.Hour), &review.Withdrawn{})
	}
	require.Equal(f, []string{"a", "b", "c", "d"}, f.waitingIn("adults"))
	f.commit(event(stream, 1, "rex", noon, learned("b", map[string]review.PersonKnown{"ada": known(1)})))
	require.Equal(f, []string{"a", "c", "d"}, f.waitingIn("adults"))

	// What is opened and closed again has been learnt from.
	f.next("b", "rex", noon, &review.Reopened{Reason: "again"})
	f.next("b", "o", noon.Add(30*time.Minute), &review.Withdrawn{})
	require.Equal(f, []string{"a", "c", "d"}, f.waitingIn("adults"))

	// The refit, of an hour after noon, took in what was closed by then.
	f.commit(event(stream, 2, "rex", noon.Add(2*time.Hour), refitted("adults", map[string]review.PersonKnown{"ada": known(2)})))
	require.Equal(f, []string{"d"}, slices.DeleteFunc(f.waitingIn("adults"), func(id string) bool { return id == "c" }))
	f.commit(event(stream, 3, "rex", noon.Add(3*time.Hour), learned("d", map[string]review.PersonKnown{"ada": known(3)})))
	require.Equal(f, []string{"c"}, f.waitingIn("adults"))
	f.commit(event(stream, 4, "rex", noon.Add(4*time.Hour), refitted("adults", map[string]review.PersonKnown{"ada": known(4)})))
	require.Equal(f, []string{"c", "d"}, f.waitingIn("adults"), "a refit that did not see them replaced what was learnt from them")

	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, []string{"c", "d"}, f.waitingIn("adults"))
	require.Equal(f, []string{"a", "b", "c", "d"}, f.closedIn("adults"))
}

func testimonyOfGroups(f fixture) {
	f.add(entry{id: "a", owner: "o", group: "adults"})
	f.commit(event(review.SubmissionStream("larva"), 1, "o", noon, &review.Drafted{ID: "larva", Proposal: review.Proposal{Group: "larvae", Specimen: "a"}}))
	f.next("larva", "o", noon, &review.Submitted{})
	f.next("larva", "o", noon, &review.Withdrawn{})
	require.Empty(f, f.closedIn("larvae"))
	f.next("a", "o", noon, &review.Withdrawn{})
	require.Equal(f, []string{"a"}, f.closedIn("adults"))
	require.Equal(f, []string{"a"}, f.closedIn("larvae"))
}

func rechecksRead(f fixture) {
	for _, id := range []string{"a", "b", "c"} {
		f.add(entry{id: id, owner: "o", group: "adults", confidence: 0.75, family: "Elateridae"})
		f.next(id, "rex", noon, &review.Undetermined{Reason: "worn"})
	}
	f.next("a", "rex", noon, &review.RecheckDrawn{Rate: 0.5, Panel: 3})
	f.next("c", "rex", noon, &review.RecheckDrawn{Rate: 0.25, Panel: 1},
		&review.PanelOpinionGiven{Opinion: review.PanelOpinion{Family: "Elateridae", By: "pat", At: noon}})
	drawn, closed, err := f.db.Rechecks(f.Context(), "adults", 10, nil)
	require.NoError(f, err)
	require.Equal(f, 3, closed)
	require.Equal(f, []string{"c", "a"}, []string{drawn[0].ID, drawn[1].ID})
	for _, s := range drawn {
		whole, err := f.db.Submission(f.Context(), s.ID)
		require.NoError(f, err)
		require.Equal(f, review.Submission{ID: s.ID, Group: "adults", Status: review.StatusUndetermined, Recheck: whole.Recheck}, s)
	}
	f.next("a", "rex", noon, &review.Reopened{Reason: "again"})
	drawn, closed, err = f.db.Rechecks(f.Context(), "adults", 10, nil)
	require.NoError(f, err)
	require.Equal(f, []int{1, 2}, []int{len(drawn), closed})
	drawn, _, err = f.db.Rechecks(f.Context(), "none", 10, nil)
	require.NoError(f, err)
	require.Empty(f, drawn)
}
