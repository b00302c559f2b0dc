package pages

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/jobs"
	"revidit/review/judgement"
	"revidit/review/service"
)

func TestNumbersInWords(t *testing.T) {
	for p, want := range map[float64]string{0: "0 %", 1: "100 %", 0.004: "under 1 %", 0.996: "over 99 %", 0.255: "26 %"} {
		require.Equal(t, want, Share(t.Context(), p))
	}
	for p, want := range map[float64]string{1e-9: "< 0.001", 1 - 1e-9: "> 0.999", 0.95: "0.950"} {
		require.Equal(t, want, Probability(t.Context(), p))
	}
	// Odds are p : (1-p); 10 decibans are a factor of ten, 3 nearly two (10^0.3 = 1.995).
	require.Equal(t, "about 19 to 1 for it", Odds(t.Context(), 0.95))
	require.Equal(t, "about 4 to 1 against it", Odds(t.Context(), 0.2))
	require.Equal(t, "more than 1,000 to 1 for it", Odds(t.Context(), 0.99999))
	require.Empty(t, Odds(t.Context(), 1))
	require.Equal(t, "about even", Odds(t.Context(), 0.5))
	// Mastrandrea et al. 2010, table 1: very likely 90-100 %, likely 66-100 %, unlikely 0-33 %, very unlikely 0-10 %.
	for p, want := range map[float64]string{0.9: "very likely", 0.89: "likely", 0.66: "likely", 0.65: "open", 0.34: "open", 0.33: "unlikely", 0.1: "very unlikely", 0: "very unlikely"} {
		require.Equal(t, want, Likelihood(t.Context(), p))
	}
	require.Equal(t, "10 times likelier", decibansWords(t.Context(), 10))
	require.Equal(t, "2 times less likely", decibansWords(t.Context(), -3))
	require.Equal(t, "hardly matters", decibansWords(t.Context(), 0))
	require.Equal(t, "−3.2", signed(t.Context(), -3.2))
	require.Equal(t, "0.0", signed(t.Context(), -0.01))
}

func TestEveryStatusKindAndVerdictHasWords(t *testing.T) {
	for _, s := range review.Statuses {
		require.NotEmpty(t, Status(t.Context(), s))
		require.NotEmpty(t, statusMeans(t.Context(), s))
	}
	for _, k := range review.VerdictKinds {
		require.NotEmpty(t, verdictWords(t.Context(), k))
	}
	for _, k := range []judgement.ContradictionKind{judgement.Excluded, judgement.Unusual, judgement.Combination, judgement.Incompatible, judgement.Unseen, judgement.BetterFit} {
		require.NotEmpty(t, contradictionWords(t.Context(), k))
	}
	require.Len(t, lineVerdicts(t.Context()), len(review.VerdictKinds))
}

func TestSlipWords(t *testing.T) {
	d := review.Determination{Family: "Elateridae", ScientificName: "Agriotes lineatus"}
	require.Equal(t, "on a slip: conf. Elateridae", slipWords(t.Context(), review.Opinion{Kind: review.OpinionAgrees, Basis: review.BasisSpecimen}, d))
	require.Equal(t, "no slip", slipWords(t.Context(), review.Opinion{Kind: review.OpinionLeftOpen}, d))
	require.Equal(t, "has seen it and leaves the name open (vid.)", opinionWords(t.Context(), review.Opinion{Kind: review.OpinionLeftOpen}))
}

// The taxon and the rank at which naming stopped stand with it (Sigovini et al. 2016, Methods Ecol. Evol. 7: 1217, from memory).
func TestIndetNeverStandsAlone(t *testing.T) {
	b := BookOf(diagnosis.Default())
	require.Equal(t, "Coleoptera, fam. indet.", b.standingName(t.Context(), review.StatusUndetermined, review.Determination{Family: "Elateridae"}))
	require.Equal(t, "Elateridae", b.standingName(t.Context(), review.StatusConfirmed, review.Determination{Family: "Elateridae"}))
	for _, s := range review.Statuses {
		require.NotContains(t, Status(t.Context(), s), "indet.")
	}
}

func TestHistoryTellsEveryEvent(t *testing.T) {
	changes := []review.Change{&review.SpecimenRegistered{Label: review.Label{CatalogueNumber: "A"}}, &review.LabelCorrected{Label: review.Label{CatalogueNumber: "B"}, Reason: "misread"},
		&review.PhotosAdded{Photos: make([]review.Photo, 2)}, &review.ObservationsRecorded{Observations: []review.Observation{{ID: "o", Character: "ventrites", State: "5"}}},
		&review.ObservationWithdrawn{Observation: "o", Reason: "wrong"}, &review.Drafted{}, &review.Revised{Proposal: review.Proposal{Remarks: "new"}}, &review.Submitted{},
		&review.Held{Until: time.Unix(0, 0)}, &review.HoldEnded{}, &review.HoldPassedOn{Until: time.Unix(0, 0), Reason: "r"}, &review.VerdictsGiven{Verdicts: make([]review.Verdict, 1)},
		&review.OpinionGiven{Opinion: review.Opinion{Kind: review.OpinionAgrees}}, &review.Replied{}, &review.Returned{Return: review.Return{Want: review.WantPhoto}}, &review.Answered{},
		&review.Assessed{}, &review.Confirmed{}, &review.Redetermined{}, &review.Undetermined{}, &review.Withdrawn{}, &review.Reopened{},
		&review.Opened{}, &review.Opened{Verdicts: true}}
	var h service.History
	for _, c := range changes {
		h.Entries = append(h.Entries, service.HistoryEntry{At: "2026-05-14T09:41:07.000000Z", Kind: c.EventKind(), Change: c, Role: review.RoleMember})
	}
	h.Entries = append(h.Entries, service.HistoryEntry{At: "2026-05-14T09:41:07.000000Z", Hidden: true})
	told := Tell(t.Context(), Book{diagnosis.Default()}, h)
	require.Len(t, told, len(changes)+1)
	for i, c := range changes {
		require.NotEmpty(t, told[i].What)
		require.NotEqual(t, c.EventKind(), told[i].What, "told in words, not by its kind")
		require.Equal(t, "14 May 2026, 09:41 UTC", told[i].At)
	}
	require.Equal(t, Detail{Term: "Catalogue number", Before: "A", After: "B"}, told[1].Details[0])
	require.Equal(t, "5", told[4].Details[0].Before)
	last := told[len(changes)]
	require.True(t, last.Hidden)
	require.Empty(t, last.Details)
}

// Numbers of marks never cover each other and stay on the photo, wherever people draw.
func TestNumbersOfMarksStandApart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := review.Photo{ID: "p", Width: rapid.IntRange(400, 8000).Draw(t, "width"), Height: rapid.IntRange(400, 8000).Draw(t, "height")}
		var marks []Shown
		for i := range rapid.IntRange(0, 60).Draw(t, "marks") {
			region := review.Region{X: rapid.Float64Range(0, 0.5).Draw(t, fmt.Sprint("x", i)), Y: rapid.Float64Range(0, 0.5).Draw(t, fmt.Sprint("y", i)), W: 0.2, H: 0.2}
			marks = append(marks, Shown{No: i + 1, Observation: review.Observation{Photo: "p", Region: &region}})
		}
		placed := numbersOn(p, marks)
		require.Len(t, placed, len(marks))
		for i, a := range placed {
			require.LessOrEqual(t, a.X, float64(p.Width))
			require.LessOrEqual(t, a.Y, float64(p.Height))
			for _, b := range placed[:i] {
				require.GreaterOrEqual(t, math.Hypot(a.X-b.X, a.Y-b.Y), 2*badge(p))
			}
		}
	})
}

func TestCloseLookStaysOnThePhoto(t *testing.T) {
	p := review.Photo{Width: 1000, Height: 800}
	b := boxOf(review.Region{X: 0, Y: 0.9, W: 0.2, H: 0.1}, p)
	require.Equal(t, box{X: 0, Y: 720, W: 200, H: 80}, b)
	require.Equal(t, box{X: 0, Y: 700, W: 250, H: 100}, b.widened(p), "a margin of a quarter, cut at the edge")
}

func TestBookSays(t *testing.T) {
	b := Book{diagnosis.Default()}
	require.Equal(t, "nearly always (100 %)", b.Says(t.Context(), "Elateridae", "antenna-elbowed", "no"))
	require.Equal(t, "never", b.Says(t.Context(), "Elateridae", "rostrum", "long"))
	require.Contains(t, b.Says(t.Context(), "Elateridae", "body-length-mm", "12"), "mm")
	require.Empty(t, b.Says(t.Context(), "Nosuchidae", "rostrum", "long"))
	require.Equal(t, "12 mm", b.State("body-length-mm", "12"))
	require.Equal(t, "unknown-id", b.Character("unknown-id"))
}

func TestEveryKindOfJobHasWords(t *testing.T) {
	for _, kind := range jobs.Kinds() {
		require.NotEqual(t, string(kind), jobWords(t.Context(), kind))
	}
}

// TestFormerMethodIsNamed: the number of an assessment stands as it was made, and the page says by which method; one that names
// none is of the first.
func TestFormerMethodIsNamed(t *testing.T) {
	for _, method := range []string{"", judgement.FirstMethod} {
		told := tablesWords(t.Context(), judgement.Assessment{Method: method})
		require.Contains(t, told, "by method "+judgement.FirstMethod+". That is a former method")
		require.Contains(t, told, judgement.Method)
	}
	require.Contains(t, tablesWords(t.Context(), judgement.Assessment{Method: judgement.SecondMethod}), "by method "+judgement.SecondMethod+". That is a former method")
	require.NotContains(t, tablesWords(t.Context(), judgement.Assessment{Method: judgement.Method}), "former")
}

// A text may begin with a sign of several bytes.
func TestCapitalsOfWords(t *testing.T) {
	require.Equal(t, "Saw-like", capital("saw-like"))
	require.Equal(t, "“thread-like” cannot go with it", capital("“thread-like” cannot go with it"))
	require.Equal(t, "Élytre", capital("élytre"))
	require.Empty(t, capital(""))
}

// TestOpinionsThatCount: one of one counts, and so does none of one; common usage, no source.
func TestOpinionsThatCount(t *testing.T) {
	for _, c := range []struct {
		n, of int
		want  string
	}{{0, 1, "counts as agreeing"}, {1, 1, "counts as agreeing"}, {1, 3, "counts as agreeing"}, {0, 2, "count as agreeing"}, {2, 3, "count as agreeing"}} {
		require.Contains(t, voicesOf(t.Context(), c.n, c.of, "enough"), " "+c.want+" with the name; enough")
	}
}
