package confidence

import (
	"cmp"
	"slices"
)

// leastLikelihood stands in for a likelihood of 0, which only a model without any table or reading error can give.
const leastLikelihood = 1e-200

// arranged are reports by character, each character's in a fixed order: products are then the same to the last digit
// whatever the order of the evidence.
type arranged struct {
	seen    []int // characters with at least one report, ascending
	reports []Report
	ends    []int // by character: where its reports end, and those of the next begin
}

func (m *Model) arrange(a *arranged, observations []Observation) {
	a.ends = resized(a.ends, len(m.characters))
	clear(a.ends)
	n := 0
	for i := range observations {
		a.ends[observations[i].Character] += len(observations[i].Reports)
		n += len(observations[i].Reports)
	}
	a.seen = a.seen[:0]
	begin := 0
	for c, reports := range a.ends {
		if reports > 0 {
			a.seen = append(a.seen, c)
		}
		a.ends[c] = begin
		begin += reports
	}
	a.reports = resized(a.reports, n)
	for i := range observations {
		for _, r := range observations[i].Reports {
			r.Accuracy, r.Anchoring, r.Leaning = unit(r.Accuracy), unit(r.Anchoring), bounded(r.Leaning)
			end := &a.ends[observations[i].Character]
			a.reports[*end] = r
			*end++
		}
	}
	for _, c := range a.seen {
		sortReports(a.of(c))
	}
}

func (a *arranged) of(character int) []Report {
	begin := 0
	if character > 0 {
		begin = a.ends[character-1]
	}
	return a.reports[begin:a.ends[character]]
}

func sortReports(reports []Report) {
	if len(reports) > 1 {
		slices.SortFunc(reports, func(a, b Report) int {
			return cmp.Or(cmp.Compare(a.Accuracy, b.Accuracy), cmp.Compare(a.Anchoring, b.Anchoring), cmp.Compare(a.Leaning, b.Leaning),
				int(a.Kind-b.Kind), a.State-b.State, a.Better-b.Better, a.Reader-b.Reader)
		})
	}
}

// likelihood fills in, by row, the likelihood of all reports about a character, which are those of arranged.
func (c *compiled) likelihood(out []float64, reports []Report) {
	if len(reports) == 1 && reports[0].Kind == Stated && c.likelihoodOfStated(out, &reports[0]) {
		return
	}
	var room [MaxStates]float64
	product := room[:c.states]
	for s := range product {
		product[s] = 1
	}
	for _, r := range reports {
		c.multiply(product, r)
	}
	c.average(out, product)
}

// likelihoodOfStated is that of a single report, and false where its reader reads some states better than others.
func (c *compiled) likelihoodOfStated(out []float64, r *Report) bool {
	if c.reading(r.Reader).ease != nil || c.leans(r) {
		return false
	}
	right, wrong := r.Accuracy, 1-r.Accuracy
	rightly, wrongly := c.rightlyColumns[r.State*c.rows:][:len(out)], c.wronglyColumns[r.State*c.rows:][:len(out)]
	for i := range out {
		out[i] = right*rightly[i] + wrong*wrongly[i]
	}
	keepAbove0(out)
	return true
}

// negligible is the part of a mean that is left out: a rounding error or two.
const negligible = 1e-14

// average is, by row, the mean of what the reports are worth in each state that all who look can have before their eyes.
// The least worth counts for all states, so that only those above it cost time: of a length a dozen in a hundred.
func (c *compiled) average(out, product []float64) {
	least := smallest(product)
	for i, w := range c.whole {
		out[i] = least * w
	}
	for s, p := range product {
		if above := p - least; above > least*negligible {
			addScaled(out, c.shownColumns[s*c.rows:], above)
		}
	}
	keepAbove0(out)
}

func keepAbove0(likelihood []float64) {
	for i, l := range likelihood {
		if l < leastLikelihood {
			likelihood[i] = leastLikelihood
		}
	}
}
