package modelstest

import (
	"bytes"
	"strings"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/label/sheet"
	"revidit/review/service"
)

// labelChecks hold that no label is printed twice without its printer being told, and that none tells more than its printer may see.
// They go through the real service.
var labelChecks = map[string]func(fixture){
	"a label is printed twice only by who was told":     labelPrintedOnce,
	"of many who print at once one prints the first":    labelAtOnce,
	"a sheet is made again as it was":                   sheetAsItWas,
	"a place stands on labels of who may see it":        labelPlaces,
	"a slip of an act, and conf. when it is released":   slipsOfActs,
	"what is left undetermined has a slip of its rank":  slipOfIndet,
	"printing stands in the history and in the past":    printedInHistory,
	"rebuilding restores what was printed":              rebuildPrinted,
	"labels without words are left out with the reason": labelsLeftOut,
}

// labelled is a submission of Ada's with a label.
func (m *meeting) labelled() service.Done {
	m.Helper()
	form := m.form("ada", "Elateridae", "5")
	latitude, longitude := 47.0789, 10.6912
	form.ScientificName = "Agriotes lineatus (Linnaeus, 1767)"
	form.Label = review.Label{CatalogueNumber: "A-1", Country: "Austria", CollectedFrom: "2026-05-14"}
	form.Withheld = review.Withheld{Locality: "Kauns", District: "Landeck", Latitude: &latitude, Longitude: &longitude, Collector: "Ada"}
	done, err := m.service.SubmitNew(m.Context(), m.actors["ada"], form, "")
	require.NoError(m, err)
	return done
}

func (m *meeting) plan(who string, set service.LabelSet, specimens ...string) service.LabelPlan {
	m.Helper()
	plan, err := m.service.PlanLabels(m.Context(), m.actors[who], service.LabelAsk{Set: set, Specimens: specimens})
	require.NoError(m, err)
	return plan
}

// said are the texts of a plan's labels.
func said(plan service.LabelPlan) []string {
	texts := []string{}
	for _, l := range plan.Labels {
		var lines []string
		for _, line := range l.Label.Lines {
			lines = append(lines, strings.ReplaceAll(line.String(), "\u00a0", " "))
		}
		texts = append(texts, strings.Join(lines, " / "))
	}
	return texts
}

// order is everything of a plan, as its printer was told of it.
func order(plan service.LabelPlan) review.SheetOrder {
	o := review.SheetOrder{}
	for _, l := range plan.Labels {
		o.Labels = append(o.Labels, review.WantedLabel{PinLabel: l.PinLabel, Printed: l.Nth - 1})
	}
	return o
}

func (m *meeting) printed(who string, o review.SheetOrder) review.Sheet {
	m.Helper()
	made, err := m.service.PrintLabels(m.Context(), m.actors[who], o)
	require.NoError(m, err)
	return made
}

func labelPrintedOnce(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	first := order(m.plan("ada", service.SetLocality, open.Specimen))
	first.Labels[0].Copies = 30
	made := m.printed("ada", first)
	require.Equal(f, 30, made.Labels[0].Copies)
	require.Equal(f, "18x7 a4", made.Size+" "+made.Paper)

	_, err := m.service.PrintLabels(f.Context(), m.actors["cora"], first)
	requireKind(f.T, review.KindConflict, err)
	require.ErrorContains(f, err, "A-1 was printed on ")
	told := m.plan("cora", service.SetLocality, open.Specimen)
	require.Equal(f, []any{1, "ada", made.ID, false}, []any{told.Labels[0].Last.Times, told.Labels[0].Last.By, told.Labels[0].Last.Sheet, told.Labels[0].Changed})
	require.NotEmpty(f, told.Names["ada"])
	again := m.printed("cora", order(told))
	require.Equal(f, 2, again.Labels[0].Nth)
	_, err = m.service.PrintLabels(f.Context(), m.actors["ada"], order(told))
	requireKind(f.T, review.KindConflict, err)

	twice := order(m.plan("ada", service.SetLocality, open.Specimen)).Labels
	for _, bad := range []review.SheetOrder{{}, {SheetForm: review.SheetForm{Size: "9x9"}, Labels: first.Labels}, {SheetForm: review.SheetForm{Paper: "a0"}, Labels: first.Labels},
		{Labels: append(twice, twice...)}, {Labels: []review.WantedLabel{{PinLabel: review.PinLabel{Specimen: "nothing", Kind: review.PinLocality}}}},
		{Labels: []review.WantedLabel{{PinLabel: first.Labels[0].PinLabel, Printed: 9}}}, {Labels: []review.WantedLabel{{PinLabel: first.Labels[0].PinLabel, Printed: 2, Copies: 1001}}}} {
		_, err := m.service.PrintLabels(f.Context(), m.actors["ada"], bad)
		requireKind(f.T, review.KindInvalid, err)
	}
	sheets, _, err := m.service.Sheets(f.Context(), m.actors["cora"])
	require.NoError(f, err)
	require.Len(f, sheets, 2, "nothing was stored of what was refused")
	sheets, _, err = m.service.Sheets(f.Context(), m.actors["ada"])
	require.NoError(f, err)
	require.Len(f, sheets, 1, "curators read all, others their own")
	_, err = m.service.Sheet(f.Context(), m.actors["ada"], again.ID)
	requireKind(f.T, review.KindNotFound, err)
}

func labelAtOnce(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	first := order(m.plan("ada", service.SetCatalogue, open.Specimen))
	_, errs := askedAtOnce(func(i int) (review.Sheet, error) {
		return m.service.PrintLabels(m.Context(), m.actors[[]string{"ada", "cora"}[i%2]], first)
	})
	done := 0
	for _, err := range errs {
		if err == nil {
			done++
			continue
		}
		requireKind(f.T, review.KindConflict, err)
	}
	require.Equal(f, 1, done)
}

func sheetAsItWas(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	made := m.printed("ada", order(m.plan("ada", service.SetLocality, open.Specimen)))
	words := sheet.Words{Title: "t", Check: "c", Paper: "p"}
	before, err := m.service.SheetFile(f.Context(), m.actors["ada"], made.ID, words)
	require.NoError(f, err)
	view := m.view("ada", open.ID)
	corrected := view.Specimen.Label
	corrected.Country = "Italy"
	_, err = m.service.CorrectLabel(f.Context(), m.actors["ada"], open.Specimen, service.AnyVersion, corrected, view.Withheld, "misread")
	require.NoError(f, err)
	after, err := m.service.SheetFile(f.Context(), m.actors["cora"], made.ID, words)
	require.NoError(f, err)
	require.True(f, bytes.Equal(before, after), "byte by byte")
	told := m.plan("ada", service.SetLocality, open.Specimen)
	require.True(f, told.Labels[0].Changed)
	require.Contains(f, said(told)[0], "ITALY")
	_, err = m.service.SheetFile(f.Context(), m.actors["rita"], made.ID, words)
	requireKind(f.T, review.KindNotFound, err)
}

func labelPlaces(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	for who, want := range map[string]string{
		"ada":  "AUSTRIA: Kauns",
		"cora": "Kauns",
		"rita": "AUSTRIA: Landeck, / 47.1°N 10.7°E, / place withheld / 14.v.2026",
		"ben":  "AUSTRIA: 47.1°N 10.7°E, / place withheld / 14.v.2026",
	} {
		text := said(m.plan(who, service.SetLocality, open.Specimen))[0]
		require.Contains(f, text, strings.TrimPrefix(want, "AUSTRIA: Kauns"), who)
		require.Equal(f, who == "ada" || who == "cora", strings.Contains(text, "Kauns") && strings.Contains(text, "leg. Ada"), "%s: %s", who, text)
	}
	made := m.printed("ben", order(m.plan("ben", service.SetLocality, open.Specimen)))
	require.Equal(f, review.PlaceCoarse, made.Labels[0].Place)
}

func slipsOfActs(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	agrees := func(rank review.Rank) review.ReviewForm {
		return review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionAgrees, Rank: rank, Basis: review.BasisPhotos}}
	}
	m.reviewed("rita", open.ID, agrees(review.RankGenus))
	m.reviewed("rolf", open.ID, review.ReviewForm{Opinion: &review.OpinionForm{Kind: review.OpinionLeftOpen, Basis: review.BasisSpecimen}})
	slips := func(who string) []string { m.Helper(); return said(m.plan(who, service.SetSlips, open.Specimen)) }
	det := slips("ada")[0]
	require.Equal(f, []string{det}, slips("cora"), "not before she has released it")
	require.Contains(f, det, "Agriotes lineatus")
	require.Contains(f, det, "det. ")

	release := func(who string, takeBack bool) error {
		_, err := m.service.ReleaseSlip(f.Context(), m.actors[who], open.ID, service.AnyVersion, takeBack)
		return err
	}
	requireKind(f.T, review.KindForbidden, release("ada", false))
	requireKind(f.T, review.KindConflict, release("rolf", false))
	requireKind(f.T, review.KindConflict, release("rosa", false))
	require.NoError(f, release("rita", false))
	conf := "Agriotes / conf. from photo / " + m.actors["rita"].Name + " 2026"
	require.Equal(f, []string{det, conf}, slips("ada"), "below the det. slip, down to the rank agreed on")
	require.Equal(f, []string{det}, slips("rosa"), "sealed until she has said hers")
	require.NoError(f, release("rita", true))
	require.Equal(f, []string{det}, slips("ada"))
	require.NoError(f, release("rita", false))
	m.reviewed("rita", open.ID, agrees(""))
	require.Equal(f, []string{det}, slips("ada"), "what she says later has to be released anew")
	require.NoError(f, release("rita", false))
	require.Contains(f, slips("ada")[1], "Elateridae / conf. from photo")
}

func slipOfIndet(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	_, err := m.service.Undetermine(f.Context(), m.actors["cora"], open.ID, service.AnyVersion, "worn")
	require.NoError(f, err)
	plan := m.plan("ada", service.SetSlips, open.Specimen)
	require.Len(f, plan.Labels, 2)
	require.Equal(f, review.PinIndet, plan.Labels[1].Kind)
	require.Equal(f, "Coleoptera, fam. indet. / det. "+m.actors["cora"].Name+" 2026", said(plan)[1])
	made := m.printed("ada", order(plan))
	_, err = m.service.SheetFile(f.Context(), m.actors["ada"], made.ID, sheet.Words{})
	require.NoError(f, err)
	require.False(f, m.plan("ada", service.SetSlips, open.Specimen).Labels[1].Changed)
}

func printedInHistory(f fixture) {
	m := newCrowd(f, byNumber())
	open, other := m.labelled(), m.submit("ben", "Elateridae", "5")
	before := m.lastPosition()
	plan := m.plan("cora", service.SetLocality, open.Specimen)
	slips := m.plan("cora", service.SetSlips, open.Specimen, other.Specimen)
	both := order(plan)
	both.Labels = append(both.Labels, order(slips).Labels...)
	m.printed("cora", both)
	after := m.lastPosition()
	require.Empty(f, m.asOf("ada", open.ID, before).Printed)
	then := m.asOf("ada", open.ID, after).Printed
	require.Len(f, then, 1)
	require.Len(f, then[0].Labels, 2, "those of other specimens are not told")
	history, err := m.service.HistoryOf(f.Context(), m.actors["ada"], open.ID)
	require.NoError(f, err)
	last := history.Entries[len(history.Entries)-1]
	require.Equal(f, "sheet-printed", last.Kind)
	require.Equal(f, then[0].Labels, last.Change.(*review.SheetPrinted).Labels)
	require.NotEmpty(f, history.Names["cora"])
}

func rebuildPrinted(f fixture) {
	m := newCrowd(f, byNumber())
	open := m.labelled()
	for range 2 {
		m.printed("cora", order(m.plan("cora", service.SetLocality, open.Specimen)))
	}
	found, err := f.db.RebuildCompared(f.Context())
	require.NoError(f, err)
	for _, d := range found {
		require.True(f, d.None(), "%+v", d)
	}
	require.Equal(f, 2, m.plan("cora", service.SetLocality, open.Specimen).Labels[0].Last.Times)
}

func labelsLeftOut(f fixture) {
	m := newCrowd(f, byNumber())
	bare := m.submit("ben", "Elateridae", "5")
	plan := m.plan("cora", service.SetLocality, bare.Specimen, "nothing", bare.Specimen)
	require.Empty(f, plan.Labels)
	require.Equal(f, []service.LeftOutSpecimen{{Specimen: bare.Specimen, Number: m.view("ben", bare.ID).Specimen.Label.CatalogueNumber, Why: service.LeftOutNothing}, {Specimen: "nothing", Why: service.LeftOutUnknown}}, plan.LeftOut)
	many := make([]string, review.MostLabels+1)
	_, err := m.service.PlanLabels(f.Context(), m.actors["cora"], service.LabelAsk{Set: service.SetSlips, Specimens: many})
	requireKind(f.T, review.KindInvalid, err)
	_, err = m.service.PlanLabels(f.Context(), m.actors["cora"], service.LabelAsk{Set: "all"})
	requireKind(f.T, review.KindInvalid, err)
}
