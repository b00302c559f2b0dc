package modelstest

import (
	"fmt"
	"math"

	"github.com/stretchr/testify/require"

	"revidit/models/blob"
	"revidit/review"
	"revidit/review/service"
)

// openings hold what people say after they were shown what others said to being told as such. They go through the real service.
var openings = map[string]func(fixture){
	"a verdict given after opening is marked and weighs as shown": verdictAfterOpening,
	"a verdict given before opening stays what it was":            verdictBeforeOpening,
	"an opinion given after opening is no voice for the quorum":   opinionAfterOpening,
	"an opinion given before opening stays a voice":               opinionBeforeOpening,
	"who opened it before is no panel":                            openedIsNoPanel,
	"a clock that is set back turns no openings round":            openingsInOrder,
	"members who read are not recorded":                           membersNotRecorded,
	"rebuilding restores what was opened":                         rebuildOpenings,
}

// disputed is an open submission of Ada's that Rolf has disputed: not 5 plates but 6.
func (m *meeting) disputed() (open service.Done, antenna, plates string) {
	m.Helper()
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(m.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(m, err)
	antenna, plates = open.Cites[0], open.Cites[1]
	m.reviewed("rolf", open.ID, verdictOn(plates, review.VerdictDispute, "6"))
	return open, antenna, plates
}

func (m *meeting) verdictsOf(who, id string) map[string]review.Verdict {
	m.Helper()
	found := map[string]review.Verdict{}
	for _, v := range m.view("ada", id).Submission.Verdicts {
		if v.By == who {
			found[v.Observation] = v
		}
	}
	return found
}

func (m *meeting) confidence(id string) float64 {
	m.Helper()
	return m.view("ada", id).Assessment.Confidence
}

func verdictAfterOpening(f fixture) {
	m := newCrowd(f, byNumber())
	open, antenna, plates := m.disputed()
	before := m.confidence(open.ID)
	// Rita opens everything by a word on another character, and repeats what she reads.
	m.reviewed("rita", open.ID, verdictOn(antenna, review.VerdictCannotJudge, ""))
	require.Equal(f, before, m.confidence(open.ID), "that says nothing about the name")
	shown := m.view("rita", open.ID)
	require.False(f, shown.Sealed)
	m.reviewed("rita", open.ID, verdictOn(plates, review.VerdictDispute, "6"))
	require.False(f, m.verdictsOf("rita", open.ID)[antenna].AfterOpening)
	require.True(f, m.verdictsOf("rita", open.ID)[plates].AfterOpening)
	require.False(f, m.verdictsOf("rolf", open.ID)[plates].AfterOpening)
	after := m.confidence(open.ID)

	// Rosa says the same of her own.
	m.reviewed("rosa", open.ID, verdictOn(plates, review.VerdictDispute, "6"))
	require.False(f, m.verdictsOf("rosa", open.ID)[plates].AfterOpening)
	own := m.confidence(open.ID)
	require.Less(f, after, before, "it is a word against the name, as agreement with what was shown")
	require.Less(f, own, after)
	require.Greater(f, logOdds(after)-logOdds(own), 1.5*(logOdds(before)-logOdds(after)), "and weighs far less than a look of one's own")

	history, err := m.service.HistoryOf(f.Context(), m.actors["ada"], open.ID)
	require.NoError(f, err)
	told := 0
	for _, e := range history.Entries {
		if c, ok := e.Change.(*review.Opened); ok && c.Verdicts && e.Actor == "rita" {
			told++
		}
	}
	require.Equal(f, 1, told)
	history, err = m.service.HistoryOf(f.Context(), m.actors["cora"], open.ID)
	require.NoError(f, err)
	for _, e := range history.Entries {
		require.NotEqual(f, "opened", e.Kind, "sealed: it would tell that there is something to see")
	}
}

func logOdds(p float64) float64 { return math.Log(p / (1 - p)) }

// drawingAll is a service whose dice draw every recheck.
func drawingAll(f fixture) *service.Service {
	f.Helper()
	seed := ""
	for i := 0; !(review.Draw{Rate: 0.5, Seed: seed}).Drawn("recheck"); i++ {
		seed = fmt.Sprint(i)
	}
	return service.NewService(f.db, &blob.Mem{}, service.NewLibrary(Tables(f.T)), service.Options{Seed: func() string { return seed }})
}

func verdictBeforeOpening(f fixture) {
	m := newCrowd(f, byNumber())
	open, antenna, plates := m.disputed()
	m.reviewed("rita", open.ID, verdictOn(plates, review.VerdictDispute, "6"))
	m.view("rita", open.ID)
	m.reviewed("rita", open.ID, verdictOn(plates, review.VerdictDispute, "6"))
	require.False(f, m.verdictsOf("rita", open.ID)[plates].AfterOpening, "she had said so before she saw anything")
	m.reviewed("rita", open.ID, verdictOn(antenna, review.VerdictConfirm, ""))
	require.True(f, m.verdictsOf("rita", open.ID)[antenna].AfterOpening)

	// Another determination of the specimen cites the same observations, and what was shown stays shown.
	next, err := m.service.Redetermine(f.Context(), m.actors["cora"], open.ID, service.AnyVersion, review.RedetermineForm{Family: "Buprestidae", Reason: "the plates"})
	require.NoError(f, err)
	m.reviewed("rita", next.ID, verdictOn(plates, review.VerdictConfirm, ""))
	verdict := m.view("cora", next.ID).Submission.Verdicts[0]
	require.Equal(f, []string{"rita", plates}, []string{verdict.By, verdict.Observation})
	require.True(f, verdict.AfterOpening)
}

// opinionAfterOpening: of two who agree, one has only read that the other does.
func opinionAfterOpening(f fixture) {
	m := newCrowd(f, easy())
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	m.reviewed("rolf", open.ID, agreed())
	m.reviewed("rita", open.ID, verdictOn(open.Cites[0], review.VerdictCannotJudge, ""))
	require.False(f, m.view("rita", open.ID).Sealed)
	copied := m.reviewed("rita", open.ID, agreed())
	require.Equal(f, review.StatusOpen, copied.Status, "one voice, and one that follows it")
	shown := m.view("rita", open.ID)
	require.Equal(f, []string{"rolf"}, shown.Agreeing)
	require.Equal(f, []bool{false, true}, []bool{shown.Submission.Opinions[0].AfterOpening, shown.Submission.Opinions[1].AfterOpening})
	require.Contains(f, shown.Needs, review.Code("missing-more", "count", "1", "after", "1"))
	again := m.reviewed("rita", open.ID, agreed())
	require.Equal(f, review.StatusOpen, again.Status, "saying it again makes it no earlier")

	settled := m.reviewed("rosa", open.ID, agreed())
	require.Equal(f, review.StatusConfirmed, settled.Status)
	require.Equal(f, []string{"rolf", "rosa"}, settled.Settlement.Agreeing)
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, settled.Opinions, f.submission(open.ID).Opinions)
}

func opinionBeforeOpening(f fixture) {
	policy := easy()
	policy.Reviewers = 3
	m := newCrowd(f, policy)
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	m.reviewed("rolf", open.ID, agreed())
	m.reviewed("rita", open.ID, agreed())
	m.view("rita", open.ID)
	again := agreed()
	again.Opinion.Basis, again.Opinion.Note = review.BasisSpecimen, "now under the lens, too"
	m.reviewed("rita", open.ID, again)
	require.Equal(f, []string{"rolf", "rita"}, m.view("rita", open.ID).Agreeing, "she had said so before she saw anything")

	another := review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAnother, Family: "Buprestidae", Basis: review.BasisPhotos}}
	m.reviewed("rita", open.ID, another)
	shown := m.view("rita", open.ID)
	require.True(f, shown.Submission.Opinions[1].AfterOpening)
	require.Contains(f, shown.Needs, review.Code("missing-another", "family", "Buprestidae"), "a doubt stands, whenever it came")
	m.reviewed("rita", open.ID, agreed())
	require.Equal(f, []string{"rolf"}, m.view("rita", open.ID).Agreeing)
}

func openedIsNoPanel(f fixture) {
	policy := easy()
	policy.Reviewers, policy.RecheckRate, policy.Panel = 1, 0.5, 3
	m := newCrowd(f, policy)
	m.service = drawingAll(f)
	m.photo("p", "ada")
	open, err := m.service.SubmitNew(f.Context(), m.actors["ada"], clickBeetle("A-1", "p"), "")
	require.NoError(f, err)
	m.view("rita", open.ID)
	m.reviewed("cora", open.ID, agreed())
	closed := m.view("ada", open.ID).Submission
	require.Equal(f, review.StatusConfirmed, closed.Status)
	require.NotNil(f, closed.Recheck)

	asked := func(who string) bool {
		lines, _, err := m.service.Queue(f.Context(), m.actors[who], service.QueueFilter{}, service.Page{})
		require.NoError(f, err)
		return len(lines) > 0
	}
	require.False(f, asked("rita"), "she has seen the name")
	require.True(f, asked("rolf"))
	_, err = m.service.PanelOpinion(f.Context(), m.actors["rita"], open.ID, service.AnyVersion, review.PanelForm{Family: "Elateridae"})
	requireKind(f.T, review.KindConflict, err)
	m.view("rita", open.ID)
	_, err = m.service.View(f.Context(), m.actors["rolf"], open.ID)
	requireKind(f.T, review.KindBlind, err)
	for who, blind := range map[string]bool{"rita": false, "rolf": true} {
		lines, _, err := m.service.Find(f.Context(), m.actors[who], service.SubmissionFilter{}, service.Page{})
		require.NoError(f, err)
		require.Equal(f, blind, lines[0].Blind, who)
	}
}

func membersNotRecorded(f fixture) {
	m := newCrowd(f, byNumber())
	open, _, _ := m.disputed()
	for _, who := range []string{"ada", "ben"} {
		m.view(who, open.ID)
	}
	events, err := f.db.Openings(f.Context(), open.Specimen)
	require.NoError(f, err)
	require.Empty(f, events)
	for range 3 {
		m.view("rita", open.ID)
		_, err := m.service.Specimen(f.Context(), m.actors["rita"], open.Specimen)
		require.NoError(f, err)
	}
	events, err = f.db.Openings(f.Context(), open.Specimen)
	require.NoError(f, err)
	require.Len(f, events, 1, "the first time is told")
}

func openingsInOrder(f fixture) {
	m := newMeeting(f, byNumber())
	open, antenna, _ := m.disputed()
	m.view("rita", open.ID)
	m.clock = m.clock.AddDate(0, 0, -1)
	m.reviewed("rita", open.ID, verdictOn(antenna, review.VerdictCannotJudge, ""))
	m.view("rita", open.ID)
	events, err := f.db.Openings(f.Context(), open.Specimen)
	require.NoError(f, err)
	require.Len(f, events, 2, "the names first, then what others said")
	require.False(f, events[1].At.Before(events[0].At))
}

func rebuildOpenings(f fixture) {
	m := newCrowd(f, byNumber())
	open, antenna, _ := m.disputed()
	m.view("rosa", open.ID)
	m.reviewed("rita", open.ID, verdictOn(antenna, review.VerdictConfirm, ""))
	_, errs := askedAtOnce(func(int) (service.SubmissionView, error) {
		return m.service.View(f.Context(), m.actors["rita"], open.ID)
	})
	for _, err := range errs {
		require.NoError(f, err, "many first looks at once")
	}
	opened := func() [2]review.Opening {
		var found [2]review.Opening
		for i, who := range []string{"rosa", "rita"} {
			b, err := f.db.Basis(f.Context(), service.Asked{Specimen: open.Specimen, Person: who})
			require.NoError(f, err)
			found[i] = b.Opened
		}
		return found
	}
	before := opened()
	require.Equal(f, [2]review.Opening{{Specimen: open.Specimen, Person: "rosa", Seq: 1}, {Specimen: open.Specimen, Person: "rita", Seq: 1, Verdicts: true}}, before)
	by, err := f.db.OpenedBy(f.Context(), "rosa", []string{open.Specimen, "none", "\x00"})
	require.NoError(f, err)
	require.Equal(f, map[string]bool{open.Specimen: true}, by)
	require.NoError(f, f.db.Rebuild(f.Context()))
	require.Equal(f, before, opened())
}
