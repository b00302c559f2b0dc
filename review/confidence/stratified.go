package confidence

// Stratified puts coefficients of agreement on several kinds of things together, each compared with its own chance:
//
//	1 − Σ_c n_c · O_c / Σ_c n_c · E_c = Σ_c w_c · A_c,  w_c = n_c · E_c / Σ n · E
//
// with observed and expected disagreement O and E on the n ratings of kind c, and A its coefficient. Pooling the ratings
// themselves instead would count it as agreement that nobody calls the form of an antenna a number of plates. All parts
// must be of the same coefficient and of comparable weights of disagreement. Parts of one category only have nothing to
// agree on beyond chance and weigh nothing. The standard error takes the weights w as known and the parts as independent,
// and is 0 where a part has none.
//
// Source: the weights are our own choice among those of Barlow W., Lai M.Y., Azen S.P. 1991. A comparison of methods for
// calculating a stratified kappa. Statistics in Medicine 10: 1465-1472 (from memory).
func Stratified(parts []Agreement) Agreement {
	observed, expected, cases, ratings := 0.0, 0.0, 0.0, 0.0
	for _, p := range parts {
		cases += p.Cases
		ratings += p.Ratings
		observed += p.Ratings * p.Observed
		expected += p.Ratings * p.Expected
	}
	if ratings == 0 {
		return newAgreement(0, 0, 0, 0)
	}
	a := newAgreement(observed/ratings, expected/ratings, cases, ratings)
	if !a.OK {
		return a
	}
	variance, byChance := 0.0, 0.0
	knows, knowsChance := true, true
	for _, p := range parts {
		if !p.OK {
			continue
		}
		w := p.Ratings * p.Expected / expected
		variance += w * w * p.StandardError * p.StandardError
		byChance += w * w * p.ErrorByChance * p.ErrorByChance
		// An error of 0 means "not known", and for one who never disagreed what the formula gives.
		knows = knows && (p.StandardError > 0 || p.Observed == 0)
		knowsChance = knowsChance && p.ErrorByChance > 0
	}
	if !knows {
		variance = 0
	}
	if !knowsChance {
		byChance = 0
	}
	return a.withErrors(variance, byChance)
}
