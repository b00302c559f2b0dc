package judgement

import (
	"cmp"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"strings"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// SeparationLine is the expected posterior probability of the true family below which Pairs lists two families.
const SeparationLine = 0.95

const (
	// drawsPerFamily are the made-up specimens of each family; the standard error is then below 0.008, and near the line
	// about 0.003.
	drawsPerFamily = 2000
	// firstDraws decide about pairs that are clearly above the line, by clearlyErrors standard errors.
	firstDraws    = 250
	clearlyErrors = 5
	// bestSingle is how many characters are named that tell most by themselves.
	bestSingle = 2
	// leastHelp is the least gain in bits that is worth naming.
	leastHelp = 0.02
)

// Pair is two families that the characters of the tables tell apart less well than SeparationLine asks.
//
// Take a specimen of A or B, each equally likely, of unknown sex, on which one reviewer (RoleAccuracy) states every
// character that the tables have for both. Its form is drawn by weight, each report from what the model expects there,
// reading errors, misleading specimens and errors of the tables included; characters are independent within a form.
// Expected is the posterior probability of the true family against the other, dependence exponents in force as in
// Assess, averaged over made-up specimens of both; Error is its standard error. A character that one of the two lacks
// is left out: that a table has a gap tells nothing about a beetle.
type Pair struct {
	A, B            string
	Expected, Error float64
	// Above and AboveError are the same for a member who states eight characters of it from photos of the upper side
	// (UpperSide).
	Above, AboveError float64
	// Best are the characters that tell most by themselves, at most two.
	Best []Separator
	// Help are what would help most in the tables, the best first, at most two.
	Help []Help
	// Explained is what one of the families says about the other, and nil where neither does.
	Explained *diagnosis.Inseparable
}

// Help is a cell that would tell two families apart better.
type Help struct {
	Character string
	// Family lacks the character; "" where both have it and their cells would have to be sharper.
	Family string
	// Bits are what is expected to be gained in this character. For a missing cell: the mean over all families that have
	// the character, as if the missing cell were like theirs. For a sharper one: what both families would tell if they kept
	// more to their commoner states, each share squared.
	Bits float64
}

// Pairs lists the pairs of families below SeparationLine, the worst first, among the families with the most species: as
// many as largest says, all where it is 0. It is the same for the same tables, and a pair's numbers do not depend on
// which others are compared.
func (j *Judge) Pairs(largest int) []Pair {
	p := pairing{judge: j, looks: j.careful(), drawn: map[int]*confidence.Specimens{}}
	for i := range j.tables.Families {
		p.known = append(p.known, j.recorded(&j.tables.Families[i]))
	}
	families, above := j.largest(largest), j.upperSide()
	var pairs []Pair
	for i, a := range families {
		for _, b := range families[i+1:] {
			if pair, below := p.compare(min(a, b), max(a, b)); below {
				e := above.estimate(min(a, b), max(a, b))
				pair.Above, pair.AboveError = e.Mean, e.Error
				pairs = append(pairs, pair)
			}
		}
	}
	slices.SortFunc(pairs, func(x, y Pair) int {
		return cmp.Or(cmp.Compare(x.Expected, y.Expected), strings.Compare(x.A, y.A), strings.Compare(x.B, y.B))
	})
	return pairs
}

// largest are the indices of the n families with the most species, all for 0.
func (j *Judge) largest(n int) []int {
	order := make([]int, len(j.tables.Families))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		return cmp.Compare(j.tables.Families[b].Species, j.tables.Families[a].Species)
	})
	if n > 0 && n < len(order) {
		order = order[:n]
	}
	return order
}

// recorded says which characters a family has, in the order of the tables.
func (j *Judge) recorded(f *diagnosis.Family) []bool {
	known := make([]bool, len(j.tables.Characters))
	for c := range known {
		known[c] = records(f, j.tables.Characters[c].ID)
	}
	return known
}

// pairing compares pairs of families, by their indices.
type pairing struct {
	judge *Judge
	looks *confidence.Looks
	known [][]bool                      // by family and character
	drawn map[int]*confidence.Specimens // by family
}

// compare returns the pair, and false where it is above the line. Most pairs are, and a bound shows it without a draw.
func (p *pairing) compare(a, b int) (Pair, bool) {
	characters := p.common(a, b)
	if p.looks.ErrorBound(a, b, characters) < 1-SeparationLine {
		return Pair{}, false
	}
	one, two := p.specimens(a), p.specimens(b)
	e := p.looks.Expected(one, two, characters, firstDraws)
	if e.Mean-clearlyErrors*e.Error > SeparationLine {
		return Pair{}, false
	}
	e = p.looks.Expected(one, two, characters, drawsPerFamily)
	if e.Mean >= SeparationLine {
		return Pair{}, false
	}
	return p.describe(a, b, e), true
}

// common are the characters that the tables have for both, ascending.
func (p *pairing) common(a, b int) []int {
	var characters []int
	for c := range p.known[a] {
		if p.known[a][c] && p.known[b][c] {
			characters = append(characters, c)
		}
	}
	return characters
}

// specimens are drawn once for each family, from a seed of its own.
func (p *pairing) specimens(family int) *confidence.Specimens {
	if p.drawn[family] == nil {
		seed := fnv.New64a()
		seed.Write([]byte(p.judge.tables.Families[family].Name))
		p.drawn[family] = p.looks.Draw(family, drawsPerFamily, rand.New(rand.NewPCG(seed.Sum64(), 0)))
	}
	return p.drawn[family]
}

func (p *pairing) describe(a, b int, e confidence.Estimate) Pair {
	one, two := &p.judge.tables.Families[a], &p.judge.tables.Families[b]
	pair := Pair{A: one.Name, B: two.Name, Expected: e.Mean, Error: e.Error}
	for _, s := range p.judge.separators(p.looks, one, two)[:min(bestSingle, len(p.judge.tables.Characters))] {
		if s.Bits >= leastBits {
			pair.Best = append(pair.Best, s)
		}
	}
	if i, ok := diagnosis.Explained(one, two); ok {
		pair.Explained = &i
	}
	pair.Help = p.help(a, b)
	return pair
}

// help ranks what the tables could add or sharpen.
func (p *pairing) help(a, b int) []Help {
	var list []Help
	for c := range p.known[a] {
		h := Help{Character: p.judge.tables.Characters[c].ID}
		switch knownA, knownB := p.known[a][c], p.known[b][c]; {
		case knownA && knownB:
			h.Bits = p.looks.Sharpened(c, a, b) - p.looks.Bits(c, a, b)
		case knownA:
			h.Family, h.Bits = p.judge.tables.Families[b].Name, p.ifCoded(c, a, b)
		case knownB:
			h.Family, h.Bits = p.judge.tables.Families[a].Name, p.ifCoded(c, b, a)
		}
		if h.Bits >= leastHelp {
			list = append(list, h)
		}
	}
	slices.SortStableFunc(list, func(x, y Help) int { return cmp.Compare(y.Bits, x.Bits) })
	return list[:min(len(list), bestSingle)]
}

// ifCoded is what a character would tell between a family and one that lacks it, if the cell were like that of any other
// family that has it.
func (p *pairing) ifCoded(character, family, lacking int) float64 {
	sum, n := 0.0, 0
	for other := range p.known {
		if other != family && other != lacking && p.known[other][character] {
			sum += p.looks.Bits(character, family, other)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}
