package confidence

import (
	"fmt"
	"math"
)

// Rating is one rating: an observer puts an item into a class, all counted from 0. An observer may rate an item
// several times.
type Rating struct{ Item, Observer, Class int }

// RatingTable is what DawidSkene works on.
type RatingTable struct {
	Items, Observers, Classes int
	Ratings                   []Rating
}

// DawidSkeneOptions: the zero value is the method as published, to a tolerance of 1e-12 and in at most 1000 iterations.
type DawidSkeneOptions struct {
	// Smoothing is added to every count behind an error rate. 0 is maximum likelihood.
	Smoothing float64
	// Start are the class probabilities of each item to start from; nil for the share of each class in the ratings of the
	// item, all observers pooled. The likelihood has several maxima: another start can end elsewhere.
	Start [][]float64
	// Tolerance is the least change of the log-likelihood (with Smoothing, of the penalised one) to go on for.
	Tolerance     float64
	MaxIterations int
}

// ErrorRates is the result of DawidSkene. Probabilities are from 0 to 1; no number is NaN.
type ErrorRates struct {
	Shares []float64 // p(class), summing to 1
	// Rates[observer][true class][said class], each row summing to 1.
	Rates [][][]float64
	// Posterior[item][class] given the ratings and the last Shares and Rates, each row summing to 1.
	Posterior [][]float64
	// LogLikelihood, in natural logarithms without the constant that counts orders of ratings, after each iteration. With
	// Smoothing it can fall.
	LogLikelihood []float64
	Converged     bool
	Warnings      []Warning
}

// DawidSkene estimates who errs how, and what is true, from ratings alone: each observer has a full matrix of error
// rates, each item one unknown true class.
//
//	E: T(i, j) ∝ p(j) · Π_k Π_l π(k, j, l)^n(i, k, l)
//	M: p(j) = mean over i of T(i, j);  π(k, j, l) = Σ_i T(i, j) · n(i, k, l) / Σ_l' of the same
//
// It assumes that ratings are independent given the true class. What it finds is a local maximum of the likelihood, and
// the classes could be renamed among themselves without any change to it; the start decides.
//
// Source: Dawid A.P., Skene A.M. 1979. Maximum likelihood estimation of observer error-rates using the EM algorithm.
// Applied Statistics 28(1): 20-28; TestDawidSkene checks its tables 2 to 4.
func DawidSkene(table RatingTable, options DawidSkeneOptions) (*ErrorRates, error) {
	if err := table.check(options); err != nil {
		return nil, err
	}
	d := newDawidSkene(table, options)
	d.iterate()
	return d.result(), nil
}

func (r RatingTable) check(o DawidSkeneOptions) error {
	if r.Items < 1 || r.Observers < 1 || r.Classes < 1 {
		return fmt.Errorf("%d items, %d observers, %d classes: there must be one of each", r.Items, r.Observers, r.Classes)
	}
	for i, rating := range r.Ratings {
		if !within(rating.Item, r.Items) || !within(rating.Observer, r.Observers) || !within(rating.Class, r.Classes) {
			return fmt.Errorf("rating %d: %+v is out of range", i, rating)
		}
	}
	if !(o.Smoothing >= 0) || !(o.Tolerance >= 0) || o.MaxIterations < 0 {
		return fmt.Errorf("options: smoothing %v, tolerance %v, %d iterations: none may be below 0", o.Smoothing, o.Tolerance, o.MaxIterations)
	}
	if o.Start == nil {
		return nil
	}
	if len(o.Start) != r.Items {
		return fmt.Errorf("start: %d rows for %d items", len(o.Start), r.Items)
	}
	for i, row := range o.Start {
		if !isDistribution(row, r.Classes) {
			return fmt.Errorf("start: row %d is no distribution over %d classes", i, r.Classes)
		}
	}
	return nil
}

func within(i, n int) bool { return i >= 0 && i < n }

// dawidSkene holds the iteration. Matrices are flat: posterior by item and class, rates by observer, true and said class.
type dawidSkene struct {
	RatingTable
	options    DawidSkeneOptions
	posterior  []float64
	shares     []float64
	rates      []float64
	logRates   []float64
	out        ErrorRates
	unusedRows bool
}

func newDawidSkene(table RatingTable, options DawidSkeneOptions) *dawidSkene {
	if options.Tolerance == 0 {
		options.Tolerance = 1e-12
	}
	if options.MaxIterations == 0 {
		options.MaxIterations = 1000
	}
	c := table.Classes
	d := &dawidSkene{RatingTable: table, options: options,
		posterior: make([]float64, table.Items*c), shares: make([]float64, c),
		rates: make([]float64, table.Observers*c*c), logRates: make([]float64, table.Observers*c*c)}
	d.start()
	return d
}

func (d *dawidSkene) start() {
	for i, row := range d.options.Start {
		copy(d.item(i), row)
	}
	if d.options.Start != nil {
		return
	}
	for _, r := range d.Ratings {
		d.posterior[r.Item*d.Classes+r.Class]++
	}
	for i := range d.Items {
		orUniform(d.item(i))
	}
}

func (d *dawidSkene) item(i int) []float64 { return d.posterior[i*d.Classes : (i+1)*d.Classes] }

// orUniform makes the row sum to 1, and says false where it was all 0 and became uniform.
func orUniform(row []float64) bool {
	total := sum(row)
	for i := range row {
		if total > 0 {
			row[i] /= total
			continue
		}
		row[i] = 1 / float64(len(row))
	}
	return total > 0
}

func (d *dawidSkene) iterate() {
	last := math.Inf(-1)
	for range d.options.MaxIterations {
		d.maximise()
		logLikelihood := d.expect()
		d.out.LogLikelihood = append(d.out.LogLikelihood, logLikelihood)
		objective := logLikelihood + d.penalty()
		if math.Abs(objective-last) < d.options.Tolerance {
			d.out.Converged = true
			return
		}
		last = objective
	}
}

// penalty is what Smoothing adds to the log-likelihood: that of a Dirichlet prior on each row.
func (d *dawidSkene) penalty() float64 {
	if d.options.Smoothing == 0 {
		return 0
	}
	return d.options.Smoothing * sum(d.logRates)
}

func (d *dawidSkene) maximise() {
	c := d.Classes
	clear(d.shares)
	for i := range d.Items {
		for j, p := range d.item(i) {
			d.shares[j] += p / float64(d.Items)
		}
	}
	for i := range d.rates {
		d.rates[i] = d.options.Smoothing
	}
	for _, r := range d.Ratings {
		for j, p := range d.item(r.Item) {
			d.rates[(r.Observer*c+j)*c+r.Class] += p
		}
	}
	d.unusedRows = false
	for row := 0; row < len(d.rates); row += c {
		if !orUniform(d.rates[row : row+c]) {
			d.unusedRows = true
		}
	}
	for i, p := range d.rates {
		d.logRates[i] = math.Log(p)
	}
}

// expect works in logarithms: an error rate of 0 is log 0 = −Inf and counts only where that error was made.
func (d *dawidSkene) expect() float64 {
	c := d.Classes
	for i := range d.Items {
		for j := range c {
			d.posterior[i*c+j] = math.Log(d.shares[j])
		}
	}
	for _, r := range d.Ratings {
		for j := range c {
			d.posterior[r.Item*c+j] += d.logRates[(r.Observer*c+j)*c+r.Class]
		}
	}
	logLikelihood := 0.0
	for i := range d.Items {
		row := d.item(i)
		total := logSumExp(row)
		logLikelihood += total
		for j := range row {
			row[j] = math.Exp(row[j] - total)
		}
	}
	return logLikelihood
}

func (d *dawidSkene) result() *ErrorRates {
	out := &d.out
	out.Shares = d.shares
	for i := range d.Items {
		out.Posterior = append(out.Posterior, d.item(i))
	}
	for k := range d.Observers {
		var matrix [][]float64
		for j := range d.Classes {
			from := (k*d.Classes + j) * d.Classes
			matrix = append(matrix, d.rates[from:from+d.Classes])
		}
		out.Rates = append(out.Rates, matrix)
	}
	if !out.Converged {
		out.Warnings = append(out.Warnings, NotConverged)
	}
	if d.unusedRows {
		out.Warnings = append(out.Warnings, UnusedClass)
	}
	return out
}
