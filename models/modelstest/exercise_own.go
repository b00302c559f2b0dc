package modelstest

import (
	"io/fs"
	"sync"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models/blob"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/review/service"
)

// owns hold the service to it that nobody counts twice, and atOneVersion that what others say makes nothing stale. Invented
// people as in settlements.
var (
	owns = map[string]func(fixture){
		"nobody judges what is their own":            nothingOwn,
		"older judgements of one's own do not count": olderOwn,
		"the queue leaves out what is one's own":     ownQueue,
		"a name without an account is marked":        noAccount,
		"what changes the evidence makes stale":      staleEvidence,
		"a clock that is set back hides no change":   staleByPosition,
	}
	atOneVersion = map[string]func(fixture){
		"many who judge one version at once get through":  manyAtOnce,
		"tables published at once do not undo each other": publishedAtOnce,
	}
)

// went further: Rita submits a click beetle, Cora names its genus, and Rita's name is the same family.
func (m *meeting) wentFurther() (first, second service.Done) {
	m.Helper()
	first = m.submit("rita", "Elateridae", "5")
	second, err := m.service.Redetermine(m.Context(), m.actors["cora"], first.ID, service.AnyVersion,
		review.RedetermineForm{Family: "Elateridae", ScientificName: "Agriotes", Reason: "went further"})
	require.NoError(m, err)
	return first, second
}

func (m *meeting) requireFields(err error, fields ...string) {
	m.Helper()
	var known *review.Error
	require.ErrorAs(m, err, &known)
	var named []string
	for _, f := range known.Fields {
		named = append(named, f.Field)
	}
	require.Equal(m, fields, named, "%v", err)
}

func nothingOwn(f fixture) {
	m := newMeeting(f, easy())
	first, second := m.wentFurther()
	before := f.submission(second.ID)
	_, err := m.review("rita", second.ID, verdictOn(first.Cites[0], review.VerdictConfirm, ""))
	m.requireFields(err, "verdicts[0].observation")
	_, err = m.review("rita", second.ID, agreed())
	m.requireFields(err, "opinion.kind")
	require.Equal(f, before, f.submission(second.ID), "nothing is stored")
	view := m.view("rita", second.ID)
	require.True(f, view.Own.Everything)
	for _, act := range []review.Action{review.ActReview, review.ActHold, review.ActReply, review.ActSettle} {
		require.NotContains(f, view.Allowed, act)
	}
	_, err = m.service.Hold(f.Context(), m.actors["rita"], second.ID, service.AnyVersion)
	requireKind(f.T, review.KindForbidden, err)
	_, err = m.service.Reply(f.Context(), m.actors["rita"], second.ID, service.AnyVersion, review.ReplyForm{Kind: judgement.Excluded, Character: "ventrites", State: "6", Reason: "deformed"})
	requireKind(f.T, review.KindForbidden, err)
	require.Equal(f, before, f.submission(second.ID), "nothing is stored")

	other, err := m.service.Redetermine(f.Context(), m.actors["cora"], second.ID, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	require.NoError(f, err)
	_, err = m.review("rita", other.ID, verdictOn(first.Cites[0], review.VerdictConfirm, ""))
	m.requireFields(err, "verdicts[0].observation")
	m.reviewed("rita", other.ID, agreed()) // another name than the one that she gave
	require.Equal(f, []string{"rita"}, m.view("rita", other.ID).Agreeing)
}

func olderOwn(f fixture) {
	m := newMeeting(f, easy())
	first, second := m.wentFurther()
	confidence := m.view("cora", second.ID).Assessment.Confidence
	s := f.submission(second.ID)
	stream := review.SubmissionStream(second.ID)
	opinion := review.Opinion{Kind: review.OpinionAgrees, Basis: review.BasisPhotos, By: "rita", At: m.clock}
	verdict := review.Verdict{Observation: first.Cites[0], Kind: review.VerdictConfirm, By: "rita", Role: review.RoleReviewer, At: m.clock}
	m.commit(event(stream, s.Seq+1, "rita", m.clock, &review.VerdictsGiven{Verdicts: []review.Verdict{verdict}}),
		event(stream, s.Seq+2, "rita", m.clock, &review.OpinionGiven{Opinion: opinion}))
	got := m.reviewed("rolf", second.ID, agreed())
	require.Equal(f, review.StatusOpen, got.Status, "two must agree besides who gave the name")
	require.Equal(f, confidence, got.Assessment.Confidence, "her own verdict adds nothing")
	require.Equal(f, []string{"rolf"}, m.view("rolf", second.ID).Agreeing)
	got = m.reviewed("rosa", second.ID, agreed())
	require.Equal(f, review.StatusConfirmed, got.Status)
	require.Equal(f, []string{"rolf", "rosa"}, got.Settlement.Agreeing)
}

func (m *meeting) queueOf(who string) []service.QueueLine {
	m.Helper()
	lines, _, err := m.service.Queue(m.Context(), m.actors[who], service.QueueFilter{}, service.Page{})
	require.NoError(m, err)
	return lines
}

func ownQueue(f fixture) {
	m := newMeeting(f, easy())
	_, second := m.wentFurther()
	require.Empty(f, m.queueOf("rita"))
	lines := m.queueOf("rolf")
	require.Len(f, lines, 1)
	require.False(f, lines[0].OwnName)

	_, err := m.service.Answer(f.Context(), m.actors["cora"], second.ID, service.AnyVersion,
		review.AnswerForm{Observations: []review.ObservationForm{{Character: "antenna-form", State: "serrate"}}})
	require.NoError(f, err)
	lines = m.queueOf("rita")
	require.Len(f, lines, 1, "what Cora observed is hers to judge")
	require.True(f, lines[0].OwnName)
}

func noAccount(f fixture) {
	m := newMeeting(f, easy())
	slip := m.form("ada", "Elateridae", "5")
	slip.DeterminerName = "Name of rolf" // as he is called who has an account
	done, err := m.service.SubmitNew(f.Context(), m.actors["ada"], slip, "")
	require.NoError(f, err)
	view := m.view("rolf", done.ID)
	require.Equal(f, "Name of rolf"+service.NoAccount, view.Names[done.Determination.Determiner])
	require.Equal(f, "Name of ada", view.Names["ada"])
	require.Equal(f, "Name of rolf", service.WrittenName(view.Names[done.Determination.Determiner]))
	history, err := m.service.HistoryOf(f.Context(), m.actors["cora"], done.ID)
	require.NoError(f, err)
	require.Equal(f, "Name of rolf"+service.NoAccount, history.Names[done.Determination.Determiner])
	require.NoError(f, f.db.ErasePerson(f.Context(), review.Actor{}, done.Determination.Determiner, "left the club"))
	require.Equal(f, "(name erased)", m.view("rolf", done.ID).Names[done.Determination.Determiner])
	m.reviewed("rolf", done.ID, agreed()) // it is not his name
}

func staleEvidence(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	seen := m.view("rita", s.ID).Version
	m.reviewed("rolf", s.ID, verdictOn(s.Cites[1], review.VerdictConfirm, ""))
	require.Equal(f, seen, m.view("rita", s.ID).Version)
	form := verdictOn(s.Cites[0], review.VerdictConfirm, "")
	_, err := m.service.Review(f.Context(), m.actors["rita"], s.ID, seen, form)
	require.NoError(f, err, "what Rolf said makes nothing stale")

	_, err = m.service.Answer(f.Context(), m.actors["ada"], s.ID, service.AnyVersion, review.AnswerForm{Withdraw: []string{s.Cites[1]}})
	require.NoError(f, err)
	_, err = m.service.Review(f.Context(), m.actors["rita"], s.ID, seen, form)
	requireKind(f.T, review.KindStale, err)
	seen = m.view("rita", s.ID).Version
	_, err = m.service.Answer(f.Context(), m.actors["ada"], s.ID, service.AnyVersion,
		review.AnswerForm{Observations: []review.ObservationForm{{Character: "ventrites", State: "6"}}})
	require.NoError(f, err)
	_, err = m.service.Review(f.Context(), m.actors["rita"], s.ID, seen, form)
	requireKind(f.T, review.KindStale, err)
	seen = m.view("rita", s.ID).Version
	_, err = m.service.CorrectLabel(f.Context(), m.actors["ada"], s.Specimen, service.AnyVersion, review.Label{CatalogueNumber: "A-2", Sex: "female"}, review.Withheld{}, "misread")
	require.NoError(f, err)
	_, err = m.service.Review(f.Context(), m.actors["rita"], s.ID, seen, form)
	requireKind(f.T, review.KindStale, err)
}

// staleByPosition: a label that is corrected while the clock is behind is of the time of what was seen last, and comes after it.
func staleByPosition(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	same := func() bool {
		f.requirePositions()
		same, err := m.service.SameEvidence(f.Context(), m.actors["rita"], s.ID, s.Seq)
		require.NoError(f, err)
		return same
	}
	require.True(f, same())
	m.reviewed("rolf", s.ID, verdictOn(s.Cites[1], review.VerdictConfirm, ""))
	require.True(f, same(), "what Rolf said makes nothing stale")
	s = m.submit("ben", "Elateridae", "5")
	require.True(f, same())
	m.clock = m.clock.AddDate(0, 0, -1)
	_, err := m.service.CorrectLabel(f.Context(), m.actors["ben"], s.Specimen, service.AnyVersion, review.Label{CatalogueNumber: "A-2"}, review.Withheld{}, "misread")
	require.NoError(f, err)
	require.False(f, same())
}

// manyAtOnce: as many as there are act at the same moment, with the version that all have seen and without any.
func manyAtOnce(f fixture) {
	m := newMeeting(f, byNumber())
	s := m.submit("ada", "Elateridae", "5")
	seen := m.view("rita", s.ID).Version
	var judges []review.Actor
	for _, who := range []string{"ines", "ivan", "ilse", "igor", "ida", "imre"} {
		a := account(who, who, "Name of "+who)
		a.Role = review.RoleReviewer
		require.NoError(f, f.db.CreateAccount(f.Context(), a))
		judges = append(judges, review.Actor{Person: who, Name: a.Name, Role: a.Role})
	}
	reviewing := m.beside()
	errs := make([]error, len(judges))
	var group sync.WaitGroup
	for i, judge := range judges {
		group.Go(func() {
			version := []int{seen, service.AnyVersion}[i%2]
			_, errs[i] = reviewing.Review(f.Context(), judge, s.ID, version, verdictOn(s.Cites[i%2], review.VerdictConfirm, ""))
		})
	}
	group.Wait()
	for i, err := range errs {
		require.NoError(f, err, judges[i].Person)
	}
	require.Len(f, f.submission(s.ID).Verdicts, len(judges))
	require.Equal(f, seen, m.view("rita", s.ID).Version)
}

// beside is a service of the same database whose clock and ids several can use at once.
func (m *meeting) beside() *service.Service {
	return service.NewService(m.db, &blob.Mem{}, service.NewLibrary(Tables(m.T)), service.Options{Seed: func() string { return "" },
		Now: func() time.Time { return noon.AddDate(0, 0, 1) }})
}

// publishedAtOnce: of two who publish tables on the same base one gets through, and the other's are not put in its place.
func publishedAtOnce(f fixture) {
	m := newMeeting(f, easy())
	reviewing := m.beside()
	folders := []fs.FS{m.released("2-mine"), m.released("2-yours")}
	errs := make([]error, len(folders))
	var group sync.WaitGroup
	for i := range folders {
		group.Go(func() { _, errs[i] = reviewing.Import(f.Context(), m.actors["cora"], folders[i]) })
	}
	group.Wait()
	published, err := f.db.Releases(f.Context(), "made-up")
	require.NoError(f, err)
	through := 0
	for _, err := range errs {
		if err == nil {
			through++
			continue
		}
		requireKind(f.T, review.KindConflict, err)
	}
	require.Len(f, published, through)
	require.Positive(f, through)

	base := published[0].Hash
	_, err = reviewing.Import(f.Context(), m.actors["cora"], m.released("3"))
	require.NoError(f, err)
	batch := f.published(review.Release{Group: "made-up", Version: "4", Hash: "four", Seq: len(published) + 2, By: "cora", At: noon, Files: map[string]string{"a": "b"}})
	batch.Rests = &review.Rests{Policy: 1, Group: "made-up", Release: base}
	require.ErrorIs(f, f.db.Commit(f.Context(), batch), service.ErrRace, "it rests on tables that are no longer in force")
}

// released are the tables of the meeting as another release.
func (m *meeting) released(version string) fs.FS {
	m.Helper()
	folder, err := diagnosis.Released(Tables(m.T).Folder(), version, "made up")
	require.NoError(m, err)
	return folder
}
