package review

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/judgement"
)

func TestUnseenIsChecked(t *testing.T) {
	check := func(unseen []Unseen, stated ...ObservationForm) error {
		var p Problems
		checkUnseen(&p, beetles, unseen, stated)
		return p.Err()
	}
	good := Unseen{Character: "labrum", Why: UnseenHidden}
	require.NoError(t, check([]Unseen{good}))
	require.Equal(t, []string{"unseen[1].character"}, fieldsOf(t, check([]Unseen{good, good})))
	require.Equal(t, []string{"unseen[0].character"}, fieldsOf(t, check([]Unseen{good}, ObservationForm{Character: "labrum", State: "visible"})))
	require.Equal(t, []string{"unseen[0].why"}, fieldsOf(t, check([]Unseen{{Character: "labrum", Why: "lost"}})))
	require.Equal(t, []string{"unseen[0].character"}, fieldsOf(t, check([]Unseen{{Character: "nosuch", Why: UnseenHidden}})))
	require.Equal(t, []string{"unseen[0].character"}, fieldsOf(t, check([]Unseen{{Group: "nosuch", Character: "labrum", Why: UnseenHidden}})))
}

// TestMissingPartsStandOnTheLabel: once each, behind what was written, and never longer than the field.
func TestMissingPartsStandOnTheLabel(t *testing.T) {
	field := openFields[slices.IndexFunc(openFields, func(f LabelField) bool { return f.Name == "missing_parts" })]
	require.Equal(t, maxMissingParts, field.Most)
	unseen := []Unseen{{Character: "antenna-form", Why: UnseenBroken}, {Character: "antenna-length", Why: UnseenBroken}, {Character: "labrum", Why: UnseenHidden},
		{Character: "eyes", Why: UnseenBroken}}
	require.Equal(t, "antenna; eyes", withMissing(Label{}, unseen, beetles.Tables()).MissingParts)
	require.Equal(t, "left Antenna; eyes", withMissing(Label{MissingParts: "left Antenna"}, unseen, beetles.Tables()).MissingParts)
	long := Label{MissingParts: string(make([]byte, maxMissingParts))}
	require.Equal(t, long, withMissing(long, unseen, beetles.Tables()))
}

// TestAfterAHintWeighsAsShown: with the anchoring of members (0.4) a state that was stated after a hint moves the odds less than
// one that was stated freely, in the same direction; and a dispute overrules it as it would the other.
func TestAfterAHintWeighsAsShown(t *testing.T) {
	assess := func(hinted bool, verdicts ...Verdict) judgement.Assessment {
		spec := Specimen{ID: "s", Observations: []Observation{{ID: "o", Character: "rostrum", State: "long", Sureness: Sure, By: "ada", Role: RoleMember, AfterHint: hinted}}}
		s := Submission{ID: "x", Group: "g", Owner: "ada", Determination: Determination{Family: "Curculionidae"}, Cites: []string{"o"}, Verdicts: verdicts}
		return Weighing{}.Assess(beetles, &s, &spec, nil)
	}
	nothing := Weighing{}.Assess(beetles, &Submission{Determination: Determination{Family: "Curculionidae"}}, &Specimen{}, nil).Confidence
	free, hinted := assess(false).Confidence, assess(true).Confidence
	require.Greater(t, hinted, nothing)
	require.Less(t, hinted, free)
	dispute := Verdict{Observation: "o", Kind: VerdictDispute, Better: "none", By: "rita", Role: RoleReviewer}
	require.Equal(t, len(assess(false, dispute).Contradictions), len(assess(true, dispute).Contradictions), "what stands is judged alike")
	require.Less(t, assess(true, dispute).Confidence, assess(true).Confidence)
}

// TestWhatIsTakenBackChangesNothingElse: one step replaces one answer.
func TestAStepReplacesOneAnswer(t *testing.T) {
	spec := Specimen{Observations: []Observation{{ID: "1", Character: "labrum", State: "visible", Sureness: Unsure}, {ID: "2", Character: "ventrites", State: "5", Sureness: Sure}}}
	now := &Dossier{Submission: &Submission{Cites: []string{"1", "2"}, Unseen: []Unseen{{Character: "eyes", Why: UnseenPhoto}}}, Specimen: &spec, Judge: beetles}
	r := Step{Character: "labrum", Why: UnseenBroken}.On(now)
	require.Equal(t, []ObservationForm{{Character: "ventrites", State: "5", Sureness: Sure}}, r.Observations)
	require.Equal(t, []Unseen{{Character: "eyes", Why: UnseenPhoto}, {Character: "labrum", Why: UnseenBroken}}, r.Unseen)
	r = Step{Character: "eyes", State: "entire"}.On(now)
	require.Len(t, r.Observations, 3)
	require.Empty(t, r.Unseen)
	require.NotNil(t, r.Unseen, "an empty list takes the place of what was there")
}
