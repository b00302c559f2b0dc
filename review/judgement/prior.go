package judgement

import (
	"math"

	"revidit/review/diagnosis"
)

// Parts of a mix besides the faunas of the tables, by their ids.
const (
	MixList  = "list"  // the club's own list
	MixWorld = "world" // the numbers of described species in the tables
)

// Prior are the weights of families before anything is seen: mixed of the parts that these tables have, each in proportion
// to its share; nil where the tables' own numbers decide alone. Without a mix it is the club's list. A fauna weighs a family by the
// square root of its species there, as the tables do for the world; families that the list or a fauna leaves out keep a
// little in it (unlistedShare).
func Prior(mix, list map[string]float64, t *diagnosis.Tables) map[string]float64 {
	list = Listed(list, t)
	if len(mix) == 0 {
		return list
	}
	mixed, parts := make([]float64, len(t.Families)), 0
	for _, part := range partsOf(t) {
		weights := partWeights(part, list, t)
		if mix[part] <= 0 || weights == nil {
			continue
		}
		total := 0.0
		for _, w := range weights {
			total += w
		}
		for i, w := range weights {
			mixed[i] += mix[part] * w / total
		}
		if part != MixWorld {
			parts++
		}
	}
	if parts == 0 {
		return nil
	}
	prior := make(map[string]float64, len(mixed))
	for i, w := range mixed {
		prior[t.Families[i].Name] = w
	}
	return prior
}

// partsOf are the parts of which a prior of these tables can be mixed, in a fixed order.
func partsOf(t *diagnosis.Tables) []string {
	parts := []string{MixList, MixWorld}
	for i := range t.Faunas {
		parts = append(parts, t.Faunas[i].ID)
	}
	return parts
}

// commonness is how common a family of so many species is taken for: the square root of their number, of 1 at least.
func commonness(species int) float64 { return math.Sqrt(float64(max(species, 1))) }

// partWeights are the weights of one part by family, all above 0; nil where these tables have no such part.
func partWeights(part string, list map[string]float64, t *diagnosis.Tables) []float64 {
	weights := make([]float64, len(t.Families))
	if part == MixWorld {
		for i := range weights {
			weights[i] = commonness(t.Families[i].Species)
		}
		return weights
	}
	if part == MixList {
		for name, w := range list {
			if family, _, known := t.Resolve(name); known && isWeight(w) {
				weights[t.FamilyIndex(family.Name)] += w
			}
		}
	} else if fauna, ok := t.Fauna(part); ok {
		for _, line := range fauna.Families {
			weights[t.FamilyIndex(line.Family)] = commonness(line.Species)
		}
	}
	least := math.Inf(1)
	for _, w := range weights {
		if w > 0 {
			least = min(least, w)
		}
	}
	if math.IsInf(least, 1) {
		return nil
	}
	fillUnlisted(weights, least)
	return weights
}

// Listed is the part of the club's list that names families of these tables; nil where it has none.
func Listed(list map[string]float64, t *diagnosis.Tables) map[string]float64 {
	var known map[string]float64
	for family, weight := range list {
		if _, _, ok := t.Resolve(family); !ok {
			continue
		}
		if known == nil {
			known = map[string]float64{}
		}
		known[family] = weight
	}
	return known
}

// unlistedShare is what all families that are not on the club's list weigh together at most, in shares of the list: as
// much as those that are not in the tables (nonePrior). A club that lists what it finds leaves out a hundred families,
// and a tenth of the least weight for each of them would make strays of a fifth of all specimens. Assumed, no source.
const unlistedShare = 0.02

// fillUnlisted gives families without a weight a tenth of the least one, and all together at most unlistedShare.
func fillUnlisted(weights []float64, least float64) {
	total, unlisted := 0.0, 0
	for _, w := range weights {
		total += w
		if w == 0 {
			unlisted++
		}
	}
	share := min(least/10, unlistedShare*total/float64(max(unlisted, 1)))
	for i, w := range weights {
		if w == 0 {
			weights[i] = share
		}
	}
}
