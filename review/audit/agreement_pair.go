package audit

import (
	"cmp"
	"maps"
	"slices"
	"strconv"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// addFleiss adds Fleiss' kappa where every unit has the same number of ratings, and otherwise why it does not apply.
func addFleiss(j *judgement.Judge, line *AgreementLine, byCharacter [][]unit) error {
	least, most := 0, 0
	for _, of := range byCharacter {
		for _, u := range of {
			if n := len(u.ratings); least == 0 || n < least {
				least = n
			}
			most = max(most, len(u.ratings))
		}
	}
	if least != most {
		why := review.Code("units-fleiss", "least", strconv.Itoa(least), "most", strconv.Itoa(most))
		line.FleissWhy = &why
		return nil
	}
	if most == 0 {
		return nil
	}
	var parts []confidence.Agreement
	for c, of := range byCharacter {
		kappa, err := confidence.FleissKappa(countsOf(of, len(j.Tables().Characters[c].States)))
		if err != nil {
			return err
		}
		if len(of) > 0 {
			parts = append(parts, kappa)
		}
	}
	kappa := coefficientOf(confidence.Stratified(parts))
	line.Fleiss = &kappa
	return nil
}

func countsOf(units []unit, states int) [][]int {
	counts := make([][]int, len(units))
	for i, u := range units {
		counts[i] = make([]int, states)
		for _, r := range u.ratings {
			counts[i][r.state]++
		}
	}
	return counts
}

// couple are two persons, the first by id before the second.
type couple struct{ a, b string }

// common are the ratings of two persons of one character.
type common struct{ a, b []int }

// eachCouple calls visit with the states of every two persons who rated the unit.
func (u unit) eachCouple(visit func(who couple, a, b int)) {
	for i, first := range u.ratings { // in the order of persons
		for _, second := range u.ratings[i+1:] {
			visit(couple{first.person, second.person}, first.state, second.state)
		}
	}
}

// pairs are the couples with at least LeastCommon common units.
func pairs(j *judgement.Judge, byCharacter [][]unit) ([]AgreementPair, error) {
	found := map[couple]map[int]*common{}
	for c, of := range byCharacter {
		for _, u := range of {
			u.eachCouple(func(who couple, a, b int) {
				if found[who] == nil {
					found[who] = map[int]*common{}
				}
				if found[who][c] == nil {
					found[who][c] = &common{}
				}
				both := found[who][c]
				both.a, both.b = append(both.a, a), append(both.b, b)
			})
		}
	}
	pairs := []AgreementPair{}
	for who, of := range found {
		pair, err := pair(j, who, of)
		if err != nil {
			return nil, err
		}
		if pair.Units >= LeastCommon {
			pairs = append(pairs, pair)
		}
	}
	slices.SortFunc(pairs, func(x, y AgreementPair) int {
		return cmp.Or(cmp.Compare(y.Units, x.Units), cmp.Compare(x.A+x.B, y.A+y.B))
	})
	return pairs, nil
}

func pair(j *judgement.Judge, who couple, of map[int]*common) (AgreementPair, error) {
	pair := AgreementPair{A: who.a, B: who.b}
	var parts []confidence.Agreement
	for _, c := range slices.Sorted(maps.Keys(of)) {
		both := of[c]
		pair.Units += len(both.a)
		for i := range both.a {
			if both.a[i] == both.b[i] {
				pair.Same++
			}
		}
		k := len(j.Tables().Characters[c].States)
		table, err := confidence.PairTable(both.a, both.b, k)
		if err != nil {
			return pair, err
		}
		kappa, err := confidence.WeightedKappa(table, kappaWeights(j, c, k))
		if err != nil {
			return pair, err
		}
		parts = append(parts, kappa)
	}
	pair.Kappa = coefficientOf(confidence.Stratified(parts))
	return pair, nil
}

// kappaWeights are 1 for any two states, and for counts their difference as a share of the largest possible.
func kappaWeights(j *judgement.Judge, c, states int) [][]float64 {
	weights := confidence.LinearWeights(states)
	for _, row := range weights {
		for s := range row {
			switch {
			case row[s] == 0:
			case j.Tables().Characters[c].Kind == diagnosis.KindCount:
				row[s] /= float64(states - 1)
			default:
				row[s] = 1
			}
		}
	}
	return weights
}
