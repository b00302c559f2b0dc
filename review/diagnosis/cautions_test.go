package diagnosis

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whether a caution says what it rests on, and who has the last word.
var (
	sourced  = regexp.MustCompile(`From memory|\([A-Z][^()]+, [^()]+\)`)
	deferred = regexp.MustCompile(`go(es)? first|goes before anything here|local (rules|medical|authority)|authority in charge|ask the (food|local)|[Ff]ollow local medical`)
)

// TestShippedCautions: every caution of the beetle tables says that it is from memory or names its source, and defers to
// local rules; the species and the families that members must hear of are among them.
func TestShippedCautions(t *testing.T) {
	tables := embedded(t)
	require.Regexp(t, deferred, tables.Group.Quarantine)
	for _, words := range append(slices.Clone(tables.Group.Handling), tables.Group.Quarantine) {
		require.Regexp(t, sourced, words)
		require.Regexp(t, deferred, words)
	}
	reported := map[string]string{}
	for _, f := range tables.Families {
		for _, words := range []string{f.Caution, f.Dissecting} {
			if words != "" {
				require.Regexp(t, sourced, words, f.Name)
				require.Regexp(t, deferred, words, f.Name)
			}
		}
		for _, r := range f.Quarantine {
			require.Regexp(t, `^[A-Z][a-z]+ [a-z]+$`, r.Name, f.Name)
			reported[r.Name] = f.Name
		}
	}
	for species, family := range map[string]string{"Anoplophora glabripennis": "Cerambycidae", "Agrilus planipennis": "Buprestidae",
		"Popillia japonica": "Scarabaeidae", "Trogoderma granarium": "Dermestidae"} {
		require.Equal(t, family, reported[species], species)
	}
	for _, family := range []string{"Dermestidae", "Tenebrionidae", "Silvanidae", "Laemophloeidae", "Chrysomelidae"} {
		f, _ := tables.Family(family)
		require.Contains(t, f.Caution, "nothing about whether food or feed is safe", family)
	}
	for _, family := range []string{"Meloidae", "Oedemeridae", "Staphylinidae"} {
		f, _ := tables.Family(family)
		require.Contains(t, f.Dissecting, "dry", family)
	}
}
