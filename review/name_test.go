package review

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A qualifier stands before the word that is doubted (Sigovini et al. 2016, Methods Ecol. Evol. 7: 1217, from memory); the
// first row is how names were written before that was asked.
func TestQualifierStandsBeforeTheDoubtedWord(t *testing.T) {
	for _, c := range []struct {
		name      string
		qualifier Qualifier
		doubted   Rank
		want      string
	}{
		{"Agriotes lineatus", QualifierCf, "", "cf. Agriotes lineatus"},
		{"Agriotes lineatus", QualifierCf, RankSpecies, "Agriotes cf. lineatus"},
		{"Agriotes lineatus", QualifierAff, RankSpecies, "Agriotes aff. lineatus"},
		{"Agriotes lineatus", QualifierCf, RankGenus, "cf. Agriotes lineatus"},
		{"Agriotes (Agriotes) lineatus (Linnaeus, 1767)", QualifierCf, RankSpecies, "Agriotes (Agriotes) cf. lineatus (Linnaeus, 1767)"},
		{"Agriotes", QualifierCf, RankGenus, "cf. Agriotes"},
		{"Agriotes lineatus", QualifierNone, "", "Agriotes lineatus"},
		{"", QualifierDoubt, "", ""},
	} {
		d := Determination{Family: "Elateridae", ScientificName: c.name, Qualifier: c.qualifier, Doubted: c.doubted}
		require.Equal(t, c.want, d.NameAt(RankSpecies), c)
		for _, p := range d.Parts() {
			require.Equal(t, p.Text != "cf." && p.Text != "aff.", p.Italic, c)
		}
	}
}

func TestRanksOfAName(t *testing.T) {
	for name, want := range map[string][]Rank{
		"": {"family"}, "Agriotes": {"family", RankGenus}, "Agriotes Eschscholtz, 1829": {"family", RankGenus}, "Agriotes sp.": {"family", RankGenus},
		"Agriotes lineatus": {"family", RankGenus, RankSpecies}, "Agriotes (Agriotes) lineatus": {"family", RankGenus, RankSpecies},
	} {
		require.Equal(t, want, (&Determination{ScientificName: name}).Ranks("family"), name)
	}
}

// Conf. stands beside no more than somebody agreed with; an opinion without a rank was on the family. Conf., conf. from
// photo and det. are the trade's words, and vid. is no endorsement; common practice, no source.
func TestSlipSaysWhatWasAgreedWith(t *testing.T) {
	whole := &Determination{Family: "Elateridae", ScientificName: "Agriotes lineatus", Qualifier: QualifierCf, Doubted: RankSpecies}
	family := &Determination{Family: "Elateridae"}
	for _, c := range []struct {
		o    Opinion
		d    *Determination
		want string
	}{
		{Opinion{Kind: OpinionAgrees, Basis: BasisSpecimen}, family, "conf."},
		{Opinion{Kind: OpinionAgrees, Basis: BasisPhotos}, family, "conf. from photo"},
		{Opinion{Kind: OpinionAgrees, Basis: BasisSpecimen}, whole, "conf. Elateridae"},
		{Opinion{Kind: OpinionAgrees, Basis: BasisSpecimen, Rank: "family"}, whole, "conf. Elateridae"},
		{Opinion{Kind: OpinionAgrees, Basis: BasisPhotos, Rank: RankGenus}, whole, "conf. Agriotes from photo"},
		{Opinion{Kind: OpinionAgrees, Basis: BasisDissected, Rank: RankSpecies}, whole, "conf. Agriotes cf. lineatus"},
		{Opinion{Kind: OpinionAnother, Family: "Buprestidae"}, whole, "det. Buprestidae"},
		{Opinion{Kind: OpinionLeftOpen}, whole, ""},
	} {
		require.Equal(t, c.want, c.o.Slip(c.d), c)
	}
}

func TestIndetNamesTheRank(t *testing.T) {
	require.Equal(t, "Coleoptera, fam. indet.", Indet("Coleoptera", "family"))
	require.Equal(t, "Elateridae, gen. indet.", Indet("Elateridae", "genus"))
	require.Equal(t, "Insecta, cohort indet.", Indet("Insecta", "cohort"))
}

func TestAnOpinionGoesNoFurtherThanTheName(t *testing.T) {
	now := renamed(t, "Buprestidae", "Elateridae")
	form := agreement()
	for rank, fields := range map[Rank][]string{"": nil, "family": nil, RankGenus: {"opinion.rank"}, "order": {"opinion.rank"}} {
		form.Opinion.Rank = rank
		made, err := DecideReview(now, form)
		if fields != nil {
			require.Equal(t, fields, fieldsOf(t, err), rank)
			continue
		}
		require.NoError(t, err, rank)
		require.Equal(t, Rank("family"), made.Submission[0].(*OpinionGiven).Opinion.Rank, rank)
	}
	now.Submission.Determination.ScientificName = "Agriotes lineatus"
	form.Opinion.Rank = RankSpecies
	made, err := DecideReview(now, form)
	require.NoError(t, err)
	require.True(t, made.Submission[0].(*OpinionGiven).Opinion.AgreesAt(RankGenus))
	form.Opinion.Kind = OpinionLeftOpen
	_, err = DecideReview(now, form)
	require.Equal(t, []string{"opinion.rank"}, fieldsOf(t, err))
}

func TestDoubtedWordIsAskedFor(t *testing.T) {
	check := func(f SubmissionForm) []string {
		var p Problems
		f.CheckName(&p, beetles.Tables())
		var fields []string
		for _, problem := range p {
			fields = append(fields, problem.Field)
		}
		return fields
	}
	require.Empty(t, check(SubmissionForm{ScientificName: "Agriotes lineatus", Qualifier: "cf.", Doubted: RankGenus}))
	require.Equal(t, []string{"doubted"}, check(SubmissionForm{ScientificName: "Agriotes", Qualifier: "cf.", Doubted: RankSpecies}))
	require.Equal(t, []string{"doubted"}, check(SubmissionForm{ScientificName: "Agriotes lineatus", Doubted: RankSpecies}))
	require.Equal(t, []string{"doubted"}, check(SubmissionForm{ScientificName: "Agriotes lineatus", Qualifier: "aff.", Doubted: "family"}))

	m := newRehearsal(t, undrawnPolicy(), "").moment("ada", RoleMember)
	f := SubmissionForm{Family: "Elateridae", ScientificName: "Agriotes lineatus", Qualifier: "cf."}
	require.Equal(t, RankSpecies, f.Proposal(beetles.Tables(), "ada", m, nil).Determination.Doubted, "the last word, where nobody says")
}

// An old slip without a date stays without, and keeps its wording; one's own name is of today.
func TestAnOldSlipKeepsWhatItSays(t *testing.T) {
	m := newRehearsal(t, undrawnPolicy(), "").moment("ada", RoleMember)
	f := SubmissionForm{Family: "Elateridae", DeterminerName: "A. Erichson", Wording: " Elater lineatus L. ? "}
	old := f.Proposal(beetles.Tables(), "erichson", m, nil).Determination
	require.Empty(t, old.DeterminedOn)
	require.Equal(t, "Elater lineatus L. ?", old.Wording)
	require.Equal(t, "2026-03-01", f.Proposal(beetles.Tables(), "ada", m, nil).Determination.DeterminedOn)
	f.DeterminedOn = "1891"
	require.Equal(t, "1891", f.Proposal(beetles.Tables(), "erichson", m, nil).Determination.DeterminedOn)
}

// Why something cannot be determined stands with it until it is reopened.
func TestUndeterminableSaysWhy(t *testing.T) {
	r := newRehearsal(t, undrawnPolicy(), "")
	c := r.open()
	require.NoError(t, c.Undetermine(r.moment("x", RoleReviewer), r.club, "no antennae left"))
	s := *c.Submission()
	require.Equal(t, "no antennae left", s.Undeterminable)
	require.NoError(t, s.apply(Event{Seq: s.Seq + 1, Change: &Reopened{Reason: "found"}}))
	require.Empty(t, s.Undeterminable)
}
