package modelstest

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"revidit/review/diagnosis"
)

// Tables is a small made-up group, no diagnosis of anything: two families, one old name, three characters, two views.
func Tables(t testing.TB) *diagnosis.Tables {
	t.Helper()
	folder := fstest.MapFS{}
	for name, text := range map[string]string{
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
	} {
		folder[name] = &fstest.MapFile{Data: []byte(text[1:])}
	}
	tables, problems := diagnosis.Load(folder)
	require.Empty(t, problems)
	return tables
}
