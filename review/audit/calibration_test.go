package audit

import (
	"encoding/csv"
	"encoding/json"
	"os"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

func panelOf(families ...string) []review.PanelOpinion {
	var opinions []review.PanelOpinion
	for i, f := range families {
		opinions = append(opinions, review.PanelOpinion{Family: f, By: strconv.Itoa(i)})
	}
	return opinions
}

func rechecked(p float64, rate float64, panel ...string) review.Submission {
	return review.Submission{Status: review.StatusConfirmed, Recheck: &review.Recheck{Rate: rate, Panel: 3, Opinions: panelOf(panel...),
		Closing: review.Claim{Family: "Elateridae", P: p}, Opening: review.Claim{Family: "Buprestidae", P: 1 - p}}}
}

func smallTablesOf(t *testing.T) *diagnosis.Tables {
	t.Helper()
	tables, problems := diagnosis.Load(os.DirFS("../diagnosis/testdata/valid"))
	require.Empty(t, problems)
	return tables
}

// TestCalibrationIsTampere: WWRP/CAWCR forecast verification pages, probability of precipitation at Tampere in 2003, with
// each day as a recheck: rain is that the panel finds what was claimed.
func TestCalibrationIsTampere(t *testing.T) {
	text, err := os.ReadFile("../confidence/testdata/calibration/expected.json")
	require.NoError(t, err)
	var file struct {
		Tampere struct {
			Cases map[string]struct{ Recomputed, Published map[string]float64 }
		} `json:"precipitation_tampere_2003"`
	}
	require.NoError(t, json.Unmarshal(text, &file))
	want := file.Tampere.Cases["24h_POP"]
	c, err := Calibrate(smallTablesOf(t), tampereRechecks(t))
	require.NoError(t, err)
	require.Equal(t, 346, c.Cases)
	require.Equal(t, 346, c.Closing.Cases)
	require.Equal(t, 81, c.Closing.Right)
	require.InDelta(t, want.Published["brier"], c.Closing.Brier.Value, 5e-4)
	require.InDelta(t, want.Recomputed["brier"], c.Closing.Brier.Value, 1e-12)
	require.InDelta(t, want.Recomputed["uncertainty"], c.Closing.Parts.Uncertainty, 1e-12)
	// Some of the eleven distinct forecasts share a bin of equal numbers, which "within" makes up for.
	parts := c.Closing.Parts
	require.Len(t, c.Closing.Bins, 9)
	require.InDelta(t, want.Recomputed["brier"], parts.Reliability-parts.Resolution+parts.Uncertainty+parts.Within, 1e-12)
	require.InDelta(t, want.Recomputed["resolution"], parts.Resolution, 2e-3)
	require.Equal(t, []RateCases{{Rate: 0.05, Cases: 346}}, c.Rates)
	require.Nil(t, c.Closing.Weighted, "one rate: nothing to weigh")
	// The opening claims the other family with the rest: right on the days without rain, with the same error.
	require.Equal(t, 346-81, c.Opening.Right)
	require.InDelta(t, c.Closing.Brier.Value, c.Opening.Brier.Value, 1e-12)
}

func tampereRechecks(t *testing.T) []review.Submission {
	t.Helper()
	file, err := os.Open("../confidence/testdata/calibration/precipitation_tampere_2003.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var all []review.Submission
	for _, row := range rows[1:] {
		if row[0]+row[1] != "24hPOP" {
			continue
		}
		p, err := strconv.ParseFloat(row[2], 64)
		require.NoError(t, err)
		days, err := strconv.Atoi(row[3])
		require.NoError(t, err)
		rain, err := strconv.Atoi(row[4])
		require.NoError(t, err)
		for i := range days {
			truth := "Buprestidae"
			if i < rain {
				truth = "Elateridae"
			}
			all = append(all, rechecked(p, 0.05, truth, truth, ""))
		}
	}
	return all
}

// TestWhatCountsAsTruth: a complete panel of which more than half name one family, and nothing else.
func TestWhatCountsAsTruth(t *testing.T) {
	reopened := rechecked(0.9, 0.1, "Elateridae")
	reopened.Status = review.StatusOpen
	ended := rechecked(0.9, 0.1, "Elateridae", "Elateridae", "Elateridae")
	ended.Status = review.StatusRedetermined // after the panel was complete: what was claimed then is measured all the same
	c, err := Calibrate(smallTablesOf(t), []review.Submission{
		{Status: review.StatusConfirmed}, {Status: review.StatusOpen}, {Status: review.StatusUndetermined},
		rechecked(0.9, 0.1, "Elateridae", "Elateridae"),                                 // waits for a third
		rechecked(0.9, 0.1, "Elateridae", "Buprestidae", ""),                            // divided
		rechecked(0.9, 0.1, "", "", "Elateridae"),                                       // cannot tell
		rechecked(0.8, 0.1, "Elateridae", "Elateridae", "Buprestidae"),                  // right
		rechecked(0.7, 0.1, judgement.NoneOfThese, judgement.NoneOfThese, "Elateridae"), // wrong
		reopened, ended,
	})
	require.NoError(t, err)
	require.Equal(t, 7, c.Closed)
	require.Equal(t, 7, c.Drawn)
	require.Equal(t, 1, c.Waiting)
	require.Equal(t, 2, c.Divided)
	require.Equal(t, 1, c.Ended)
	require.Equal(t, 3, c.Cases)
	require.Equal(t, c.Drawn, c.Waiting+c.Divided+c.Ended+c.Cases)
	require.Equal(t, 2, c.Closing.Right)
	require.InDelta(t, 2.0/5, c.Closing.RightLeast, 1e-12)
	require.InDelta(t, 4.0/5, c.Closing.RightMost, 1e-12)
	require.InDelta(t, (0.04+0.49+0.01)/3, c.Closing.Brier.Value, 1e-12)
	require.Contains(t, c.Closing.Brier.Warnings, confidence.FewCases)
	require.Contains(t, c.Closing.Error.Warnings, confidence.FewCases)
}

// TestOldNamesAreOneFamily: claim and panel may have been given under different releases.
func TestOldNamesAreOneFamily(t *testing.T) {
	tables := diagnosis.Default()
	old, today := "", ""
	for i := range tables.Families {
		if names := tables.Families[i].OldNames; len(names) > 0 {
			old, today = names[0].Name, tables.Families[i].Name
		}
	}
	require.NotEmpty(t, old)
	s := rechecked(0.9, 0.1, today, today, today)
	s.Recheck.Closing.Family = old
	c, err := Calibrate(tables, []review.Submission{s})
	require.NoError(t, err)
	require.Equal(t, 1, c.Closing.Right)
}

// TestRatesThatChanged: half of what was closed at first was drawn, all wrong; then a tenth, all right. Of a thousand of
// each, 500 and 100 were drawn: unweighted a sixth is right, of all that was closed it is half.
func TestRatesThatChanged(t *testing.T) {
	var all []review.Submission
	for range 500 {
		all = append(all, rechecked(0.5, 0.5, "Buprestidae", "Buprestidae", "Buprestidae"))
	}
	for range 100 {
		all = append(all, rechecked(0.5, 0.1, "Elateridae", "Elateridae", "Elateridae"))
	}
	c, err := Calibrate(smallTablesOf(t), all)
	require.NoError(t, err)
	require.Equal(t, []RateCases{{0.1, 100}, {0.5, 500}}, c.Rates)
	require.Equal(t, 100, c.Closing.Right)
	w := c.Closing.Weighted
	require.NotNil(t, w)
	require.InDelta(t, 0.5, w.Right, 1e-12)
	require.InDelta(t, 0.25, w.Brier.Value, 1e-12)
	// Kish: (500·2 + 100·10)² / (500·4 + 100·100).
	require.InDelta(t, 4e6/12000, w.Cases, 1e-9)
}

// TestWeightedMeanOfEqualWeights has the usual standard error of a mean.
func TestWeightedMeanOfEqualWeights(t *testing.T) {
	s := weightedMean([]float64{1, 2, 3, 4}, []float64{7, 7, 7, 7})
	require.InDelta(t, 2.5, s.Value, 1e-12)
	require.InDelta(t, 0.6454972243679028, s.StandardError, 1e-12) // √(5/3 / 4)
}

func TestCalibrationOfNothing(t *testing.T) {
	c, err := Calibrate(smallTablesOf(t), nil)
	require.NoError(t, err)
	require.Zero(t, c.Cases)
	require.Equal(t, []confidence.Warning{confidence.NoCases}, c.Closing.Brier.Warnings)
	require.Empty(t, c.Closing.Bins)
}
