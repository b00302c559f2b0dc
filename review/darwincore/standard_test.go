package darwincore

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// table reads a CSV file of testdata by the names of its columns.
func table(t *testing.T, name string) []map[string]string {
	file, err := os.Open(filepath.Join("testdata", name))
	require.NoError(t, err)
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, column := range all[0] {
			row[column] = r[i]
		}
		rows = append(rows, row)
	}
	require.NotEmpty(t, rows)
	return rows
}

// TestTermsAreOfTheStandard: Darwin Core List of Terms, version 2026-05-26 (testdata/darwin_core/terms_current.csv), Audiovisual Core Term List.
func TestTermsAreOfTheStandard(t *testing.T) {
	known := map[string]bool{}
	for _, row := range table(t, "darwin_core/terms_current.csv") {
		known[row["iri"]] = true
	}
	require.Len(t, known, 362)
	for _, row := range table(t, "audiovisual_core/roi_and_view_terms.csv") {
		known[row["iri"]] = true
	}
	// Terms that Audiovisual Core borrows, and three of its own that are in none of the lists here; from memory.
	for _, term := range []string{dcterms + "identifier", dc + "format", dc + "creator", dcterms + "created", dcterms + "rights", dcterms + "description", exif + "PixelXDimension",
		exif + "PixelYDimension", ac + "accessURI", ac + "hashFunction", ac + "hashValue"} {
		known[term] = true
	}
	for i, terms := range fileTerms {
		seen := map[string]bool{}
		for _, term := range terms {
			require.True(t, known[term], "%s: %s", fileNames[i], term)
			require.False(t, seen[term], "%s twice in %s", term, fileNames[i])
			seen[term] = true
		}
	}
	require.Len(t, occurrenceTerms, oTaxon+taxonColumns+len(identificationTerms)-iID)
	require.Len(t, historyTerms, iTaxon+taxonColumns)
	require.Len(t, mediaTerms, mediaColumns)
	require.Equal(t, dwc+"previousIdentifications", occurrenceTerms[oPrevious])
	require.Equal(t, dwc+"taxonFormula", identificationTerms[iFormula])
	require.Equal(t, dwc+"nomenclaturalCode", taxonTerms[tCode])
}

// TestWhatADeterminedSpecimenNeeds: determination_export_terms.csv names the terms for a determined specimen, by where they stand.
func TestWhatADeterminedSpecimenNeeds(t *testing.T) {
	written := map[string]map[string]bool{}
	for i, terms := range fileTerms {
		written[fileNames[i]] = map[string]bool{}
		for _, term := range terms {
			written[fileNames[i]][term] = true
		}
	}
	for _, row := range table(t, "darwin_core/determination_export_terms.csv") {
		switch use := row["use"]; {
		case use == "core" || use == "core id" || use == "core if coordinates" || use == "recommended":
			require.True(t, written[fileNames[0]][row["iri"]], "%s in the core", row["name"])
		case use == "identification":
			require.True(t, written[fileNames[1]][row["iri"]], "%s in the history", row["name"])
			require.True(t, written[fileNames[0]][row["iri"]], "%s in the core, for older readers", row["name"])
		}
	}
	require.False(t, written[fileNames[0]][dwc+"eventID"], "a free-text trip is no eventID")
	for _, terms := range fileTerms {
		for _, term := range terms {
			require.NotContains(t, term, "/dwc/iri/", "dwciri terms take IRIs alone (value_rules.csv)")
		}
	}
}

// TestMetaXML: the Darwin Core text guide, 2023-09-13, and its schema, with xmllint beside our own reader.
func TestMetaXML(t *testing.T) {
	files, err := filepath.Glob("testdata/darwin_core/meta_xml/*.xml")
	require.NoError(t, err)
	require.Len(t, files, 11)
	for _, name := range files {
		file, err := os.Open(name)
		require.NoError(t, err)
		meta, err := ReadMeta(file)
		require.NoError(t, file.Close())
		valid := strings.HasPrefix(filepath.Base(name), "valid_")
		bySchema := !strings.HasPrefix(filepath.Base(name), "invalid_")
		require.Equal(t, bySchema, followsSchema(t, name), "xmllint on %s", name)
		if !valid {
			require.Error(t, err, name)
			continue
		}
		require.NoError(t, err, name)
		require.Equal(t, typeOccurrence, meta.Core.RowType)
		written := filepath.Join(t.TempDir(), "meta.xml")
		into, err := os.Create(written)
		require.NoError(t, err)
		again := meta
		if again.Core.ID < 0 {
			again.Core.ID = 0
		}
		require.NoError(t, again.Write(into))
		require.NoError(t, into.Close())
		require.True(t, followsSchema(t, written))
		from, err := os.Open(written)
		require.NoError(t, err)
		read, err := ReadMeta(from)
		require.NoError(t, from.Close())
		require.NoError(t, err)
		require.Equal(t, again, read)
	}
}

// followsSchema asks xmllint (Debian: libxml2-utils).
func followsSchema(t *testing.T, name string) bool {
	said, err := exec.Command("xmllint", "--nonet", "--noout", "--schema", "testdata/darwin_core/tdwg_dwc_text.xsd", name).CombinedOutput()
	var exit *exec.ExitError
	if err != nil {
		require.ErrorAs(t, err, &exit, "xmllint is needed, from libxml2-utils: %s", said)
		require.Contains(t, []int{3, 4}, exit.ExitCode(), "%s", said) // 3 and 4: it does not follow the schema
	}
	return err == nil
}

// TestDefaultsOfTheTextGuide: sections 2.2.1 and 2.4.1, as text_guide_rules.csv has them.
func TestDefaultsOfTheTextGuide(t *testing.T) {
	require.Len(t, table(t, "darwin_core/text_guide_rules.csv"), 24)
	read := func(core string) (Meta, error) {
		return ReadMeta(strings.NewReader(`<archive xmlns="http://rs.tdwg.org/dwc/text/">` + core + `</archive>`))
	}
	meta, err := read(`<core rowType="` + typeOccurrence + `"><files><location>a.csv</location><location>b.csv</location></files><field index="0" term="` + dwc + `family"/><field term="` + dwc + `order" default=""/></core>`)
	require.NoError(t, err)
	require.Equal(t, File{RowType: typeOccurrence, Locations: []string{"a.csv", "b.csv"}, Encoding: "UTF-8", Terminated: ",", Lines: "\n", Enclosed: `"`, ID: -1,
		Fields: []Field{{Index: 0, Term: dwc + "family"}, {Index: -1, Term: dwc + "order", HasDefault: true}}}, meta.Core)
	for _, bad := range []string{
		`<core rowType="Occurrence"><files><location>a</location></files><field index="0" term="` + dwc + `family"/></core>`,
		`<core rowType="` + typeOccurrence + `"><files><location>a</location></files><field index="-1" term="` + dwc + `family"/></core>`,
		`<core rowType="` + typeOccurrence + `"><files><location>a</location></files><field index="0" term="family"/></core>`,
		`<core rowType="` + typeOccurrence + `" fieldsTerminatedBy=""><files><location>a</location></files><field index="0" term="` + dwc + `family"/></core>`,
		`<core rowType="` + typeOccurrence + `"><files/><field index="0" term="` + dwc + `family"/></core>`,
		`<core rowType="` + typeOccurrence + `"><files><location>a</location></files><field term="` + dwc + `family"/></core>`,
	} {
		_, err := read(bad)
		require.Error(t, err, bad)
	}
}

// TestVerificationLevels: HISPID 3, of which the program writes 0 and 2 by itself.
func TestVerificationLevels(t *testing.T) {
	levels := map[string]string{}
	for _, row := range table(t, "darwin_core/verification_levels_hispid3.csv") {
		levels[row["value"]] = row["meaning_in_our_words"]
	}
	require.Len(t, levels, 6)
	require.Contains(t, levels[levelNone], "not checked")
	require.Contains(t, levels[levelCompetent], "competent person")
}

// TestViewsOfAudiovisualCore: the lists of subjectPart and subjectOrientation, and which go together for insects.
func TestViewsOfAudiovisualCore(t *testing.T) {
	parts, orientations := map[string]string{}, map[string]string{}
	for _, row := range table(t, "audiovisual_core/subject_part.csv") {
		parts[row["controlled_value"]] = row["iri"]
	}
	for _, row := range table(t, "audiovisual_core/subject_orientation.csv") {
		orientations[row["controlled_value"]] = row["iri"]
	}
	require.Len(t, parts, 33)
	require.Len(t, orientations, 14)
	require.Len(t, subjectOrientations, 14)
	for word := range subjectParts {
		require.Equal(t, parts[word], iriOf(subjectParts, partValues, word))
		require.Equal(t, word, wordOf(subjectParts, partValues, parts[word]))
	}
	for word := range subjectOrientations {
		require.Equal(t, orientations[word], iriOf(subjectOrientations, orientationValues, word))
	}
	for _, row := range table(t, "audiovisual_core/insect_parts_and_views.csv") {
		require.NotEmpty(t, subjectParts[row["part_collection"]]+subjectParts[row["part"]], row)
		require.NotEmpty(t, subjectOrientations[row["orientation"]]+subjectOrientations[row["orientation_collection"]], row)
	}
}

// TestRegionsOfTheRecipes: Regions of Interest Recipes 2021, recipes 1.1 to 1.3: our fractions give the pixels that are printed there.
func TestRegionsOfTheRecipes(t *testing.T) {
	text, err := os.ReadFile("testdata/audiovisual_core/roi_worked_example.json")
	require.NoError(t, err)
	var example struct {
		Width   float64 `json:"image_width"`
		Height  float64 `json:"image_height"`
		Regions []struct {
			X          float64 `json:"xFrac"`
			Y          float64 `json:"yFrac"`
			W          float64 `json:"widthFrac"`
			H          float64 `json:"heightFrac"`
			Published  []int   `json:"pixel_box_published"`
			Recomputed []int   `json:"pixel_box_recomputed"`
		} `json:"regions"`
	}
	require.NoError(t, json.Unmarshal(text, &example))
	require.Len(t, example.Regions, 2)
	for _, g := range example.Regions {
		m := medium{core: "o", Described: review.Described{ID: "photo", Width: int(example.Width), Height: int(example.Height),
			Regions: []review.DescribedRegion{{ID: "region", Region: review.Region{X: g.X, Y: g.Y, W: g.W, H: g.H}}}}}
		rows, err := csv.NewReader(strings.NewReader(string(m.append(nil, make([]string, mediaColumns))))).ReadAll()
		require.NoError(t, err)
		require.Len(t, rows, 2)
		require.Equal(t, "region", rows[0][mHasROI])
		require.Equal(t, "photo", rows[1][mIsROIOf])
		var box []int
		for i, side := range []float64{example.Width, example.Height, example.Width, example.Height} {
			fraction, err := strconv.ParseFloat(rows[1][mX+i], 64)
			require.NoError(t, err)
			box = append(box, int(math.Round(fraction*side)))
		}
		require.Equal(t, append(g.Published, g.Recomputed...), box)
	}
}
