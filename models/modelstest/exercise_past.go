package modelstest

import (
	"encoding/json"
	"math"
	"runtime"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/judgement"
	"revidit/review/service"
)

// pasts hold what is said of the past to what was shown then. They go through the real service.
var pasts = map[string]func(fixture){
	"what was shown is what is told of the moment":         pastAsShown,
	"what is sealed today is sealed in the past":           pastSealed,
	"a history tells no number that counts what is sealed": pastOfSealedSibling,
	"two moments and what changed between them":            pastDifference,
	"a moment by its time":                                 pastByTime,
	"a draft and what had not begun have no past":          pastOfNothing,
	"what comes out otherwise raises an alarm":             pastAlarm,
	"what cannot be computed again stands":                 pastKept,
}

// shownAt is what somebody was shown after an act.
type shownAt struct {
	position int64
	view     service.SubmissionView
}

func (m *meeting) lastPosition() int64 {
	m.Helper()
	m.numberAll()
	last, err := m.db.LastPosition(m.Context())
	require.NoError(m, err)
	return last
}

func (m *meeting) shown(who, id string) shownAt {
	m.Helper()
	return shownAt{m.lastPosition(), m.view(who, id)}
}

func (m *meeting) asOf(who, id string, position int64) service.Then {
	m.Helper()
	then, err := m.service.AsOf(m.Context(), m.actors[who], id, service.When{Position: position})
	require.NoError(m, err)
	return then
}

// lived is a submission of Ada's to which much has happened, with what Ada was shown after each act.
func (m *meeting) lived() (id, next string, shown []shownAt) {
	m.Helper()
	open := m.submit("ada", "Elateridae", "5")
	id = open.ID
	note := func() { shown = append(shown, m.shown("ada", id)) }
	note()
	m.reviewed("rolf", id, verdictOn(open.Cites[1], review.VerdictDispute, "6"))
	note()
	m.reviewed("rita", id, agreed())
	note()
	_, err := m.service.CorrectLabel(m.Context(), m.actors["ada"], open.Specimen, service.AnyVersion, review.Label{CatalogueNumber: "A-2", Sex: "male"}, review.Withheld{}, "read again")
	require.NoError(m, err)
	note()
	p := byNumber()
	p.List, p.Reason = map[string]float64{"Elateridae": 3, "Buprestidae": 50}, "what is found here"
	_, err = m.service.SetPolicy(m.Context(), m.actors["cora"], service.AnyVersion, p)
	require.NoError(m, err)
	note()
	m.reviewed("rosa", id, verdictOn(open.Cites[0], review.VerdictConfirm, ""))
	note()
	followed, err := m.service.Redetermine(m.Context(), m.actors["cora"], id, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	require.NoError(m, err)
	note()
	m.reviewed("rita", followed.ID, verdictOn(open.Cites[1], review.VerdictDispute, "6"))
	note()
	return id, followed.ID, shown
}

func pastAsShown(f fixture) {
	m := newMeeting(f, byNumber())
	id, _, shown := m.lived()
	for _, s := range shown {
		then := m.asOf("ada", id, s.position)
		require.Equal(f, s.view.Submission, then.View.Submission, s.position)
		require.Equal(f, s.view.Specimen, then.View.Specimen, s.position)
		require.Equal(f, s.view.Determinations, then.View.Determinations, s.position)
		require.Equal(f, s.view.Policy, then.View.Policy, s.position)
		require.NotNil(f, then.Remade)
		require.True(f, then.Remade.Again, "%d: %s", s.position, then.Remade.Why)
		require.True(f, s.view.Submission.Assessment.Repeats(then.View.Assessment), s.position)
		shown := then.View.Assessment
		if then.Shown != nil {
			shown = *then.Shown
		}
		require.False(f, judgement.DifferenceOf(s.view.Assessment, shown).Noticeable, s.position)
		require.Empty(f, then.View.Allowed)
	}
	moved := m.asOf("ada", id, shown[4].position)
	require.NotNil(f, moved.Shown, "another policy had made it another number on pages, before anything was stored")
	require.Equal(f, shown[3].position+1, shown[4].position)
	require.Equal(f, shown[2].position, moved.Earlier, "the policy is no act on the specimen: the label was the last")
	path, err := m.service.Specimen(f.Context(), m.actors["ada"], shown[0].view.Specimen.ID)
	require.NoError(f, err)
	require.Len(f, path.Pile, 2)
	require.Equal(f, id, path.Pile[0], "the newest slip is the lowest")
	require.Equal(f, []review.Mover{{Kind: "observations-recorded", Actor: "ada", Count: 2}, {Kind: "submitted", Actor: "ada", Count: 1}}, path.Path[0].Causes)
	require.Equal(f, []review.Mover{{Kind: "verdicts-given", Actor: "rolf", Count: 1}}, path.Path[1].Causes)
	require.Contains(f, path.Path[2].Causes, review.Mover{Kind: review.MoverPolicy}, "agreeing with the name moves no number and is left out")
	require.Contains(f, path.Path[2].Causes, review.Mover{Kind: "label-corrected", Actor: "ada", Count: 1})
}

func pastSealed(f fixture) {
	m := newMeeting(f, byNumber())
	open := m.submit("ada", "Elateridae", "5")
	first := m.shown("ben", open.ID)
	m.reviewed("rolf", open.ID, verdictOn(open.Cites[1], review.VerdictDispute, "6"))
	now := m.shown("rita", open.ID)
	then := m.asOf("rita", open.ID, now.position)
	require.True(f, then.View.Sealed)
	require.Nil(f, then.Remade)
	require.Nil(f, then.Shown)
	require.Empty(f, then.View.Submission.Verdicts)
	require.Nil(f, then.View.Submission.Assessment)
	require.InDelta(f, now.view.Assessment.Confidence, then.View.Assessment.Confidence, 1e-12)
	d, err := m.service.Between(f.Context(), m.actors["rita"], open.ID, service.When{Position: first.position}, service.When{Position: now.position})
	require.NoError(f, err)
	require.True(f, d.Changed.Nothing(), "nothing is told of what others said")
	text, err := json.Marshal(d)
	require.NoError(f, err)
	require.NotContains(f, string(text), `"rolf"`)
	spec, err := m.service.Specimen(f.Context(), m.actors["rita"], open.Specimen)
	require.NoError(f, err)
	require.Empty(f, spec.Path)

	m.reviewed("rita", open.ID, agreed())
	then = m.asOf("rita", open.ID, now.position)
	require.Len(f, then.View.Submission.Verdicts, 1, "open today, and so in the past")
	require.True(f, then.Remade.Again)
}

// pastOfSealedSibling: what others said of another submission of the specimen is weighed in this one, too.
func pastOfSealedSibling(f fixture) {
	m := newMeeting(f, easy())
	first := m.submit("ada", "Elateridae", "5")
	m.reviewed("rita", first.ID, agreed())
	second := m.twoOpen(first)
	m.reviewed("rolf", second.ID, verdictOn(first.Cites[0], review.VerdictDispute, "clavate"))
	m.reviewed("rosa", first.ID, agreed())
	m.reviewed("rita", first.ID, agreed())
	numbers := func(who string) (told, hidden int) {
		m.numberAll()
		history, err := m.service.HistoryOf(f.Context(), m.actors[who], first.ID)
		require.NoError(f, err)
		for _, e := range history.Entries {
			switch {
			case e.Kind != "assessed":
			case e.Hidden:
				require.Nil(f, e.Change)
				hidden++
			default:
				told++
			}
		}
		return told, hidden
	}
	told, hidden := numbers("rita")
	require.Positive(f, told, "from before the other one began")
	require.Positive(f, hidden)
	m.reviewed("rita", second.ID, verdictOn(first.Cites[1], review.VerdictConfirm, ""))
	all, none := numbers("rita")
	require.GreaterOrEqual(f, all, told+hidden, "open to who has said something of both")
	require.Zero(f, none)
}

func pastDifference(f fixture) {
	m := newMeeting(f, byNumber())
	id, next, shown := m.lived()
	d, err := m.service.Between(f.Context(), m.actors["ada"], id, service.When{Position: shown[6].position}, service.When{Position: shown[0].position})
	require.NoError(f, err)
	require.Equal(f, shown[0].position, d.From.Position, "the earlier first")
	require.Equal(f, &review.Pair[review.Status]{Before: review.StatusOpen, After: review.StatusRedetermined}, d.Changed.Status)
	require.Nil(f, d.Changed.Determination, "another one follows, this one stays")
	require.Equal(f, "male", d.Changed.Label.After.Sex)
	require.Len(f, d.Changed.Verdicts, 2)
	require.Len(f, d.Changed.Opinions, 1)
	require.InDelta(f, shown[0].view.Assessment.Confidence, d.Changed.Assessment.Before.Confidence, 1e-12)
	require.InDelta(f, shown[6].view.Assessment.Confidence, d.Changed.Assessment.After.Confidence, 1e-12)
	require.NotEqual(f, d.Changed.Assessment.Before.Policy, d.Changed.Assessment.After.Policy)
	same, err := m.service.Between(f.Context(), m.actors["ada"], id, service.When{Position: shown[6].position}, service.When{})
	require.NoError(f, err)
	require.True(f, same.Changed.Nothing(), "what is closed keeps what it was closed with")
	begun := m.asOf("ada", next, 0)
	require.Equal(f, m.lastPosition(), begun.Position)
}

func pastByTime(f fixture) {
	m := newMeeting(f, byNumber())
	id, _, shown := m.lived()
	for _, s := range shown {
		last := m.asOf("ada", id, s.position).Last
		before, err := m.service.AsOf(f.Context(), m.actors["ada"], id, service.When{Before: last.At})
		if s.position == shown[0].position {
			require.Equal(f, review.KindNotFound, review.KindOf(err), "nothing of it is earlier")
			continue
		}
		require.NoError(f, err)
		require.Less(f, before.Position, last.Position)
		require.True(f, before.Last.At.Before(last.At))
		after, err := m.service.AsOf(f.Context(), m.actors["ada"], id, service.When{Before: last.At.Add(1000)}) // a microsecond
		require.NoError(f, err)
		require.Equal(f, last, after.Last)
	}
}

func pastOfNothing(f fixture) {
	m := newMeeting(f, byNumber())
	draft, err := m.service.Draft(f.Context(), m.actors["ada"], m.form("ada", "Elateridae", "5"), "")
	require.NoError(f, err)
	_, err = m.service.AsOf(f.Context(), m.actors["ada"], draft.ID, service.When{})
	require.Equal(f, review.KindNotFound, review.KindOf(err))
	open := m.submit("ben", "Elateridae", "5")
	_, err = m.service.AsOf(f.Context(), m.actors["ben"], open.ID, service.When{Position: 1})
	require.Equal(f, review.KindNotFound, review.KindOf(err))
	_, err = m.service.AsOf(f.Context(), m.actors["ben"], open.ID, service.When{Position: m.lastPosition() + 1})
	require.Equal(f, review.KindNotFound, review.KindOf(err))
	_, err = m.service.AsOf(f.Context(), m.actors["ben"], "none", service.When{})
	require.Equal(f, review.KindNotFound, review.KindOf(err))
}

// assessedAs stores an assessment past the service.
func (m *meeting) assessedAs(id, machine string, change func(a *judgement.Assessment)) {
	m.Helper()
	s := m.submission(id)
	a := *s.Assessment
	change(&a)
	m.next(id, "program", s.ChangedAt, &review.Assessed{Assessment: a, Machine: machine})
	m.numberAll()
}

func pastAlarm(f fixture) {
	m := newMeeting(f, byNumber())
	open := m.submit("ada", "Elateridae", "5")
	m.numberAll()
	require.NoError(f, m.service.Do(f.Context(), jobs.Check(), nil))
	sound, err := m.service.Checked(f.Context(), m.actors["cora"])
	require.NoError(f, err)
	require.Positive(f, sound.Remade)
	require.Empty(f, sound.Otherwise)

	m.assessedAs(open.ID, runtime.GOARCH, func(a *judgement.Assessment) { a.Confidence += 1e-9 })
	require.NoError(f, m.service.Do(f.Context(), jobs.Check(), nil))
	found, err := m.service.Checked(f.Context(), m.actors["cora"])
	require.NoError(f, err)
	require.Len(f, found.Otherwise, 1)
	require.Equal(f, "found-otherwise", found.Otherwise[0].Code)
	require.Equal(f, review.SubmissionStream(open.ID), found.Otherwise[0].About["stream"])
	then := m.asOf("ada", open.ID, 0)
	require.Equal(f, review.StoredDiffers, then.Remade.Why)
	require.Equal(f, m.submission(open.ID).Assessment.Confidence, then.View.Assessment.Confidence, "what was stored is shown, and marked")
}

func pastKept(f fixture) {
	m := newMeeting(f, byNumber())
	open := m.submit("ada", "Elateridae", "5")
	stored := *m.submission(open.ID).Assessment
	for why, c := range map[review.StoredWhy]struct {
		machine string
		change  func(a *judgement.Assessment)
	}{
		review.StoredMethod:  {runtime.GOARCH, func(a *judgement.Assessment) { a.Method = judgement.SecondMethod }},
		review.StoredTables:  {runtime.GOARCH, func(a *judgement.Assessment) { a.TablesHash = "of no tables" }},
		review.StoredMachine: {"another", func(a *judgement.Assessment) { a.Confidence = math.Nextafter(a.Confidence+1e-9, 1) }},
		review.StoredDiffers: {"another", func(a *judgement.Assessment) { a.Confidence -= 1e-3 }},
		"":                   {"another", func(*judgement.Assessment) {}},
	} {
		m.assessedAs(open.ID, c.machine, func(a *judgement.Assessment) { *a = stored; c.change(a) })
		then := m.asOf("ada", open.ID, 0)
		require.Equal(f, why, then.Remade.Why)
		require.Equal(f, why == "", then.Remade.Again)
		require.Equal(f, m.submission(open.ID).Assessment.Confidence, then.View.Assessment.Confidence)
	}
}
