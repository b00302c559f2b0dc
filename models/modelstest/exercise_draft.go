package modelstest

import (
	"fmt"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// drafts hold what somebody writes and has not submitted to being theirs alone. They go through the real service.
var drafts = map[string]func(fixture){
	"a draft saved again unchanged stays as it is":         unchangedDraft,
	"what a revision leaves out stays":                     revisionLeavesOut,
	"a draft of another's specimen is its owner's alone":   draftOfAnothers,
	"who did not store a photo does not say what it shows": viewOfAnothers,
	"drafts of a specimen are few":                         fewDrafts,
	"saving a draft again and again leaves no heap":        noHeap,
}

// drafted is a draft of a specimen of Ada's, new or registered, and the form that it was begun with.
func (m *meeting) drafted(who, specimen, photo string) (service.Done, review.SubmissionForm) {
	m.Helper()
	m.photo(photo, who)
	form := clickBeetle("A-1", photo)
	form.Specimen, form.Label.Habitat, form.Withheld.Locality = specimen, "oak wood", "behind the mill"
	form.Remarks, form.DeterminerName, form.DeterminedOn = "worn", "Old Hand", "1907"
	done, err := m.service.Draft(m.Context(), m.actors[who], form, "")
	require.NoError(m, err)
	return done, form
}

// recorded is how many events there are of a submission with its specimen.
func (m *meeting) recorded(s service.Done) int {
	m.Helper()
	n := 0
	for _, stream := range []string{review.SpecimenStream(s.Specimen), review.SubmissionStream(s.ID)} {
		events, err := m.db.Events(m.Context(), stream)
		require.NoError(m, err)
		n += len(events)
	}
	return n
}

func unchangedDraft(f fixture) {
	m := newCrowd(f, easy())
	draft, form := m.drafted("ada", "", "p")
	before := m.view("ada", draft.ID)
	for range 3 {
		done, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, before.Version, review.WholeRevision(form))
		require.NoError(f, err)
		require.Equal(f, draft.Saves, done.Saves)
	}
	require.Equal(f, before, m.view("ada", draft.ID))
	form.Withheld.Locality = "before the mill"
	_, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, before.Version, review.WholeRevision(form))
	require.NoError(f, err)
	after := m.view("ada", draft.ID)
	require.Greater(f, after.Version, before.Version)
	require.Equal(f, "before the mill", after.Withheld.Locality)
	require.Equal(f, before.Submission.Cites, after.Submission.Cites, "what is repeated keeps its id")
	_, err = m.service.Revise(f.Context(), m.actors["ada"], draft.ID, before.Version, review.WholeRevision(form))
	requireKind(f.T, review.KindStale, err)
	require.Zero(f, m.recorded(draft))
}

func revisionLeavesOut(f fixture) {
	m := newCrowd(f, easy())
	draft, _ := m.drafted("ada", "", "p")
	before := m.view("ada", draft.ID)
	revise := func(r review.Revision) service.SubmissionView {
		_, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, r)
		require.NoError(f, err)
		return m.view("ada", draft.ID)
	}
	require.Equal(f, before, revise(review.Revision{}), "nothing given, nothing changed")
	remarks := "fresh"
	after := revise(review.Revision{Remarks: &remarks})
	require.Equal(f, "fresh", after.Submission.Remarks)
	require.Equal(f, before.Specimen, after.Specimen)
	require.Equal(f, before.Withheld, after.Withheld)
	require.Equal(f, before.Submission.Determination, after.Submission.Determination)
	require.Equal(f, before.Submission.Cites, after.Submission.Cites)
	require.Equal(f, before.Submission.Photos, after.Submission.Photos)

	after = revise(review.Revision{Label: &review.Label{}})
	require.Equal(f, review.Label{}, after.Specimen.Label, "an empty one that is given empties")
	require.Equal(f, before.Withheld, after.Withheld)
	after = revise(review.Revision{Withheld: &review.Withheld{}, Observations: []review.ObservationForm{}})
	require.Equal(f, review.Withheld{}, after.Withheld)
	require.Empty(f, after.Submission.Cites)
	require.Equal(f, before.Submission.Photos, after.Submission.Photos)

	other := "another"
	_, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, review.Revision{Specimen: &other})
	requireKind(f.T, review.KindInvalid, err)
}

func draftOfAnothers(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	before := map[string]service.SubmissionView{}
	for _, who := range []string{"ada", "rita", "cora"} {
		before[who] = m.view(who, open.ID)
	}
	draft, _ := m.drafted("ben", open.Specimen, "q")
	for who, was := range before {
		now := m.view(who, open.ID)
		require.Equal(f, was, now, "%s sees the submission as it was", who)
		spec, err := m.service.Specimen(f.Context(), m.actors[who], open.Specimen)
		require.NoError(f, err)
		require.Equal(f, was.Specimen.Photos, spec.Specimen.Photos, who)
		require.Equal(f, was.Specimen.Observations, spec.Specimen.Observations, who)
		history, err := m.service.HistoryOf(f.Context(), m.actors[who], open.ID)
		require.NoError(f, err)
		for _, e := range history.Entries {
			require.NotEqual(f, "ben", e.Actor, "%s hears of the draft: %s", who, e.Kind)
		}
		_, err = m.service.Photo(f.Context(), m.actors[who], "q", service.SizeThumb)
		requireKind(f.T, review.KindNotFound, err)
	}
	_, err = m.service.Review(f.Context(), m.actors["rita"], open.ID, before["rita"].Version, verdictOn(open.Cites[0], review.VerdictConfirm, ""))
	require.NoError(f, err, "nobody's draft makes a review stale")
	label, withheld := before["ada"].Specimen.Label, before["ada"].Withheld
	label.Habitat = "oak wood"
	_, err = m.service.CorrectLabel(f.Context(), m.actors["ada"], open.Specimen, before["ada"].Specimen.Seq, label, withheld, "seen again")
	require.NoError(f, err, "nobody's draft makes a label stale")
	label.Habitat = "beech wood"
	_, err = m.service.CorrectLabel(f.Context(), m.actors["ada"], open.Specimen, before["ada"].Specimen.Seq, label, withheld, "seen again")
	requireKind(f.T, review.KindStale, err)
	own := m.view("ben", draft.ID)
	require.Len(f, own.Specimen.Photos, 2)
	require.Len(f, own.Submission.Cites, 2)

	_, err = m.service.Submit(f.Context(), m.actors["ben"], draft.ID, service.AnyVersion)
	require.NoError(f, err)
	require.Len(f, m.view("ada", open.ID).Specimen.Photos, 2, "from now on it is before reviewers")
}

func viewOfAnothers(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	form := clickBeetle("A-1", "p")
	form.Specimen = open.Specimen
	form.Photos[0].View = "below"
	_, err = m.service.Draft(f.Context(), m.actors["ben"], form, "")
	requireKind(f.T, review.KindInvalid, err)
	require.ErrorContains(f, err, "photos[0].view")
	form.Photos[0].View = "antenna"
	_, err = m.service.Draft(f.Context(), m.actors["ben"], form, "")
	require.NoError(f, err, "as its owner says")
	form.Photos[0].View = "below"
	draft, err := m.service.Draft(f.Context(), m.actors["ada"], form, "")
	require.NoError(f, err, "its owner may say otherwise")
	require.Equal(f, "below", m.view("ada", draft.ID).Specimen.Photos[0].View)
	require.Equal(f, "antenna", m.view("ada", open.ID).Specimen.Photos[0].View, "not before it is submitted")
	_, err = m.service.Submit(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion)
	require.NoError(f, err)
	require.Equal(f, "below", m.view("ada", open.ID).Specimen.Photos[0].View)
}

func fewDrafts(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	form := review.SubmissionForm{Specimen: open.Specimen}
	begin := func(who string) (service.Done, error) { return m.service.Draft(f.Context(), m.actors[who], form, "") }
	_, errs := askedAtOnce(func(int) (service.Done, error) { return begin("ben") })
	made := 0
	for _, err := range errs {
		if err == nil {
			made++
			continue
		}
		requireKind(f.T, review.KindConflict, err)
	}
	require.LessOrEqual(f, made, 3)
	for made < 3 {
		_, err := begin("ben")
		require.NoError(f, err)
		made++
	}
	_, err = begin("ben")
	require.ErrorContains(f, err, "You have 3 drafts of this specimen already")
	_, err = begin("rolf")
	require.NoError(f, err, "each person for themselves")
	lines, _, err := m.service.Find(f.Context(), m.actors["ben"], service.SubmissionFilter{Status: review.StatusDraft}, service.Page{})
	require.NoError(f, err)
	require.Len(f, lines, 3)

	begun := 3
	for {
		_, err := m.service.Withdraw(f.Context(), m.actors["ben"], lines[0].ID, service.AnyVersion, "no more")
		require.NoError(f, err)
		next, err := begin("ben")
		if err != nil {
			require.ErrorContains(f, err, fmt.Sprintf("begun %d drafts", begun))
			break
		}
		begun++
		lines[0].ID = next.ID
	}
	require.Equal(f, 20, begun, "discarded ones count: they stay")
}

func noHeap(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	before := m.recorded(open)
	draft, form := m.drafted("ben", open.Specimen, "q")
	for i := range 20 {
		form.Observations[1].State = fmt.Sprint(5 + i%2)
		form.Observations[0].Sureness = []review.Sureness{review.Sure, review.Unsure}[i%2]
		_, err := m.service.Revise(f.Context(), m.actors["ben"], draft.ID, service.AnyVersion, review.Revision{Observations: form.Observations})
		require.NoError(f, err)
	}
	require.Len(f, m.view("ben", draft.ID).Submission.Cites, 2)
	_, err = m.service.Withdraw(f.Context(), m.actors["ben"], draft.ID, service.AnyVersion, "no more")
	require.NoError(f, err)
	require.Equal(f, before, m.recorded(open))
	spec, err := f.db.Specimen(f.Context(), open.Specimen)
	require.NoError(f, err)
	require.Len(f, spec.Observations, 2)
}
