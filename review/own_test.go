package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// renamed is a second determination of the click beetle of rehearsal.open, by a curator, with the first as its sibling: Rae,
// a reviewer, stated all characters and gave the first name.
func renamed(t *testing.T, first, second string) *Dossier {
	r := newRehearsal(t, undrawnPolicy(), "")
	c := r.open()
	spec := *c.Specimen()
	for i := range spec.Observations {
		spec.Observations[i].By = "rae"
	}
	former := *c.Submission()
	former.Owner, former.Determination = "rae", Determination{Family: first, Determiner: "rae"}
	former.Status = StatusRedetermined
	next := former
	next.ID, next.Owner, next.Status, next.Determination = "next", "cora", StatusOpen, Determination{Family: second, Determiner: "cora"}
	return &Dossier{Moment: r.moment("rae", RoleReviewer), Submission: &next, Specimen: &spec, Siblings: []Submission{former, next}, Policy: undrawnPolicy(), Judge: beetles}
}

func fieldsOf(t *testing.T, err error) []string {
	var known *Error
	require.ErrorAs(t, err, &known)
	var fields []string
	for _, f := range known.Fields {
		fields = append(fields, f.Field)
	}
	return fields
}

func agreement() ReviewForm {
	return ReviewForm{Opinion: &OpinionForm{Kind: OpinionAgrees, Basis: BasisPhotos}}
}

func TestNobodyJudgesTheirOwn(t *testing.T) {
	now := renamed(t, "Elateridae", "Elateridae")
	form := agreement()
	form.Verdicts = []VerdictForm{{Observation: now.Submission.Cites[0], Kind: VerdictConfirm}}
	_, err := DecideReview(now, form)
	require.Equal(t, []string{"verdicts[0].observation", "opinion.kind"}, fieldsOf(t, err))
	require.True(t, now.Own().Everything)
	require.NotContains(t, now.Allowed(), ActReview)

	now.Specimen.Observations[0].By = "ben"
	_, err = DecideReview(now, ReviewForm{Verdicts: form.Verdicts})
	require.NoError(t, err, "what others observed is theirs to judge")
	require.Equal(t, Own{Name: true, Observations: now.Submission.Cites[1:]}, now.Own())
	require.Contains(t, now.Allowed(), ActReview)

	now.Policy.Experts = map[string][]string{"Elateridae": {"rae"}}
	_, err = DecideSettle(now, "compared")
	require.Equal(t, KindForbidden, KindOf(err))
	require.NotContains(t, now.Allowed(), ActSettle)
}

func TestAnotherNameIsNotOnesOwn(t *testing.T) {
	now := renamed(t, "Buprestidae", "Elateridae")
	_, err := DecideReview(now, agreement())
	require.NoError(t, err)
	require.False(t, now.Own().Name)

	now = renamed(t, "Elateridae", "Elateridae")
	now.Siblings[0].OpenedAt = nil
	_, err = DecideReview(now, agreement())
	require.NoError(t, err, "a draft is nobody's name yet")
}

// Opinions and verdicts of a time when one could judge one's own count for nothing.
func TestOlderOpinionsOnOnesOwnDoNotCount(t *testing.T) {
	now := renamed(t, "Elateridae", "Elateridae")
	s := now.Submission
	s.Opinions = []Opinion{{Kind: OpinionAgrees, By: "rae"}, {Kind: OpinionAgrees, By: "rolf"}}
	require.Equal(t, []string{"rolf"}, s.Agreeing(now.Siblings))
	require.Equal(t, []string{"rolf"}, now.settlement().Agreeing)
	require.Equal(t, Code("missing-more", "count", "1"), now.Policy.Missing(s, now.Siblings)[0])
	s.Opinions[0].Kind, s.Opinions[0].Family = OpinionAnother, "Buprestidae"
	for _, m := range now.Policy.Missing(s, now.Siblings) {
		require.NotEqual(t, "missing-another", m.Code)
	}
}

func TestOlderVerdictsOnOnesOwnDoNotCount(t *testing.T) {
	now := renamed(t, "Buprestidae", "Elateridae")
	s := now.Submission
	before := now.assess(s, nil)
	gain := gainsOf(before, beetles.Tables(), s.looks(now.Specimen))
	for _, id := range s.Cites {
		s.Verdicts = append(s.Verdicts, Verdict{Observation: id, Kind: VerdictConfirm, By: "rae", Role: RoleReviewer})
	}
	require.Equal(t, before, now.assess(s, nil))
	require.Equal(t, gain, gainsOf(before, beetles.Tables(), s.looks(now.Specimen)))
	s.Verdicts = append(s.Verdicts, Verdict{Observation: s.Cites[0], Kind: VerdictConfirm, By: "rolf", Role: RoleReviewer})
	closed := Closed{Specimen: *now.Specimen, Submissions: []Submission{*s}}
	said := closed.Testimony().Submissions[0].Verdicts
	require.Len(t, said, 1)
	require.Equal(t, "rolf", said[0].By)
}

// What others say leaves the version alone; everything that a reviewer was shown moves it.
func TestVersionOfTheEvidence(t *testing.T) {
	r := newRehearsal(t, undrawnPolicy(), "")
	c := r.open()
	version := func() int { return EvidenceVersion(c.Submission(), c.Specimen()) }
	at := version()
	require.Positive(t, at)
	require.NoError(t, c.Review(r.moment("x", RoleReviewer), r.club, ReviewForm{Opinion: &OpinionForm{Kind: OpinionLeftOpen, Basis: BasisPhotos}}))
	require.Equal(t, at, version())

	s, spec := *c.Submission(), *c.Specimen()
	for name, change := range map[string]Change{"submission": &Returned{}, "answer": &Answered{}, "closing": &Undetermined{}} {
		moved := s
		if name == "answer" {
			moved.Status, moved.Returns = StatusOpen, nil
		}
		require.NoError(t, moved.apply(Event{Seq: s.Seq + 1, Change: change}))
		require.NotEqual(t, at, EvidenceVersion(&moved, &spec), name)
	}
	require.NoError(t, spec.apply(Event{Seq: spec.Seq + 1, Change: &ObservationWithdrawn{Observation: s.Cites[0], Reason: "misread"}}))
	require.Greater(t, EvidenceVersion(&s, &spec), at)
	draft := s
	draft.OpenedAt, draft.Status = nil, StatusDraft
	require.NotEqual(t, at, EvidenceVersion(&draft, c.Specimen()))
}

// Every kind of change is sorted: it is either what people say, or it moves the version.
func TestWhatIsOnlySaidDoesNotMoveTheVersion(t *testing.T) {
	r := newRehearsal(t, undrawnPolicy(), "")
	c := r.open()
	for kind, newOf := range newChange {
		s := *c.Submission()
		if err := s.apply(Event{Seq: s.Seq + 1, Change: newOf()}); err != nil || kind == (&Drafted{}).EventKind() || kind == (&Revised{}).EventKind() {
			continue // not a submission's, or a draft's
		}
		same := EvidenceVersion(&s, c.Specimen()) == EvidenceVersion(c.Submission(), c.Specimen())
		require.Equal(t, OnlySaid(newOf()), same, kind)
	}
}
