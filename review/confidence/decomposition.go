package confidence

// Decomposition is the Brier score in its parts: Brier = Reliability − Resolution + Uncertainty + Within.
type Decomposition struct {
	Brier float64
	// Reliability, from 0 (best) on, is the mean squared distance of forecast and observed share over the bins.
	Reliability float64
	// Resolution, from 0 (worst) to Uncertainty, is the mean squared distance of the observed shares from the overall one.
	Resolution float64
	// Uncertainty is o · (1 − o) of the overall share o: the Brier score of always forecasting o.
	Uncertainty float64
	// Within is what bins of different forecasts hide: the variance of the forecasts within bins minus twice their
	// covariance with the outcomes. It is 0 where each bin holds one forecast.
	Within float64
	// Skill is 1 − Brier / Uncertainty: 1 is perfect, 0 as good as always forecasting o. Where SkillOK is false all
	// outcomes were the same, and there is none.
	Skill    float64
	SkillOK  bool
	Cases    float64
	OK       bool // false without cases; all numbers are then 0
	Warnings []Warning
}

// Decompose takes the Brier score apart. Reliability falls and Resolution may rise or fall with other bins, so numbers
// are comparable with the same bins only; the published decomposition is that of DistinctBins.
//
// Sources: Murphy A.H. 1973. A new vector partition of the probability score. Journal of Applied Meteorology 12: 595-600;
// the part within bins: Stephenson D.B., Coelho C.A.S., Jolliffe I.T. 2008. Two extra components in the Brier score
// decomposition. Weather and Forecasting 23: 752-757. TestTampere checks a published table.
func Decompose(bins []Bin) Decomposition {
	d, events := Decomposition{}, 0.0
	for _, b := range bins {
		d.Cases += b.Cases
		events += b.Cases * b.Observed
	}
	d.OK = d.Cases > 0
	if !d.OK {
		d.Warnings = []Warning{NoCases}
		return d
	}
	overall := events / d.Cases
	for _, b := range bins {
		share := b.Cases / d.Cases
		d.Brier += share * b.Score
		d.Reliability += share * (b.Forecast - b.Observed) * (b.Forecast - b.Observed)
		d.Resolution += share * (b.Observed - overall) * (b.Observed - overall)
	}
	d.Uncertainty = max(overall*(1-overall), 0)
	d.Within = d.Brier - (d.Reliability - d.Resolution + d.Uncertainty)
	if d.Cases < fewCases {
		d.Warnings = append(d.Warnings, FewCases)
	}
	if d.Uncertainty < oneOutcome {
		d.Warnings = append(d.Warnings, OneOutcome)
		return d
	}
	d.SkillOK, d.Skill = true, 1-d.Brier/d.Uncertainty
	return d
}

// oneOutcome is above what rounding leaves of an uncertainty of 0, and below that of one event in a thousand million.
const oneOutcome = 1e-10
