package pages

import (
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/web/words"
)

// XML and HTML read comments, character data and nested titles by different rules (WHATWG HTML, section 13.2.6.5: title
// and desc of an SVG hold HTML): only shapes may come through.
func TestOnlyShapesOfADrawingComeThrough(t *testing.T) {
	for _, hidden := range []string{
		`<desc><title><!--</title><img src="x">--></title></desc>`,
		`<title><![CDATA[<script>alert(1)</script>]]></title>`,
		`<title>&lt;script&gt;</title>`,
		`<!-- </svg><p> -->`,
		`<title><g><path d="M0 0"/></g></title>`,
		`<a href="/"><path d="M9 9"/></a>`,
	} {
		made := shapesOf(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 8 8" onload="x" color="#221e19"><title>A</title>` + hidden + `<g fill="&quot;"><circle r="1"/></g></svg>`)
		require.Equal(t, `<svg aria-hidden="true" focusable="false" viewBox="0 0 8 8"><g fill="&#34;"><circle r="1"></circle></g></svg>`, made, hidden)
	}
	require.Empty(t, shapesOf(`<svg><path`))
}

func TestEveryBuiltInDrawingComesThrough(t *testing.T) {
	for _, tables := range diagnosis.All() {
		b := BookOf(tables)
		for _, c := range b.Characters {
			for _, s := range c.States {
				if b.hasPicture(c.ID, s.ID) {
					require.Contains(t, b.inline(c.ID, s.ID), `viewBox=`, c.ID+" "+s.ID)
					require.NotContains(t, b.inline(c.ID, s.ID), "<title")
				}
			}
		}
	}
}

func TestRankOfAPage(t *testing.T) {
	family := BookOf(&diagnosis.Tables{Group: diagnosis.Group{ID: "a", Title: "A", Rank: "family"}})
	order := BookOf(&diagnosis.Tables{Group: diagnosis.Group{ID: "b", Title: "B", Rank: "order"}})
	require.Equal(t, "family", Site{Books: []Book{family}}.rank())
	require.Equal(t, "taxon", Site{Books: []Book{family, order}}.rank())
	require.Equal(t, "order", Site{Books: []Book{family, order}}.About(order).rank())
	require.Equal(t, "gone", Site{Books: []Book{family, order}}.groupTitle("gone"))
}

func TestFrequencyInWordsAndPerCent(t *testing.T) {
	cell := &diagnosis.Cell{P: []float64{0.61, 0.22, 0.09, 0.08, 0}, Words: []string{"0.61", "0.22", "0.09", "0.08", "0"}}
	require.Equal(t, "usually, 61 %", frequency(t.Context(), cell, 0))
	require.Equal(t, "often, 22 %", frequency(t.Context(), cell, 1))
	require.Equal(t, "sometimes, 9 %", frequency(t.Context(), cell, 2))
	worded := &diagnosis.Cell{P: []float64{0.98, 0.02}, Words: []string{"always", "rarely"}}
	require.Equal(t, "nearly always, 98 %", frequency(t.Context(), worded, 0), "always leaves room beside rarely")
	require.Equal(t, "always, 100 %", frequency(t.Context(), &diagnosis.Cell{P: []float64{1}, Words: []string{"always"}}, 0))
}

func TestLengthOverAllForms(t *testing.T) {
	form := func(low, usualLow, usualHigh, high float64) diagnosis.Form {
		return diagnosis.Form{Cells: map[string]*diagnosis.Cell{"length": {Length: diagnosis.Length{Min: low, Usual: [2]float64{usualLow, usualHigh}, Max: high}}}}
	}
	f := &diagnosis.Family{Name: "F", Forms: []diagnosis.Form{form(1, 2, 8, 9), form(1, 2, 8, 9)}}
	require.Equal(t, "mostly 2–8 mm, at the extremes 1–9 mm", lengthsOf(t.Context(), f, "length"))
	f.Forms = append(f.Forms, form(0.5, 3, 12, 20))
	require.Equal(t, "mostly 2–12 mm, at the extremes 0.5–20 mm, over all its forms", lengthsOf(t.Context(), f, "length"))
	require.Equal(t, "not recorded for F", lengthsOf(t.Context(), f, "width"))
}

// The sentences are those of review.Effect.
func TestEffectNamesCharactersByTheirLabels(t *testing.T) {
	book := BookOf(diagnosis.Default())
	site := Site{Book: book, Books: []Book{book}}
	require.Equal(t, "excluded: Antenna, outline, with an abrupt club", site.retold(t.Context(), "sentence.flag-", "excluded: antenna-form, capitate"))
	require.Equal(t, "Antenna, outline would be excluded", site.retold(t.Context(), "sentence.doubt-", "antenna-form would be excluded"))
	require.Equal(t, "Buprestidae would lead", site.retold(t.Context(), "sentence.doubt-", "Buprestidae would lead"))
	german := words.In(t.Context(), language.German)
	require.Equal(t, "Buprestidae läge vorn", site.retold(german, "sentence.doubt-", "Buprestidae would lead"))
	require.Equal(t, "die Sicherheit fiele von 0,951 auf 0,920, unter die 0,950 der Regeln",
		site.retold(german, "sentence.doubt-", "the confidence would fall from 0.951 to 0.920, below the policy's 0.950"))
}

func TestEveryProposalStatusHasWords(t *testing.T) {
	require.Len(t, proposalStatuses, len(proposalIDs))
	for _, s := range proposalStatuses {
		require.NotEmpty(t, proposalWords(t.Context(), s))
		require.NotEmpty(t, proposalMeans(t.Context(), s))
	}
	require.Equal(t, "agreed", decisionWords(t.Context(), ChangeData{Proposal: review.CellProposal{Status: review.ProposalReleased}}))
}

// What is typed is looked for as a name, and where words begin: the ending of families is in no word of its own.
func TestTermsAreFoundByNamesAndBeginnings(t *testing.T) {
	site := Site{Books: []Book{BookOf(diagnosis.Default().In("de"))}}
	names := func(text string) (all []string) {
		for _, found := range termsWith(site, text) {
			all = append(all, found.name)
		}
		return all
	}
	require.Empty(t, names("idae"))
	require.Equal(t, "Coccinellidae", names("Marienkäfer")[0], "a common name")
	require.Equal(t, "Elateridae", names("elater")[0])
	require.Contains(t, names("Fühler"), "Fühler, gekniet")
	require.Empty(t, names(" "))
}
