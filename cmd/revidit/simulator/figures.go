package simulator

import (
	"math"

	"revidit/review/confidence"
)

// Method is one way to a name, held against the truth.
type Method struct {
	Right       float64 // share of right names
	Brier       float64 // of the name being right
	Log         float64 // logarithmic score of the same, in natural units
	Calibration float64 // expected calibration error
	Chance      float64 // what of it chance alone would show
}

// Figures are those of one world.
type Figures struct {
	Ours, Fixed, Majority Method
	// Start is the share of right top names before any reviewer looked.
	Start float64
	// Looks are the verdicts until enoughRight of all top names are right for good, LooksArrival the same in order of
	// arrival; -1 where they never are. Spent and SpentArrival are all verdicts.
	Looks, LooksArrival int
	Spent, SpentArrival int
	// Reliability is the mean absolute error of estimated reliabilities when a person and region had enough reports, in
	// Slots persons and regions; ReliabilityEnd that of the same in the end.
	Reliability, ReliabilityEnd float64
	Slots                       int
}

// LooksRatio is Looks as a share of LooksArrival, and false where ours never gets there. Where order of arrival never
// does, all its verdicts stand for those that it would need at least.
func (f *Figures) LooksRatio() (float64, bool) {
	if f.Looks < 0 {
		return 0, false
	}
	arrival := f.LooksArrival
	if arrival < 0 {
		arrival = f.SpentArrival
	}
	if arrival == 0 {
		return 0, false
	}
	return float64(f.Looks) / float64(arrival), true
}

// measure computes what follows from specimens alone.
func (f *Figures) measure(specimens []Specimen, seed uint64) error {
	var ours, fixed, majority forecasts
	var looks, arrival []int
	start := 0
	for _, s := range specimens {
		ours.add(s.P, s.Top == s.True)
		fixed.add(s.FixedP, s.FixedTop == s.True)
		majority.add(s.MajorityShare, s.Majority == s.True)
		looks, arrival = append(looks, s.LooksOurs), append(arrival, s.LooksArrival)
		if s.RightAtStart {
			start++
		}
	}
	f.Start = float64(start) / float64(len(specimens))
	f.Looks, f.LooksArrival = looksUntil(enoughRight, looks), looksUntil(enoughRight, arrival)
	for _, m := range []struct {
		of   *forecasts
		into *Method
	}{{&ours, &f.Ours}, {&fixed, &f.Fixed}, {&majority, &f.Majority}} {
		made, err := m.of.method(seed)
		if err != nil {
			return err
		}
		*m.into = made
	}
	return nil
}

func (f *forecasts) method(seed uint64) (Method, error) {
	m := Method{Right: f.share()}
	var err error
	if m.Brier, m.Log, err = f.scores(); err != nil {
		return m, err
	}
	e, err := confidence.ExpectedCalibrationError(f.p, f.right, seed)
	m.Calibration, m.Chance = e.Value, e.Chance
	return m, err
}

// reliability fills in how far estimates are from the truth.
func (f *Figures) reliability(c *club) {
	for at, t := range c.tally {
		if t.atEnough < 0 {
			continue
		}
		f.Slots++
		f.Reliability += t.atEnough
		f.ReliabilityEnd += t.error(c.people.People[at.person].Regions[at.region].Value())
	}
	f.Reliability /= float64(f.Slots)
	f.ReliabilityEnd /= float64(f.Slots)
}

// Estimate is a mean over worlds with its 95 % interval: 1.96 standard errors either way.
type Estimate struct{ Mean, Low, High float64 }

// EstimateOf takes one value of each world; with a single one the interval is that value.
func EstimateOf(values []float64) Estimate {
	n := float64(len(values))
	mean, squares := 0.0, 0.0
	for _, v := range values {
		mean += v / n
	}
	for _, v := range values {
		squares += (v - mean) * (v - mean)
	}
	half := 0.0
	if len(values) > 1 {
		half = 1.96 * math.Sqrt(squares/(n-1)/n)
	}
	return Estimate{mean, mean - half, mean + half}
}
