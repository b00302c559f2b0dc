package modelstest

import (
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// Tables is a small made-up group, no diagnosis of anything: two families, one old name, three characters, two views.
func Tables(t testing.TB) *diagnosis.Tables {
	t.Helper()
	return load(t, map[string]string{
		"group.yaml": `
group: made-up
title: Two families for tests
taxon: Coleoptera
rank: family
release: "1"
better_fit_decibans: 10
cautions: [For tests only.]
views:
  - {id: antenna, label: Antenna, part: antenna, orientation: lateral}
  - {id: below, label: From below, part: entireOrganism, orientation: ventral}
`,
		"sources.yaml": `
sources:
  - {id: none, citation: "Made up."}
`,
		"characters.yaml": `
characters:
  - id: antenna-form
    label: Antenna
    region: antenna
    kind: states
    how: Look at the outline.
    views: [antenna]
    states:
      - {id: filiform, label: thread-like}
      - {id: serrate, label: saw-like}
      - {id: clavate, label: thickening}
    confused:
      - {states: [filiform, serrate], weight: 4}
  - id: ventrites
    label: Abdominal plates
    region: underside
    kind: count
    min: 2
    max: 9
    how: Count them.
    views: [below]
  - id: length
    label: Length
    region: body
    kind: length
    min: 0.2
    max: 200
    how: Measure it.
    views: [below]
`,
		"families/Elateridae.yaml": `
family: Elateridae
superfamily: Elateroidea
common: click beetles
species: 10000
species_source: made up
source: none
place: whole
basis: memory
old_names:
  - {name: Drilidae, remark: Made up.}
characters:
  ventrites:
    states: {5: always}
  antenna-form:
    states: {serrate: usually, filiform: often, clavate: never}
  length:
    length: {min: 1.5, usual: [5, 25], max: 75}
`,
		"families/Buprestidae.yaml": `
family: Buprestidae
superfamily: Buprestoidea
common: jewel beetles
species: 15000
species_source: made up
source: none
place: whole
basis: memory
characters:
  ventrites:
    states: {5: usually, 6: rarely, rest: never}
  antenna-form:
    states: {serrate: usually, clavate: rarely, filiform: rarely}
`,
	})
}

// OtherTables is a second made-up group, so small that it has one character.
func OtherTables(t testing.TB) *diagnosis.Tables {
	t.Helper()
	return load(t, map[string]string{
		"group.yaml": `
group: made-up-flies
title: Two more families for tests
taxon: Diptera
rank: family
release: "1"
better_fit_decibans: 10
cautions: [For tests only.]
views:
  - {id: wing, label: Wing, part: wing, orientation: dorsal}
`,
		"sources.yaml": `
sources:
  - {id: none, citation: "Made up."}
`,
		"characters.yaml": `
characters:
  - id: wing-pattern
    label: Pattern of the wing
    region: wing
    kind: states
    how: Look at the membrane.
    views: [wing]
    states:
      - {id: clear, label: clear}
      - {id: banded, label: banded}
`,
		"families/Syrphidae.yaml": `
family: Syrphidae
superfamily: Syrphoidea
common: hover flies
species: 6000
species_source: made up
source: none
place: whole
basis: memory
characters:
  wing-pattern:
    states: {clear: usually, banded: rarely}
`,
		"families/Tephritidae.yaml": `
family: Tephritidae
superfamily: Tephritoidea
common: fruit flies
species: 5000
species_source: made up
source: none
place: whole
basis: memory
characters:
  wing-pattern:
    states: {banded: usually, clear: rarely}
`,
	})
}

// load also lints, because the service publishes nothing that Lint finds fault with. Each text begins with a line break.
func load(t testing.TB, texts map[string]string) *diagnosis.Tables {
	t.Helper()
	files := map[string]string{}
	for name, text := range texts {
		files[name] = text[1:]
	}
	tables, problems := diagnosis.Load(diagnosis.FromContents(files))
	require.Empty(t, problems)
	require.Empty(t, tables.Lint())
	return tables
}
