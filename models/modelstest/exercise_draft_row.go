package modelstest

import (
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// draftRows hold drafts to being rows outside events until they are submitted.
var draftRows = map[string]func(fixture){
	"events begin at submitting":                       eventsBegin,
	"a draft and its submission are one":               draftBecomes,
	"a draft keeps its photos":                         draftKeepsPhotos,
	"a photo stands in one draft":                      photoInOneDraft,
	"a discarded draft stays its owner's":              discardedDraft,
	"of those who save and submit at once one is told": savedAtOnce,
	"a draft leaves the label of its specimen alone":   labelElsewhere,
	"a draft is listed among one's own":                draftsListed,
	"a draft goes with its person":                     draftGoes,
	"a draft of a time when they were events goes on":  recordedDraft,
}

// unregistered requires that nothing is recorded of a draft of a new specimen.
func (m *meeting) unregistered(s service.Done) {
	m.Helper()
	require.Zero(m, m.recorded(s))
	_, err := m.db.Specimen(m.Context(), s.Specimen)
	requireKind(m.T, review.KindNotFound, err)
	_, err = m.db.Submission(m.Context(), s.ID)
	requireKind(m.T, review.KindNotFound, err)
}

func eventsBegin(f fixture) {
	m := newMeeting(f, easy())
	draft, form := m.drafted("ada", "", "p")
	m.unregistered(draft)
	form.Remarks = "less worn"
	_, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, review.WholeRevision(form))
	require.NoError(f, err)
	m.unregistered(draft)
	before := m.view("ada", draft.ID)
	history, err := m.service.HistoryOf(f.Context(), m.actors["ada"], draft.ID)
	require.NoError(f, err)
	require.Empty(f, history.Entries)
	for _, who := range []string{"ben", "rita", "cora"} {
		_, err := m.service.View(f.Context(), m.actors[who], draft.ID)
		requireKind(f.T, review.KindNotFound, err)
		_, err = m.service.Specimen(f.Context(), m.actors[who], draft.Specimen)
		requireKind(f.T, review.KindNotFound, err)
		_, err = m.service.Revise(f.Context(), m.actors[who], draft.ID, service.AnyVersion, review.Revision{})
		requireKind(f.T, review.KindNotFound, err)
	}
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, before, m.view("ada", draft.ID), "no event makes it, and none takes it away")

	_, err = m.service.Submit(f.Context(), m.actors["ada"], draft.ID, before.Version)
	require.NoError(f, err)
	_, err = f.db.Draft(f.Context(), "ada", draft.ID)
	requireKind(f.T, review.KindNotFound, err)
	after := m.view("ada", draft.ID)
	require.Equal(f, review.StatusOpen, after.Submission.Status)
	require.Equal(f, before.Specimen.ID, after.Specimen.ID)
	require.Equal(f, before.Specimen.Label, after.Specimen.Label)
	require.Equal(f, before.Withheld, after.Withheld)
	require.Equal(f, before.Specimen.Photos, after.Specimen.Photos)
	require.Equal(f, before.Submission.Determination, after.Submission.Determination)
	require.Equal(f, before.Names, after.Names, "who was named by hand is a person now, and of no account")
	require.Equal(f, []string{before.Submission.Remarks}, []string{after.Submission.Remarks})
	require.Equal(f, before.Submission.Cites, after.Submission.Cites)
	require.True(f, after.Specimen.Observations[0].At.After(before.Specimen.Observations[0].At), "observations are of the time of submitting")
	kinds := []string{}
	history, err = m.service.HistoryOf(f.Context(), m.actors["ada"], draft.ID)
	require.NoError(f, err)
	for _, e := range history.Entries {
		kinds = append(kinds, e.Kind)
	}
	require.ElementsMatch(f, []string{"specimen-registered", "photos-added", "observations-recorded", "drafted", "submitted", "assessed"}, kinds)
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, after, m.view("ada", draft.ID))
}

// draftBecomes: an address and a key that were given for a draft lead to what has become of it.
func draftBecomes(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	form := clickBeetle("A-1", "p")
	answers, errs := askedAtOnce(func(int) (service.Done, error) { return m.service.Draft(f.Context(), m.actors["ada"], form, "k") })
	m.requireEqualAnswers("ada", answers, errs)
	require.Len(f, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ada"}, 5), 1)
	id := answers[0].ID
	made, err := m.service.MadeUnder(f.Context(), m.actors["ada"], "k")
	require.NoError(f, err)
	require.Equal(f, id, made.ID)
	require.True(f, made.AsBegun())
	_, err = m.service.ReviseAndSubmit(f.Context(), m.actors["ada"], id, service.AnyVersion, review.Revision{})
	require.NoError(f, err)
	again, err := m.service.Draft(f.Context(), m.actors["ada"], form, "k")
	require.NoError(f, err)
	require.Equal(f, []any{id, review.StatusOpen}, []any{again.ID, again.Status})
	made, err = m.service.MadeUnder(f.Context(), m.actors["ada"], "k")
	require.NoError(f, err)
	require.Equal(f, review.StatusOpen, made.Status)
	require.Equal(f, review.StatusOpen, m.view("rita", id).Submission.Status)
}

// draftKeepsPhotos: however long it takes.
func draftKeepsPhotos(f fixture) {
	m := newCrowd(f, easy())
	draft, form := m.drafted("ada", "", "p")
	for _, id := range []string{"q", "alone"} {
		m.photo(id, "ada")
	}
	past := service.Expiry{Uploads: noon.Add(time.Hour)}
	there := func(id string) bool {
		_, err := f.db.Upload(f.Context(), id)
		return err == nil
	}
	form.Photos = append(form.Photos, review.PhotoForm{Photo: "q", View: "below"})
	_, err := m.service.Revise(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, review.Revision{Photos: form.Photos})
	require.NoError(f, err)
	require.Equal(f, 1, f.expire(past))
	require.Equal(f, []bool{true, true, false}, []bool{there("p"), there("q"), there("alone")})

	form.Observations[0].Photo = "q"
	_, err = m.service.Revise(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, review.Revision{Photos: form.Photos[1:], Observations: form.Observations})
	require.NoError(f, err)
	require.Equal(f, 1, f.expire(past))
	require.Equal(f, []bool{false, true}, []bool{there("p"), there("q")}, "what it no longer has is let go")
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Zero(f, f.expire(past))
	_, err = m.service.Submit(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion)
	require.NoError(f, err)
	upload, err := f.db.Upload(f.Context(), "q")
	require.NoError(f, err)
	require.Equal(f, []string{draft.Specimen, ""}, []string{upload.Specimen, upload.Draft})
}

func photoInOneDraft(f fixture) {
	m := newCrowd(f, easy())
	_, form := m.drafted("ada", "", "p")
	_, err := m.service.Draft(f.Context(), m.actors["ada"], form, "")
	requireKind(f.T, review.KindInvalid, err)
	require.ErrorContains(f, err, "photos[0].photo")
	_, err = m.service.SubmitNew(f.Context(), m.actors["ada"], form, "")
	requireKind(f.T, review.KindInvalid, err)

	m.photo("q", "ada")
	_, errs := askedAtOnce(func(int) (service.Done, error) {
		return m.service.Draft(f.Context(), m.actors["ada"], clickBeetle("A-2", "q"), "")
	})
	made := 0
	for _, err := range errs {
		if err == nil {
			made++
			continue
		}
		require.Contains(f, []review.Kind{review.KindInvalid, review.KindConflict}, review.KindOf(err), "%v", err)
	}
	require.Equal(f, 1, made)
}

func discardedDraft(f fixture) {
	m := newCrowd(f, easy())
	draft, _ := m.drafted("ada", "", "p")
	_, err := m.service.Withdraw(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, "")
	requireKind(f.T, review.KindInvalid, err)
	_, err = m.service.Withdraw(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion, "no more")
	require.NoError(f, err)
	m.unregistered(draft)
	gone := m.view("ada", draft.ID)
	require.Equal(f, review.StatusWithdrawn, gone.Submission.Status)
	require.Empty(f, gone.Specimen.Photos)
	require.Empty(f, gone.Specimen.Observations)
	require.Equal(f, 1, f.expire(service.Expiry{Uploads: noon.Add(time.Hour)}), "its photo is let go")
	_, err = m.service.Submit(f.Context(), m.actors["ada"], draft.ID, service.AnyVersion)
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.Reopen(f.Context(), m.actors["cora"], draft.ID, service.AnyVersion, "why not")
	requireKind(f.T, review.KindNotFound, err)
}

// savedAtOnce: whoever loses hears of it, and nothing is there twice.
func savedAtOnce(f fixture) {
	m := newCrowd(f, easy())
	draft, form := m.drafted("ada", "", "p")
	version := m.view("ada", draft.ID).Version
	done, errs := askedAtOnce(func(i int) (service.Done, error) {
		remarks := strings.Repeat("x", i+1)
		if i%2 == 0 {
			return m.service.ReviseAndSubmit(f.Context(), m.actors["ada"], draft.ID, version, review.WholeRevision(form))
		}
		return m.service.Revise(f.Context(), m.actors["ada"], draft.ID, version, review.Revision{Remarks: &remarks})
	})
	won := 0
	for i, err := range errs {
		if err == nil {
			won++
			require.Equal(f, draft.ID, done[i].ID)
			continue
		}
		require.Contains(f, []review.Kind{review.KindStale, review.KindConflict}, review.KindOf(err), "%v", err)
	}
	require.Equal(f, 1, won)
	require.Len(f, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ada"}, 5), 1)
}

// labelElsewhere: what everybody sees of a specimen is not changed by what one person writes for themselves.
func labelElsewhere(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	form := clickBeetle("A-1", "p")
	form.Withheld.Locality = "behind the mill"
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], form, "")
	require.NoError(f, err)
	for _, who := range []string{"ada", "ben"} {
		draft, err := m.service.Draft(f.Context(), m.actors[who], review.SubmissionForm{Specimen: open.Specimen}, "")
		require.NoError(f, err)
		shown := m.view(who, draft.ID)
		require.True(f, shown.LabelElsewhere())
		same := review.Revision{Label: &shown.Specimen.Label, Withheld: &shown.Withheld}
		_, err = m.service.Revise(f.Context(), m.actors[who], draft.ID, service.AnyVersion, same)
		require.NoError(f, err)
		for field, other := range map[string]review.Revision{"label": {Label: &review.Label{CatalogueNumber: "B-2"}}, "withheld": {Withheld: &review.Withheld{Locality: "x"}}} {
			_, err = m.service.Revise(f.Context(), m.actors[who], draft.ID, service.AnyVersion, other)
			requireKind(f.T, review.KindInvalid, err)
			require.ErrorContains(f, err, field)
		}
	}
	require.Equal(f, "A-1", m.view("ada", open.ID).Specimen.Label.CatalogueNumber)
}

func draftsListed(f fixture) {
	m := newMeeting(f, easy())
	m.photo("a", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("O-1", "a"), "")
	require.NoError(f, err)
	draft, _ := m.drafted("ada", "", "p")
	second, err := m.service.Draft(f.Context(), m.actors["ada"], review.SubmissionForm{Specimen: open.Specimen, Family: "Buprestidae"}, "")
	require.NoError(f, err)
	gone, err := m.service.Draft(f.Context(), m.actors["ada"], review.SubmissionForm{Label: review.Label{CatalogueNumber: "G-1"}}, "")
	require.NoError(f, err)
	_, err = m.service.Withdraw(f.Context(), m.actors["ada"], gone.ID, service.AnyVersion, "no more")
	require.NoError(f, err)
	own := func(filter service.SubmissionFilter) []string {
		filter.Owner, filter.Viewer = "ada", "ada"
		return f.find(filter, 2)
	}
	for words, c := range map[string]struct {
		filter service.SubmissionFilter
		want   []string
	}{
		"all, the latest changed first": {service.SubmissionFilter{}, []string{gone.ID, second.ID, draft.ID, open.ID}},
		"drafts":                        {service.SubmissionFilter{Status: review.StatusDraft}, []string{second.ID, draft.ID}},
		"withdrawn":                     {service.SubmissionFilter{Status: review.StatusWithdrawn}, []string{gone.ID}},
		"open":                          {service.SubmissionFilter{Status: review.StatusOpen}, []string{open.ID}},
		"a family":                      {service.SubmissionFilter{Family: "Buprestidae"}, []string{second.ID}},
		"a specimen":                    {service.SubmissionFilter{Specimen: open.Specimen}, []string{second.ID, open.ID}},
		"a text of a label":             {service.SubmissionFilter{Text: "a-1"}, []string{draft.ID}},
		"a text of a specimen":          {service.SubmissionFilter{Text: "o-1"}, []string{second.ID, open.ID}},
		"a text of a name":              {service.SubmissionFilter{Text: "prest"}, []string{second.ID}},
		"doubtful":                      {service.SubmissionFilter{Doubtful: true}, []string{open.ID}},
	} {
		require.Equal(f, c.want, own(c.filter), words)
	}
	require.Equal(f, []string{open.ID}, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ben"}, 5))
	require.Equal(f, []string{open.ID}, f.find(service.SubmissionFilter{}, 5))
	lines, _, err := m.service.Find(f.Context(), m.actors["ada"], service.SubmissionFilter{Status: review.StatusDraft}, service.Page{})
	require.NoError(f, err)
	require.Equal(f, []string{"O-1", "A-1"}, []string{lines[0].CatalogueNumber, lines[1].CatalogueNumber})
	require.Equal(f, []string{"", "p"}, []string{lines[0].Photo, lines[1].Photo})
	counts, err := m.service.Counts(f.Context(), m.actors["ada"])
	require.NoError(f, err)
	require.Equal(f, map[review.Status]int{review.StatusDraft: 2, review.StatusWithdrawn: 1, review.StatusOpen: 1}, counts)
	counts, err = m.service.Counts(f.Context(), m.actors["cora"])
	require.NoError(f, err)
	require.Equal(f, map[review.Status]int{review.StatusOpen: 1}, counts)
}

func draftGoes(f fixture) {
	m := newCrowd(f, easy())
	draft, _ := m.drafted("ada", "", "p")
	other, _ := m.drafted("ben", "", "q")
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, "ada", "left the club"))
	_, err := m.service.View(f.Context(), m.actors["ada"], draft.ID)
	requireKind(f.T, review.KindNotFound, err)
	m.view("ben", other.ID)
	require.Equal(f, 1, f.expire(service.Expiry{Uploads: noon.Add(time.Hour)}), "its photo is let go")
}

// recordedDraft: what former versions stored as events stays what it is; its owner reads, changes, submits and discards it.
func recordedDraft(f fixture) {
	m := newMeeting(f, easy())
	for _, id := range []string{"one", "two"} {
		m.photo("of "+id, "ada")
		m.recordDraft(id)
	}
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, []string{"two", "one"}, f.find(service.SubmissionFilter{Owner: "ada", Viewer: "ada", Status: review.StatusDraft}, 5))
	_, err := m.service.View(f.Context(), m.actors["cora"], "one")
	requireKind(f.T, review.KindNotFound, err)
	before := m.view("ada", "one")
	require.Len(f, before.Specimen.Photos, 1)

	label, remarks := before.Specimen.Label, "changed since"
	label.Habitat = "oak wood"
	_, err = m.service.Revise(f.Context(), m.actors["ada"], "one", before.Version, review.Revision{Label: &label, Remarks: &remarks,
		Observations: []review.ObservationForm{{Character: "antenna-form", State: "filiform", Photo: "of one"}}})
	require.NoError(f, err)
	after := m.view("ada", "one")
	require.Equal(f, []string{"oak wood", "changed since"}, []string{after.Specimen.Label.Habitat, after.Submission.Remarks})
	require.Len(f, after.Submission.Cites, 1)
	require.Equal(f, before.Submission.Cites[0], after.Submission.Cites[0], "what is repeated keeps its id")
	_, err = f.db.Draft(f.Context(), "ada", "one")
	requireKind(f.T, review.KindNotFound, err)
	_, err = m.service.Submit(f.Context(), m.actors["ada"], "one", after.Version)
	require.NoError(f, err)
	require.Equal(f, review.StatusOpen, m.view("rita", "one").Submission.Status)
	_, err = m.service.Withdraw(f.Context(), m.actors["ada"], "two", service.AnyVersion, "no more")
	require.NoError(f, err)
	require.Empty(f, m.view("ada", "two").Specimen.Observations)
	open, gone := m.view("ada", "one"), m.view("ada", "two")
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, []service.SubmissionView{open, gone}, []service.SubmissionView{m.view("ada", "one"), m.view("ada", "two")})
}

// recordDraft stores a draft of a specimen with the same id as events, as was done before there were rows for drafts.
func (m *meeting) recordDraft(id string) {
	m.Helper()
	at := m.clock.Add(time.Second)
	m.clock = at
	specimen := review.SpecimenStream(id)
	photo := review.Photo{ID: "of " + id, View: "antenna", SHA256: strings.Repeat("5e", 32), Type: "image/jpeg", Width: 1, Height: 1, By: "ada", At: noon}
	seen := []review.Observation{{ID: id + "-1", Character: "antenna-form", State: "filiform", Sureness: review.Sure, Photo: photo.ID, By: "ada", Role: review.RoleMember, At: at},
		{ID: id + "-2", Character: "ventrites", State: "5", Sureness: review.Sure, By: "ada", Role: review.RoleMember, At: at}}
	batch := m.batch(event(specimen, 1, "ada", at, &review.SpecimenRegistered{ID: id, Label: review.Label{CatalogueNumber: "A-" + id}}),
		event(specimen, 2, "ada", at, &review.PhotosAdded{Photos: []review.Photo{photo}}),
		event(specimen, 3, "ada", at, &review.ObservationsRecorded{Observations: seen}),
		event(review.SubmissionStream(id), 1, "ada", at, &review.Drafted{ID: id, Proposal: review.Proposal{Group: firstGroup, Specimen: id, Photos: []string{photo.ID},
			Cites: review.ObservationIDs(seen), Determination: review.Determination{Family: "Elateridae", Determiner: "ada", DeterminedOn: "2026-05-14"}}}))
	batch.Attach = map[string]string{photo.ID: id}
	require.NoError(m, m.db.Commit(m.Context(), batch))
}
