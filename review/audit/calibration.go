package audit

import (
	"cmp"
	"math"
	"slices"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Calibration holds what the service claimed against what blind panels found: are names at 0.9 right nine times in ten?
// The truth is a complete panel that knew nothing of the determination, never our own settlement.
type Calibration struct {
	Group string `json:"group"`
	// Closed are submissions that stand confirmed or undetermined: a recheck is drawn from those.
	Closed int `json:"closed" doc:"Submissions that stand confirmed or undetermined"`
	Drawn  int `json:"drawn" doc:"Submissions drawn for a recheck, whatever has become of them"`
	// Drawn = Waiting + Ended + Divided + Cases.
	Waiting int `json:"waiting" doc:"Drawn, and the panel is not complete"`
	Ended   int `json:"ended" doc:"Drawn, and opened again or redetermined before the panel was complete"`
	Divided int `json:"divided" doc:"The panel is complete and no family has more than half of it: there is no truth to measure by"`
	Cases   int `json:"cases" doc:"The panel is complete and more than half name one family"`
	// Rates are the recorded probabilities of being drawn, with how many cases each has.
	Rates   []RateCases `json:"rates" nullable:"false"`
	Opening Forecasts   `json:"opening" doc:"The claim when the submission came before reviewers"`
	Closing Forecasts   `json:"closing" doc:"The claim when it closed"`
}

// RateCases are the cases that were drawn with one probability.
type RateCases struct {
	Rate  float64 `json:"rate" doc:"Recorded probability of being drawn, 0 to 1"`
	Cases int     `json:"cases"`
}

// Forecasts are claims of one moment: the event is that the leading family is the panel's, the forecast its probability.
type Forecasts struct {
	Cases int     `json:"cases"`
	Right int     `json:"right" doc:"Cases in which the panel names the family that was claimed"`
	Mean  float64 `json:"mean" doc:"Mean claimed probability, 0 to 1"`
	// RightLeast and RightMost are the share of right names if all divided panels had spoken against, or for the claim.
	RightLeast float64 `json:"right_least" doc:"Share of right claims if every divided panel had found otherwise, 0 to 1"`
	RightMost  float64 `json:"right_most" doc:"The same if every divided panel had agreed"`
	Brier      Score   `json:"brier" doc:"Mean squared error of the claimed probability, 0 best to 1 (Brier 1950)"`
	Log        Score   `json:"log" doc:"Mean of minus the natural logarithm of the probability given to what came out, of 'right' and 'wrong', 0 best (Good 1952)"`
	Parts      Parts   `json:"parts"`
	Error      Miss    `json:"calibration_error"`
	Bins       []Bin   `json:"bins" nullable:"false" doc:"Reliability diagram: 3 to 15 bins of equal numbers, about ten cases or more in each where there are so many"`
	// Weighted is given where the cases were drawn at several rates.
	Weighted *Weighted `json:"weighted,omitempty"`
}

// Score is a mean over cases.
type Score struct {
	Value         float64              `json:"value"`
	StandardError float64              `json:"standard_error"`
	Warnings      []confidence.Warning `json:"warnings" nullable:"false"`
}

// Parts are those of the Brier score: Brier = Reliability − Resolution + Uncertainty + Within.
type Parts struct {
	Reliability float64              `json:"reliability" doc:"Mean squared distance of claimed and observed share, 0 best (Murphy 1973)"`
	Resolution  float64              `json:"resolution" doc:"Mean squared distance of the observed shares from the overall one, 0 worst"`
	Uncertainty float64              `json:"uncertainty" doc:"Brier score of always claiming the overall share"`
	Within      float64              `json:"within" doc:"What the bins hide of differences within them (Stephenson, Coelho and Jolliffe 2008)"`
	Warnings    []confidence.Warning `json:"warnings" nullable:"false"`
}

// Miss is the expected calibration error.
type Miss struct {
	Value    float64              `json:"value" doc:"Mean distance of claimed and observed share over 15 bins of equal numbers, 0 best to 1 (Naeini, Cooper and Hauskrecht 2015)"`
	Low      float64              `json:"low" doc:"Lower end of a 95 % interval"`
	High     float64              `json:"high" doc:"Upper end"`
	Chance   float64              `json:"chance" doc:"What perfectly calibrated claims would show by chance alone"`
	Warnings []confidence.Warning `json:"warnings" nullable:"false"`
}

// Bin is a point of the reliability diagram.
type Bin struct {
	Cases    int                  `json:"cases"`
	Claimed  float64              `json:"claimed" doc:"Mean claimed probability"`
	Least    float64              `json:"least"`
	Most     float64              `json:"most"`
	Observed float64              `json:"observed" doc:"Share of right claims"`
	Low      float64              `json:"low" doc:"Lower end of its 95 % interval (Wilson 1927)"`
	High     float64              `json:"high" doc:"Upper end"`
	Warnings []confidence.Warning `json:"warnings" nullable:"false"`
}

// Weighted are means in which each case counts 1 / rate, so that a time at which many were drawn does not count for more
// than its share of what was closed: Σ y/r / Σ 1/r (Hájek's form of Horvitz D.G., Thompson D.J. 1952. A generalization of
// sampling without replacement from a finite universe. Journal of the American Statistical Association 47: 663-685).
type Weighted struct {
	Cases float64 `json:"effective_cases" doc:"Number of equally weighted cases that would tell as much, (Σw)² / Σw² (Kish 1965)"`
	Right float64 `json:"right" doc:"Share of right claims"`
	Mean  float64 `json:"mean" doc:"Mean claimed probability"`
	Brier Score   `json:"brier"`
	Log   Score   `json:"log"`
}

// caseOf is a recheck with its truth.
type caseOf struct {
	opening, closing review.Claim
	truth            string
	rate             float64
}

// Calibrate takes the rechecks of the submissions of a group.
func Calibrate(t *diagnosis.Tables, submissions []review.Submission) (Calibration, error) {
	out := Calibration{Group: t.Group.ID, Rates: []RateCases{}}
	var cases []caseOf
	for i := range submissions {
		s := &submissions[i]
		if s.Status == review.StatusConfirmed || s.Status == review.StatusUndetermined {
			out.Closed++
		}
		if c, known := out.count(s, t); known {
			cases = append(cases, c)
		}
	}
	out.Rates = ratesOf(cases)
	var err error
	if out.Opening, err = out.forecasts(cases, func(c caseOf) review.Claim { return c.opening }); err != nil {
		return out, err
	}
	out.Closing, err = out.forecasts(cases, func(c caseOf) review.Claim { return c.closing })
	return out, err
}

// count notes what has become of a recheck, and returns it where there is a truth.
func (c *Calibration) count(s *review.Submission, t *diagnosis.Tables) (caseOf, bool) {
	r := s.Recheck
	if r == nil {
		return caseOf{}, false
	}
	c.Drawn++
	truth, known := r.Truth()
	switch {
	case known:
		c.Cases++
		return caseOf{opening: today(r.Opening, t), closing: today(r.Closing, t), truth: todaysName(t, truth), rate: r.Rate}, true
	case r.Complete():
		c.Divided++
	case s.Status == review.StatusConfirmed || s.Status == review.StatusUndetermined:
		c.Waiting++
	default:
		c.Ended++
	}
	return caseOf{}, false
}

func today(c review.Claim, t *diagnosis.Tables) review.Claim {
	return review.Claim{Family: todaysName(t, c.Family), P: c.P}
}

// todaysName is the accepted name: claim and panel may have been given under different releases of the tables.
func todaysName(t *diagnosis.Tables, name string) string {
	if family, _, ok := t.Resolve(name); ok {
		return family.Name
	}
	return name
}

func ratesOf(cases []caseOf) []RateCases {
	rates := []RateCases{}
	for _, c := range cases {
		at := slices.IndexFunc(rates, func(r RateCases) bool { return r.Rate == c.rate })
		if at < 0 {
			at = len(rates)
			rates = append(rates, RateCases{Rate: c.rate})
		}
		rates[at].Cases++
	}
	slices.SortFunc(rates, func(a, b RateCases) int { return cmp.Compare(a.Rate, b.Rate) })
	return rates
}

// calibrationSeed makes the interval of the calibration error the same at each look.
const calibrationSeed = 1

func (c *Calibration) forecasts(cases []caseOf, claim func(caseOf) review.Claim) (Forecasts, error) {
	out := Forecasts{Cases: len(cases), Bins: []Bin{}}
	p, right, truth := make([]float64, len(cases)), make([]bool, len(cases)), make([]int, len(cases))
	both := make([][]float64, len(cases)) // probabilities of wrong and right
	for i, one := range cases {
		p[i], right[i] = claim(one).P, claim(one).Family == one.truth
		both[i] = []float64{1 - p[i], p[i]}
		out.Mean += p[i] / float64(len(cases))
		if right[i] {
			out.Right++
			truth[i] = 1
		}
	}
	if all := float64(len(cases) + c.Divided); all > 0 {
		out.RightLeast, out.RightMost = float64(out.Right)/all, float64(out.Right+c.Divided)/all
	}
	brier, err := confidence.Brier(p, right)
	if err != nil {
		return out, err
	}
	log, err := confidence.LogScore(both, truth)
	if err != nil {
		return out, err
	}
	miss, err := confidence.ExpectedCalibrationError(p, right, calibrationSeed)
	if err != nil {
		return out, err
	}
	out.Brier, out.Log = scoreOf(brier), scoreOf(log)
	out.Error = Miss{Value: miss.Value, Low: miss.Low, High: miss.High, Chance: miss.Chance, Warnings: nonNilWarnings(miss.Warnings)}
	parts := confidence.Decompose(miss.Bins)
	out.Parts = Parts{Reliability: parts.Reliability, Resolution: parts.Resolution, Uncertainty: parts.Uncertainty, Within: parts.Within,
		Warnings: nonNilWarnings(parts.Warnings)}
	bins, err := confidence.EqualMassBins(p, right, diagramBins(len(cases)))
	if err != nil {
		return out, err
	}
	for _, b := range bins {
		out.Bins = append(out.Bins, Bin{Cases: int(b.Cases), Claimed: b.Forecast, Least: b.Least, Most: b.Most, Observed: b.Observed,
			Low: b.Low, High: b.High, Warnings: nonNilWarnings(b.Warnings)})
	}
	if len(c.Rates) > 1 {
		out.Weighted = weightedOf(cases, p, right)
	}
	return out, nil
}

// diagramBins is how many groups a diagram shows: ten cases in each where there are so many. Our own choice, no source: the
// calibration error has fifteen whatever the number of cases.
func diagramBins(cases int) int {
	return min(max(cases/10, 3), confidence.CalibrationBins)
}

func scoreOf(s confidence.Score) Score {
	return Score{Value: s.Value, StandardError: s.StandardError, Warnings: nonNilWarnings(s.Warnings)}
}

func weightedOf(cases []caseOf, p []float64, right []bool) *Weighted {
	n := len(cases)
	w, hit, squares, logs := make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	sum, sumOfSquares := 0.0, 0.0
	for i, c := range cases {
		w[i] = 1 / c.rate
		sum, sumOfSquares = sum+w[i], sumOfSquares+w[i]*w[i]
		given := 1 - p[i]
		if right[i] {
			hit[i], given = 1, p[i]
		}
		squares[i], logs[i] = (1-given)*(1-given), -math.Log(max(given, 1/judgement.PerUnit))
	}
	out := &Weighted{Cases: sum * sum / sumOfSquares, Brier: weightedMean(squares, w), Log: weightedMean(logs, w)}
	out.Right, out.Mean = weightedMean(hit, w).Value, weightedMean(p, w).Value
	return out
}

// weightedMean has the standard error of a ratio by linearisation, which takes cases as independent:
// √(Σ w²·(y − ȳ)² · n/(n−1)) / Σ w (Cochran W.G. 1977, Sampling Techniques, chapter 6).
func weightedMean(y, w []float64) Score {
	s := Score{Warnings: []confidence.Warning{}}
	sum, squares, n := 0.0, 0.0, float64(len(y))
	for i := range y {
		s.Value += w[i] * y[i]
		sum += w[i]
	}
	s.Value /= sum
	for i := range y {
		d := w[i] * (y[i] - s.Value)
		squares += d * d
	}
	if n > 1 {
		s.StandardError = math.Sqrt(squares*n/(n-1)) / sum
	}
	return s
}
