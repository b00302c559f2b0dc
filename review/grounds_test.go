package review

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

var weighedAt = time.Date(2026, 6, 1, 12, 0, 0, 0, time.UTC)

// evidenceIs is evidence as JSON, which tells everything that is weighed.
func evidenceIs(t *testing.T, e judgement.Evidence) string {
	t.Helper()
	text, err := json.Marshal(e)
	require.NoError(t, err)
	return string(text)
}

// groundsRecord has one of everything that is weighed.
func groundsRecord() (Specimen, Submission) {
	spec := Specimen{ID: "s", Photos: []Photo{{ID: "p1", View: "above"}, {ID: "p2", View: "below"}}, Label: Label{Sex: "male"}}
	spec.Observations = []Observation{
		{ID: "o1", Character: "antenna-form", State: "serrate", Sureness: Sure, By: "0194e4a0-0000-7000-8000-000000000001", Role: RoleMember, At: weighedAt},
		{ID: "o2", Character: "body-form", State: "elongate", Sureness: Unsure, By: "ada", Role: RoleMember, List: ListFree, AfterHint: true, At: weighedAt},
		{ID: "o3", Character: "pygidium", State: "covered", By: "ada", Role: RoleMember, List: ListFree, Withdrawn: TakenBack, At: weighedAt},
		{ID: "o4", Character: "head-width", State: "narrow", By: "rex", Role: RoleReviewer, Withdrawn: "misread", At: weighedAt},
	}
	opened := weighedAt
	sub := Submission{ID: "sub", Specimen: "s", Group: "g", Owner: "ada", Status: StatusConfirmed, OpenedAt: &opened, DraftedAt: weighedAt, Cites: []string{"o1", "o2", "o4"},
		Photos: []string{"p2"}, Determination: Determination{Family: "Elateridae"}}
	sub.Verdicts = []Verdict{{Observation: "o1", Kind: VerdictDispute, Better: "filiform", By: "rex", Role: RoleReviewer, At: weighedAt.Add(2), AfterOpening: true},
		{Observation: "o1", Kind: VerdictDispute, Better: "filiform", By: "pat", Role: RoleReviewer, At: weighedAt.Add(1)},
		{Observation: "o2", Kind: VerdictConfirm, By: "pat", Role: RoleReviewer, At: weighedAt.Add(1)}}
	sub.Blind = []BlindCheck{{Observation: "o2", State: "oval", By: "rex", Role: RoleReviewer, At: weighedAt}, {Observation: "o1", Kind: "not-visible", By: "tom", Role: RoleReviewer, At: weighedAt}}
	return spec, sub
}

// TestGroundsWeighAsTheRecord: what is written in short is weighed as the record is.
func TestGroundsWeighAsTheRecord(t *testing.T) {
	spec, sub := groundsRecord()
	tables := beetles.Tables()
	of, opened := GroundsOfSubmission(&sub)
	require.True(t, opened)
	about := GroundsOfSpecimen(&spec)
	r := NewGroundsReader()
	for range 2 { // memory is used again
		shortSpec, err := r.Specimen(&about)
		require.NoError(t, err)
		short, err := r.Submission(&of)
		require.NoError(t, err)
		require.Equal(t, []any{sub.Group, sub.Status, sub.Owner, sub.DraftedAt.UTC()}, []any{short.Group, short.Status, short.Owner, short.DraftedAt})
		require.Equal(t, evidenceIs(t, Weighing{}.Evidence(&sub, &spec, []Submission{sub}, tables)), evidenceIs(t, Weighing{}.Evidence(&short, &shortSpec, []Submission{short}, tables)))
	}
	whole, err := json.Marshal(sub)
	require.NoError(t, err)
	require.Less(t, len(of.Body), len(whole)/4)

	sub.OpenedAt = nil
	_, opened = GroundsOfSubmission(&sub)
	require.False(t, opened, "what was never submitted is nobody's business")
}

// TestDamagedGrounds: whatever is cut off or changed is an error or other grounds, and never a panic.
func TestDamagedGrounds(t *testing.T) {
	spec, sub := groundsRecord()
	of, _ := GroundsOfSubmission(&sub)
	about := GroundsOfSpecimen(&spec)
	r := NewGroundsReader()
	for i := range about.Body {
		_, err := r.Specimen(&Grounds{Specimen: "s", Body: about.Body[:i]})
		require.Error(t, err, "cut off at %d", i)
	}
	for i := range of.Body {
		_, err := r.Submission(&Grounds{Specimen: "s", Submission: "sub", Body: of.Body[:i]})
		require.Error(t, err, "cut off at %d", i)
		damaged := append([]byte{}, of.Body...)
		damaged[i] ^= 0xff
		_, _ = r.Submission(&Grounds{Specimen: "s", Submission: "sub", Body: damaged})
	}
}

func TestCauseKeys(t *testing.T) {
	for _, c := range []Cause{{Kind: CauseCell, Family: "Elateridae", Character: "antenna-form"}, {Kind: CauseCharacter, Character: "pygidium"},
		{Kind: CausePerson, Person: "0194e4a0-0000-7000-8000-000000000001"}, {Kind: CauseThreshold}} {
		require.Equal(t, c, ParseCause(c.Key()))
		require.False(t, strings.HasSuffix(c.Key(), "|"))
	}
}
