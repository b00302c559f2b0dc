package judgement

import "revidit/review/diagnosis"

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
