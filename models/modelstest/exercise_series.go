package modelstest

import (
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
	"revidit/review/service"
)

var seriesChecks = map[string]func(fixture){
	"a beginner's series goes to one mentor":           seriesGoesToMentor,
	"a mentor's other name answers, too":               seriesAnotherName,
	"what is no beginner's own name is no part of it":  seriesTakesOwn,
	"a series is handed over, given back and left":     seriesChangesHands,
	"a series ends in one message":                     seriesEnds,
	"a member has one series in life":                  seriesOnce,
	"what waits long for a mentor is told to curators": seriesLate,
}

// taught is a club in which Rita mentors Ada, under a policy that asks for much.
func taught(f fixture) (*meeting, review.Series) {
	f.Helper()
	policy := byNumber()
	policy.Confidence, policy.BlindRate, policy.RecheckRate = 0.999, 0.5, 0
	m := newMeeting(f, policy)
	s, err := m.service.BeginSeries(f.Context(), m.actors["ada"])
	require.NoError(f, err)
	_, err = m.service.MentorSeries(f.Context(), m.actors["ada"], s.ID, "")
	requireKind(f.T, review.KindForbidden, err)
	s, err = m.service.MentorSeries(f.Context(), m.actors["rita"], s.ID, "")
	require.NoError(f, err)
	require.Equal(f, []any{review.SeriesRunning, "rita"}, []any{s.Status, s.Mentor})
	return m, s
}

// another puts another beetle of somebody's before reviewers.
func (m *meeting) another(who, photo string) service.Done {
	m.Helper()
	m.photo(photo, who)
	done, err := m.service.SubmitNew(m.Context(), m.actors[who], clickBeetle("A-"+photo, photo), "")
	require.NoError(m, err)
	return done
}

func seriesGoesToMentor(f fixture) {
	m, s := taught(f)
	other := m.another("ben", "q")
	require.Empty(f, other.Series)
	first := m.another("ada", "p")
	require.Equal(f, s.ID, first.Series)
	require.Nil(f, first.Draw, "nobody looks blind in a series")
	for _, who := range []string{"rita", "rolf", "cora"} {
		lines := m.queueOf(who)
		require.Len(f, lines, 1, "it stands in no queue")
		require.Equal(f, other.ID, lines[0].ID)
	}
	_, err := m.review("rolf", first.ID, agreed())
	requireKind(f.T, review.KindForbidden, err)
	_, err = m.service.Hold(f.Context(), m.actors["rolf"], first.ID, service.AnyVersion)
	requireKind(f.T, review.KindForbidden, err)
	_, err = m.service.Redetermine(f.Context(), m.actors["rolf"], first.ID, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	requireKind(f.T, review.KindForbidden, err)
	require.NotContains(f, m.view("rolf", first.ID).Allowed, review.ActReview)
	require.Contains(f, m.view("rita", first.ID).Allowed, review.ActReview)
	require.Equal(f, []review.Coded{review.Code("missing-mentor")}, m.view("ada", first.ID).Needs)

	mine := m.view("ada", first.ID)
	require.True(f, mine.Unscored)
	require.Zero(f, mine.Assessment.Confidence)
	require.Empty(f, mine.Assessment.Ranking)
	require.Empty(f, mine.Assessment.Why)
	require.Positive(f, m.view("rita", first.ID).Assessment.Confidence, "the mentor sees them")

	settled := m.reviewed("rita", first.ID, agreed())
	require.Equal(f, review.StatusConfirmed, settled.Status, "the mentor's answer is enough, below the least confidence")
	require.Less(f, settled.Settlement.Confidence, 0.999)
	mine = m.view("ada", first.ID)
	require.Zero(f, mine.Submission.Settlement.Confidence)
	require.Nil(f, mine.Today)
	history, err := m.service.HistoryOf(f.Context(), m.actors["ada"], first.ID)
	require.NoError(f, err)
	for _, e := range history.Entries {
		if c, ok := e.Change.(*review.Assessed); ok {
			require.Zero(f, c.Assessment.Confidence)
		}
		if c, ok := e.Change.(*review.Confirmed); ok {
			require.Zero(f, c.Settlement.Confidence)
		}
	}
	for who, shown := range map[string]bool{"ada": false, "rita": true} {
		lines, _, err := m.service.Find(f.Context(), m.actors[who], service.SubmissionFilter{Series: s.ID}, service.Page{Size: 5})
		require.NoError(f, err)
		require.Len(f, lines, 1)
		require.Equal(f, shown, lines[0].Confidence > 0, who)
	}
	requireSeriesRebuilt(m, s.ID)
	require.Equal(f, s.ID, f.submission(first.ID).Series)

	_, err = m.service.Reopen(f.Context(), m.actors["cora"], first.ID, service.AnyVersion, "look again, all of you")
	require.NoError(f, err)
	require.Empty(f, f.submission(first.ID).Series, "what is reopened goes the usual way")
	require.Len(f, m.queueOf("rolf"), 2)
}

// requireSeriesRebuilt requires that a series is what its events make.
func requireSeriesRebuilt(m *meeting, id string) {
	m.Helper()
	before, count, err := m.db.Series(m.Context(), id)
	require.NoError(m, err)
	require.NoError(m, m.db.Rebuild(m.Context()))
	after, again, err := m.db.Series(m.Context(), id)
	require.NoError(m, err)
	require.Equal(m, before, after)
	require.Equal(m, count, again)
	events, err := m.db.Events(m.Context(), review.SeriesStream(id))
	require.NoError(m, err)
	replayed, err := review.ReplaySeries(events)
	require.NoError(m, err)
	require.Equal(m, before, replayed)
}

func seriesAnotherName(f fixture) {
	m, _ := taught(f)
	first := m.another("ada", "p")
	form := review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAnother, Family: "Buprestidae", Basis: review.BasisPhotos}}
	_, err := m.review("rita", first.ID, form)
	m.requireFields(err, "opinion.note")
	form.Opinion.Note = "no spine below"
	m.reviewed("rita", first.ID, form)
	answered := f.submission(first.ID)
	require.Equal(f, review.StatusRedetermined, answered.Status)
	next := f.submission(answered.FollowedBy)
	require.Equal(f, []string{"Buprestidae", "rita", "", first.ID}, []string{next.Determination.Family, next.Determination.Determiner, next.Series, next.Follows})
	require.Equal(f, review.StatusOpen, next.Status, "the mentor's own name goes the usual way")
	require.Len(f, m.queueOf("rolf"), 1)
}

func seriesTakesOwn(f fixture) {
	m, s := taught(f)
	m.photo("p", "ada")
	slip := clickBeetle("A-1", "p")
	slip.DeterminerName = "Old Hand"
	done, err := m.service.SubmitNew(f.Context(), m.actors["ada"], slip, "")
	require.NoError(f, err)
	require.Empty(f, done.Series, "an old slip is no beginner's name")
	first := m.another("ada", "q")
	require.Equal(f, s.ID, first.Series)
	m.reviewed("rita", first.ID, agreed())
	next, err := m.service.Redetermine(f.Context(), m.actors["ada"], first.ID, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	require.NoError(f, err)
	require.Empty(f, next.Series, "nor a second name of the same specimen")
}

func seriesChangesHands(f fixture) {
	m, s := taught(f)
	_, err := m.service.MentorSeries(f.Context(), m.actors["rolf"], s.ID, "")
	requireKind(f.T, review.KindNotFound, err) // a running series is not his to know
	first := m.another("ada", "p")
	_, err = m.service.GiveBackSeries(f.Context(), m.actors["rita"], s.ID)
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.LeaveSeries(f.Context(), m.actors["ada"], s.ID)
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.MentorSeries(f.Context(), m.actors["cora"], s.ID, "ben")
	m.requireFields(err, "mentor")
	_, err = m.service.MentorSeries(f.Context(), m.actors["cora"], s.ID, "rolf")
	require.NoError(f, err)
	_, err = m.review("rita", first.ID, agreed())
	requireKind(f.T, review.KindForbidden, err)
	require.Equal(f, review.StatusConfirmed, m.reviewed("rolf", first.ID, agreed()).Status)
	given, err := m.service.GiveBackSeries(f.Context(), m.actors["rolf"], s.ID)
	require.NoError(f, err)
	require.Equal(f, review.SeriesWaiting, given.Status)
	require.Empty(f, m.another("ada", "q").Series, "what is submitted while it waits goes the usual way")
	lists, err := m.service.FindSeries(f.Context(), m.actors["rosa"])
	require.NoError(f, err)
	require.Len(f, lists.Waiting, 1)
	left, err := m.service.LeaveSeries(f.Context(), m.actors["ada"], s.ID)
	require.NoError(f, err)
	require.Equal(f, review.SeriesLeft, left.Status)
	requireSeriesRebuilt(m, s.ID)
	found, err := f.db.RebuildCompared(f.Context())
	require.NoError(f, err)
	for _, d := range found {
		require.True(f, d.None(), "%+v", d)
	}
}

func seriesEnds(f fixture) {
	m, s := taught(f)
	_, err := m.service.EndSeries(f.Context(), m.actors["rita"], s.ID, review.SeriesForm{Text: "well done"})
	requireKind(f.T, review.KindConflict, err) // nothing was submitted yet
	for _, photo := range []string{"p", "q"} {
		made := m.another("ada", photo)
		form := verdictOn(made.Cites[0], review.VerdictDispute, "serrate")
		form.Verdicts = append(form.Verdicts, verdictOn(made.Cites[1], review.VerdictConfirm, "").Verdicts...)
		form.Opinion = agreed().Opinion
		require.Equal(f, review.StatusConfirmed, m.reviewed("rita", made.ID, form).Status)
	}
	seen, err := m.service.SeriesSeen(f.Context(), m.actors["rita"], s.ID)
	require.NoError(f, err)
	require.Len(f, seen.Mixed, 1)
	require.Equal(f, []any{"antenna-form", "filiform", "serrate", 2}, []any{seen.Mixed[0].Character, seen.Mixed[0].Stated, seen.Mixed[0].Seen, seen.Mixed[0].Specimens})
	require.Equal(f, []int{2, 2}, []int{seen.Read[0].Looked, seen.Read[0].Same}, "the plates first")
	require.Equal(f, []int{2, 0}, []int{seen.Read[1].Looked, seen.Read[1].Same})
	_, err = m.service.SeriesSeen(f.Context(), m.actors["ada"], s.ID)
	requireKind(f.T, review.KindForbidden, err)

	form := review.SeriesForm{Well: []string{"nose"}, Mixed: []review.MixedStates{{Character: "ventrites", Stated: "5", Seen: "many"}}, Practise: []string{"wings"}}
	_, err = m.service.EndSeries(f.Context(), m.actors["rita"], s.ID, form)
	m.requireFields(err, "well[0]", "mixed[0]", "practise[0]", "text")
	form = review.SeriesForm{Well: []string{seen.Read[0].Region}, Mixed: []review.MixedStates{{Character: "antenna-form", Stated: "filiform", Seen: "serrate"}},
		Practise: []string{"antenna-form"}, Text: "You look closely. Turn the beetle over."}
	_, err = m.service.EndSeries(f.Context(), m.actors["rolf"], s.ID, form)
	requireKind(f.T, review.KindNotFound, err)
	_, err = m.service.EndSeries(f.Context(), m.actors["rita"], s.ID, form)
	require.NoError(f, err)
	told, err := m.service.Series(f.Context(), m.actors["ada"], s.ID)
	require.NoError(f, err)
	require.Equal(f, review.SeriesEnded, told.Status)
	require.Equal(f, form.Text, told.Message.Text)
	require.Equal(f, form.Mixed, told.Message.Mixed)
	require.Empty(f, m.another("ada", "r").Series, "afterwards all goes the usual way")
	requireSeriesRebuilt(m, s.ID)
}

func seriesOnce(f fixture) {
	m, s := taught(f)
	_, err := m.service.BeginSeries(f.Context(), m.actors["ada"])
	requireKind(f.T, review.KindConflict, err)
	_, err = m.service.BeginSeries(f.Context(), m.actors["rolf"])
	requireKind(f.T, review.KindForbidden, err)
	second := review.NewWriter(review.Moment{Actor: m.actors["ada"], Now: noon, NewID: func() string { return "second" }})
	require.NoError(f, second.Series(&review.Series{}, &review.SeriesBegun{ID: "second"}))
	require.ErrorIs(f, f.db.Commit(f.Context(), second.Finished()), service.ErrRace, "two at once are one")
	for _, unknown := range []string{"", "none", "\xff"} {
		_, err := m.service.Series(f.Context(), m.actors["ada"], unknown)
		requireKind(f.T, review.KindNotFound, err)
	}
	_, err = m.service.Series(f.Context(), m.actors["ben"], s.ID)
	requireKind(f.T, review.KindNotFound, err)
	n, err := f.db.SubmittedBy(f.Context(), "ada", 3)
	require.NoError(f, err)
	require.Zero(f, n)
	for _, photo := range []string{"p", "q", "r", "s"} {
		m.another("ada", photo)
	}
	n, err = f.db.SubmittedBy(f.Context(), "ada", 3)
	require.NoError(f, err)
	require.Equal(f, 3, n, "no further than asked")
}

func seriesLate(f fixture) {
	m, _ := taught(f)
	first := m.another("ada", "p")
	late, err := f.db.LateSeries(f.Context(), m.clock.Add(time.Hour), 5)
	require.NoError(f, err)
	require.Len(f, late, 1)
	require.Equal(f, []string{"rita", first.ID}, []string{late[0].Mentor, late[0].Submission})
	m.clock = m.clock.Add(15 * day)
	l, err := m.service.Ledger(f.Context(), m.actors["cora"])
	require.NoError(f, err)
	require.Len(f, l.People, 1)
	require.Equal(f, []any{"rita", review.AttentionMentorAway, 1}, []any{l.People[0].Person, l.People[0].Why, l.People[0].Count})
	require.NoError(f, f.db.ChangeAccount(f.Context(), "rita", auth.AccountChange{Disabled: new(true)}))
	m.reviewed("cora", first.ID, agreed())
	require.Equal(f, review.StatusOpen, f.submission(first.ID).Status, "a curator may look, and hands it over to settle it")
}
