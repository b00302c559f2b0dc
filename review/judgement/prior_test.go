package judgement

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// The made-up families have 100, 400 and 100 species: 10, 20 and 10 parts of what "none of them" (2 %) leaves.
func TestPriors(t *testing.T) {
	priors := func(list map[string]float64) map[string]float64 {
		found, sum := map[string]float64{}, 0.0
		for _, r := range madeUp().Priors(nil, list) {
			found[r.Family] = r.P
			sum += r.P
		}
		require.InDelta(t, 1, sum, 1e-6)
		return found
	}
	bare := priors(nil)
	require.InDelta(t, 0.02, bare[NoneOfThese], 1e-9)
	require.InDelta(t, 0.98/4, bare["Aidae"], 1e-6)
	require.InDelta(t, 0.98/2, bare["Bidae"], 1e-6)
	require.Equal(t, bare, priors(map[string]float64{"Elsewheridae": 5}), "a list that names none of these leaves them as they are")
	// 30 and 10 parts; Cidae, alone not on the list, a fiftieth of these: 0.8 of 40.8.
	mine := priors(map[string]float64{"Aidae": 30, "Bidae": 10})
	require.InDelta(t, 0.98*30/40.8, mine["Aidae"], 1e-6)
	require.InDelta(t, 0.98*0.8/40.8, mine["Cidae"], 1e-6)
}

// A mix is the linear opinion pool of its parts (Stone 1961, Annals of Mathematical Statistics 32: 1339-1342): each probability is
// the mean of those of the parts, weighted by their shares.
func TestMixIsTheMeanOfItsParts(t *testing.T) {
	j := shipped()
	list := map[string]float64{"Carabidae": 120, "Coccinellidae": 40, "Lucanidae": 3}
	part := func(mix map[string]float64) map[string]float64 {
		found := map[string]float64{}
		for _, r := range j.Priors(mix, list) {
			found[r.Family] = r.P
		}
		return found
	}
	isles, mine, world := part(map[string]float64{"british-isles": 1}), part(map[string]float64{MixList: 1}), part(map[string]float64{MixWorld: 1})
	mixed := part(map[string]float64{"british-isles": 0.5, MixList: 0.3, MixWorld: 0.2})
	for family, p := range mixed {
		require.InDelta(t, 0.5*isles[family]+0.3*mine[family]+0.2*world[family], p, 5e-9, family)
	}
	require.Equal(t, mine, part(nil), "without a mix it is the list")
	for _, r := range j.Priors(nil, nil) {
		require.InDelta(t, r.P, world[r.Family], 2e-9, r.Family)
	}
	fauna, ok := j.tables.Fauna("british-isles")
	require.True(t, ok)
	numbers := map[string]int{}
	for _, l := range fauna.Families {
		numbers[l.Family] = l.Species
	}
	// By the square roots of what the fauna says; what it does not have keeps less than the rarest that it has.
	require.InDelta(t, math.Sqrt(float64(numbers["Carabidae"])/float64(numbers["Lucanidae"])), isles["Carabidae"]/isles["Lucanidae"], 1e-5)
	require.NotContains(t, numbers, "Passalidae")
	require.Less(t, isles["Passalidae"], isles["Lucanidae"]/10)
	require.Positive(t, isles["Passalidae"])
}

// The faunas of the program name every number's source, and the families that everybody finds in each (common practice, no source).
func TestFaunasOfTheProgram(t *testing.T) {
	tables := diagnosis.Default()
	require.Len(t, tables.Faunas, 3)
	for _, f := range tables.Faunas {
		require.NotEmpty(t, f.Licence)
		require.Greater(t, len(f.Families), 80, f.ID)
		total := 0
		for _, l := range f.Families {
			total += l.Species
			require.NotEmpty(t, l.Source)
			require.NotEmpty(t, l.Basis)
		}
		p := map[string]float64{}
		for _, r := range shipped().Priors(map[string]float64{f.ID: 1}, nil) {
			p[r.Family] = r.P
		}
		for _, common := range []string{"Carabidae", "Staphylinidae", "Curculionidae", "Chrysomelidae"} {
			require.Greater(t, p[common], 0.03, "%s in %s", common, f.ID)
		}
		t.Logf("%s: %d species of %d families", f.ID, total, len(f.Families))
	}
	require.Nil(t, Prior(map[string]float64{"british-isles": 1}, nil, madeUp().tables), "tables without that fauna decide alone")
	require.Nil(t, Prior(map[string]float64{MixWorld: 1}, nil, tables))
}
