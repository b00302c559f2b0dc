package modelstest

import (
	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
)

// names hold what stands on pins to what was said.
var names = map[string]func(fixture){
	"a list shows which word is doubted":           doubtedInList,
	"an old slip keeps its wording and no date":    oldSlipKept,
	"what cannot be determined says why":           undeterminableWhy,
	"an opinion says down to which rank it agrees": rankOfOpinion,
}

func doubtedInList(f fixture) {
	m := newMeeting(f, easy())
	form := m.form("ada", "Elateridae", "5")
	form.ScientificName, form.Qualifier, form.Doubted = "Agriotes lineatus", "cf.", review.RankGenus
	_, err := m.service.SubmitNew(f.Context(), m.actors["ada"], form, "")
	require.NoError(f, err)
	for range 2 {
		lines, _, err := m.service.Find(f.Context(), m.actors["ben"], service.SubmissionFilter{}, service.Page{})
		require.NoError(f, err)
		require.Equal(f, review.RankGenus, lines[0].Doubted)
		require.Equal(f, review.RankGenus, m.queueOf("rita")[0].Doubted)
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
}

func oldSlipKept(f fixture) {
	m := newMeeting(f, easy())
	form := m.form("ada", "Elateridae", "5")
	form.DeterminerName, form.Wording = "A. Erichson", "Elater lineatus L."
	done, err := m.service.SubmitNew(f.Context(), m.actors["ada"], form, "")
	require.NoError(f, err)
	d := f.submission(done.ID).Determination
	require.Empty(f, d.DeterminedOn)
	require.Equal(f, "Elater lineatus L.", d.Wording)
}

func undeterminableWhy(f fixture) {
	m := newMeeting(f, easy())
	s := m.submit("ada", "Elateridae", "5")
	_, err := m.service.Undetermine(f.Context(), m.actors["rita"], s.ID, service.AnyVersion, "no antennae left")
	require.NoError(f, err)
	for range 2 {
		line := m.view("ben", s.ID).Determinations[0]
		require.Equal(f, "Coleoptera, fam. indet.", line.Name)
		require.Equal(f, "no antennae left", line.Undeterminable)
		require.NoError(f, f.db.Rebuild(f.Context()))
	}
}

func rankOfOpinion(f fixture) {
	m := newMeeting(f, easy())
	form := m.form("ada", "Elateridae", "5")
	form.ScientificName = "Agriotes"
	done, err := m.service.SubmitNew(f.Context(), m.actors["ada"], form, "")
	require.NoError(f, err)
	opinion := agreed()
	opinion.Opinion.Rank = review.RankSpecies
	_, err = m.review("rita", done.ID, opinion)
	m.requireFields(err, "opinion.rank")
	opinion.Opinion.Rank = review.RankGenus
	got := m.reviewed("rita", done.ID, opinion)
	require.Equal(f, "conf. Agriotes from photo", got.Opinions[0].Slip(&got.Determination))
	got = m.reviewed("rolf", done.ID, agreed())
	require.Equal(f, "conf. Elateridae from photo", got.Opinions[1].Slip(&got.Determination))
	require.Equal(f, review.StatusConfirmed, got.Status, "the policy judges the family")
}
