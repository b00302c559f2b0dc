package diagnosis

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestRanks(t *testing.T) {
	for rank, many := range map[string]string{"family": "families", "order": "orders", "genus": "genera", "species": "species", "tribe": "tribes", "taxon": "taxa"} {
		require.Equal(t, many, Ranks(rank))
	}
}

func TestDidYouMean(t *testing.T) {
	known := []string{"serrate", "pectinate", "filiform"}
	require.Equal(t, " (did you mean serrate?)", didYouMean("serate", known))
	require.Equal(t, " (did you mean serrate?)", didYouMean("Serrate", known))
	require.Empty(t, didYouMean("elbowed", known), "another word, not a slip")
	require.Empty(t, didYouMean("x", nil))
}

func TestNearestNames(t *testing.T) {
	for name, question := range map[string]string{
		"Elatridae":    " (did you mean Elateridae or Clytridae?)", // the nearest first
		"elateridae":   " (did you mean Elateridae?)",
		" Elateridae":  " (did you mean Elateridae?)",
		"Bruchide":     " (did you mean Bruchidae?)", // an old name is good, too
		"carabid":      " (did you mean Carabidae?)",
		"Sphaeri":      " (did you mean Sphaeritidae, Sphaeriusidae or Sphaeridiidae?)",
		"Coccinelidae": " (did you mean Coccinellidae?)",
		"Felidae":      " (did you mean Belidae?)",
		"Giraffidae":   "",
		"":             "",
		"Car":          "", // too many begin so
		"click beetle": "",
	} {
		require.Equal(t, question, Default().DidYouMean(name), name)
	}
}

func TestNearestNamesAreFew(t *testing.T) {
	tables := &Tables{}
	for _, name := range []string{"Aaaaidae", "Aaabidae", "Aaacidae", "Aaadidae"} {
		tables.Families = append(tables.Families, Family{Name: name})
	}
	require.Equal(t, " (did you mean Aaabidae, Aaaaidae or Aaacidae?)", tables.DidYouMean("Aaabbidae"), "the nearest first, and three at most")
}

func TestNotAName(t *testing.T) {
	require.Equal(t, `"Elaterida" is not a family of these tables, nor an old name of one (did you mean Elateridae?)`, Default().NotAName("Elaterida"))
	for _, tables := range All() {
		if tables.Group.Rank == "order" {
			require.Equal(t, `"Dipterra" is not an order of these tables, nor an old name of one (did you mean Diptera?)`, tables.NotAName("Dipterra"))
			return
		}
	}
	require.Fail(t, "no orders")
}
