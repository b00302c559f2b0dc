package judgement

import (
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// TestTwoAreWhatEachIs: weighing by two releases together gives, to the last digit, what each gives alone.
func TestTwoAreWhatEachIs(t *testing.T) {
	tables := diagnosis.Default()
	folder := tables.Folder()
	edit, written, err := diagnosis.Written(folder, "Carabidae", "", "antenna-form")
	require.NoError(t, err)
	require.True(t, written)
	require.GreaterOrEqual(t, len(edit.States), 2)
	edit.States[0].Word, edit.States[1].Word = edit.States[1].Word, edit.States[0].Word
	folder, err = diagnosis.Edited(folder, []diagnosis.CellEdit{edit})
	require.NoError(t, err)
	other, problems := diagnosis.Load(folder)
	require.Empty(t, problems)
	taken := Taken{Stated: 0.8, Look: 0.95}
	before, after := New(tables, taken), New(other, taken)
	prior := map[string]float64{"Carabidae": 3, "Elateridae": 2}
	two, ok := TwoOf(before.Weigher(prior), after.Weigher(prior))
	require.True(t, ok)
	_, ok = TwoOf(before.Weigher(prior), after.Weigher(nil))
	require.False(t, ok, "other priors")
	moved := 0
	var was, will, apartWas, apartWill Standing // their memory is used again and again
	parting := func(of, other []Contradiction) (parts []Contradiction) {
		for _, c := range of {
			if !slices.ContainsFunc(other, c.Same) {
				parts = append(parts, c)
			}
		}
		return parts
	}
	for _, e := range []Evidence{
		{Family: "Carabidae"},
		{Family: "Carabidae", Stated: []Stated{{Character: "antenna-form", State: "filiform"}, {Character: "ventrites", State: "6"}}},
		{Family: "Elateridae", Sex: "male", Views: []string{"antenna"}, Stated: []Stated{{Character: "antenna-form", State: "serrate", Reports: []Report{
			{Kind: ReportStated, Accuracy: 0.7}, {Kind: ReportDisputed, Better: "filiform", Accuracy: 0.9, Anchoring: 0.2}}}, {Character: "ventrites", State: "5"}}},
		{Family: "Scarabaeidae", Stated: []Stated{{Character: "ventrites", State: "5"}},
			Free: []FreeList{{Mentioned: []string{"body-form", "ventrites"}}}},
	} {
		two.FillStandings(&was, &will, &e)
		two.FillApart(&apartWas, &apartWill, &e)
		require.Equal(t, []float64{was.Confidence, will.Confidence}, []float64{apartWas.Confidence, apartWill.Confidence})
		require.Equal(t, []string{was.Leads, will.Rival}, []string{apartWas.Leads, apartWill.Rival})
		require.Equal(t, parting(was.Contradictions, will.Contradictions), parting(apartWas.Contradictions, apartWill.Contradictions))
		require.Equal(t, parting(will.Contradictions, was.Contradictions), parting(apartWill.Contradictions, apartWas.Contradictions))
		e.Prior = prior
		for judge, standing := range map[*Judge]Standing{before: was, after: will} {
			a := judge.Assess(e)
			require.Equal(t, a.Confidence, standing.Confidence)
			require.Equal(t, a.Ranking[0].Family, standing.Leads)
			require.Len(t, standing.Contradictions, len(a.Contradictions))
			for _, c := range a.Contradictions { // what others say better comes last
				at := slices.IndexFunc(standing.Contradictions, c.Same)
				require.GreaterOrEqual(t, at, 0, c)
				require.Equal(t, c.With, standing.Contradictions[at].With)
			}
		}
		if was.Confidence != will.Confidence {
			moved++
		}
	}
	require.Equal(t, 2, moved, "where the changed character is stated")
}
