package review

import (
	"reflect"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever a form can say, a revision can change or leave alone: by the same names, and nothing is lost on the way.
func TestRevisionKnowsEveryFieldOfAForm(t *testing.T) {
	name := func(f reflect.StructField) string { return strings.Split(f.Tag.Get("json"), ",")[0] }
	revision, known := reflect.TypeFor[Revision](), map[string]bool{}
	for i := range revision.NumField() {
		known[name(revision.Field(i))] = true
	}
	form := reflect.TypeFor[SubmissionForm]()
	for i := range form.NumField() {
		require.True(t, known[name(form.Field(i))], "%s is no field of a revision", form.Field(i).Name)
	}
}

// A name of every part, as a draft holds it.
func doubtedDraft() *Dossier {
	return &Dossier{Specimen: &Specimen{ID: "sp"}, Submission: &Submission{Specimen: "sp", Group: "g", Determination: Determination{Family: "Elateridae",
		ScientificName: "Agriotes lineatus", Qualifier: QualifierCf, Doubted: RankGenus, Determiner: "e", Wording: "Elater lineatus L."}}}
}

func TestRevisionLeavesTheRestOfTheName(t *testing.T) {
	remarks := "fresh"
	form, err := Revision{Remarks: &remarks}.Of(doubtedDraft())
	require.NoError(t, err)
	require.Equal(t, RankGenus, form.Doubted)
	require.Equal(t, "Elater lineatus L.", form.Wording)

	whole, err := WholeRevision(SubmissionForm{ScientificName: "Agriotes lineatus", Qualifier: "aff.", Doubted: RankSpecies, Wording: "A. lineatus"}).Of(doubtedDraft())
	require.NoError(t, err)
	require.Equal(t, RankSpecies, whole.Doubted)
	require.Equal(t, "A. lineatus", whole.Wording)

	genus := "Agriotes"
	form, err = Revision{ScientificName: &genus}.Of(doubtedDraft())
	require.NoError(t, err)
	require.Empty(t, form.Doubted, "it is asked anew with another name")
}
