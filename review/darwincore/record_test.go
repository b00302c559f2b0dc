package darwincore

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

// memory is a spool in memory.
type memory struct{ bytes.Buffer }

func (m *memory) Rewind() (io.Reader, error) { return &m.Buffer, nil }

// people is a book of a small club.
type people map[string]string

func (p people) Person(id string) string { return p[id] }

func (people) Higher(taxon string) Higher {
	switch taxon {
	case "Elateridae", "Carabidae", "Buprestidae", "Coleoptera":
		return Higher{"Animalia", "Arthropoda", "Insecta", "Coleoptera"}
	}
	return Higher{}
}

func (people) Group(string) (taxon, rank string) { return "Coleoptera", "family" }

func (people) View(view string) (part, orientation string) {
	return map[string]string{"whole-above": "entireOrganism", "label": "unspecifiedPart"}[view],
		map[string]string{"whole-above": "dorsal", "label": "unspecifiedOrientation"}[view]
}

var club = people{"ada": "Ada Ahorn", "ben": "Ben Birke", "cora": "Cora, Ceder \"senior\"", "erased": ""}

var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

func pointer[T any](x T) *T { return &x }

// options of an archive with everything, exact.
var exact = Options{Title: "Beetles & more", Organization: "The club", License: Licences[0], Institution: "CLUB", Collection: "COL", Collectors: true, Media: true, Unsettled: true,
	Places: review.Places{Grid: review.GridExact}}

// example is a specimen with a long life.
func example() Record {
	later := noon.AddDate(0, 1, 0)
	return Record{
		Specimen: review.ExtractedSpecimen{ID: "0198-s", ChangedAt: noon,
			Label: review.Label{CatalogueNumber: "A, 1", Country: "Germany", Province: "Hessen", CollectedFrom: "2026-05-01", CollectedTo: "2026-05-03", Trip: "Rhön 2026", Method: "pitfall trap",
				Habitat: "dry\nmeadow", HostPlant: "Salix caprea", Sex: "male", Stage: "adult", Count: 2, Preparation: "pinned", MissingParts: "left antenna", StoragePlace: "drawer 7", Disposition: "in collection"},
			Withholding: review.Withholding{ID: "w", Digest: "d"},
			Photos:      []review.Photo{{ID: "p1", View: "whole-above", SHA256: "ab", Type: "image/jpeg", Width: 100, Height: 50, By: "ada", At: noon}, {ID: "p2", View: "label", By: "ada", At: noon}},
			Marked:      []review.Observation{{ID: "o1", Character: "antenna", State: "serrate", Photo: "p1", Region: &review.Region{X: 0.1, Y: 0.2, W: 0.25, H: 0.5}}}},
		Withheld: &review.Withheld{Locality: "by the old mill", Latitude: pointer(50.51234), Longitude: pointer(9.98765), UncertaintyM: pointer(25.0), District: "Fulda", ElevationM: pointer(412.5),
			Collector: "Ada Ahorn | Ben Birke", Permit: "P 7", VerbatimLabel: "Rhön, 1.-3.V.2026\nleg. \"Ahorn\""},
		Submissions: []review.ExtractedSubmission{
			{ID: "0198-a", Group: "g", Status: review.StatusRedetermined, ChangedAt: noon, ClosedAt: &noon,
				Determination: review.Determination{Family: "Buprestidae", Qualifier: review.QualifierDoubt, Determiner: "erased", DeterminedOn: "1971"},
				Opinions:      []review.Opinion{{Kind: review.OpinionAnother, Family: "Carabidae", Basis: review.BasisPhotos, By: "cora", At: noon}}},
			{ID: "0198-b", Group: "g", Status: review.StatusConfirmed, ChangedAt: later, ClosedAt: &later, Settled: true,
				Determination: review.Determination{Family: "Elateridae", ScientificName: "Agriotes lineatus (Linnaeus, 1767)", Qualifier: review.QualifierCf, Doubted: review.RankSpecies,
					Determiner: "ben", DeterminedOn: "2026-05-12"},
				Opinions: []review.Opinion{{Kind: review.OpinionAgrees, Rank: review.RankGenus, Basis: review.BasisPhotos, By: "cora", At: noon}, {Kind: review.OpinionAgrees, By: "erased", At: noon}}},
			{ID: "0198-c", Group: "g", Status: review.StatusWithdrawn, ChangedAt: later, Determination: review.Determination{Family: "Carabidae", Determiner: "ada"}},
		},
	}
}

// archived is the archive of some records.
func archived(t *testing.T, o Options, records ...Record) ([]byte, Counts) {
	w, err := NewWriter(o, club, func() (Spool, error) { return &memory{}, nil })
	require.NoError(t, err)
	for i := range records {
		require.NoError(t, w.Append(&records[i]))
	}
	var archive bytes.Buffer
	counts, err := w.Close(&archive)
	require.NoError(t, err)
	return archive.Bytes(), counts
}

// rowsOf are the rows of a file in an archive by the names of their columns, read by general programs.
func rowsOf(t *testing.T, archive []byte, name string) []map[string]string {
	packed, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	require.NoError(t, err)
	file, err := packed.Open(name)
	require.NoError(t, err)
	defer file.Close()
	all, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var rows []map[string]string
	for _, r := range all[1:] {
		row := map[string]string{}
		for i, column := range all[0] {
			if r[i] != "" {
				row[column] = r[i]
			}
		}
		rows = append(rows, row)
	}
	return rows
}

// TestExampleOfARecord holds every field of a record against what value_rules.csv and the terms ask for.
func TestExampleOfARecord(t *testing.T) {
	archive, counts := archived(t, exact, example())
	require.Equal(t, Counts{Occurrences: 1, Identifications: 3, Media: 3}, counts)
	accepted := map[string]string{"identificationID": "urn:uuid:0198-b", "identifiedBy": "Ben Birke", "identifiedByID": "urn:uuid:ben", "dateIdentified": "2026-05-12",
		"identificationQualifier": "cf. lineatus", "identificationVerificationStatus": "2", "identificationRemarks": `conf. Agriotes from photo Cora, Ceder "senior" 2026-05-14`,
		"verbatimIdentification": "Agriotes cf. lineatus (Linnaeus, 1767)", "isAcceptedIdentification": "true", "identificationType": "features", "taxonFormula": "A cf.",
		"kingdom": "Animalia", "phylum": "Arthropoda", "class": "Insecta", "order": "Coleoptera", "family": "Elateridae", "genus": "Agriotes", "specificEpithet": "lineatus",
		"scientificName": "Agriotes lineatus (Linnaeus, 1767)", "scientificNameAuthorship": "(Linnaeus, 1767)", "taxonRank": "species", "nomenclaturalCode": "ICZN"}
	want := map[string]string{"occurrenceID": "urn:uuid:0198-s", "basisOfRecord": "PreservedSpecimen", "modified": "2026-06-14T12:00:00Z", "license": Licences[0],
		"institutionCode": "CLUB", "collectionCode": "COL", "catalogNumber": "A, 1", "recordedBy": "Ada Ahorn | Ben Birke", "individualCount": "2", "sex": "male", "lifeStage": "adult",
		"preparations": "pinned", "disposition": "in collection", "associatedTaxa": "host plant: Salix caprea", "occurrenceRemarks": "Missing parts: left antenna",
		"verbatimLabel": "Rhön, 1.-3.V.2026\nleg. \"Ahorn\"", "eventDate": "2026-05-01/2026-05-03", "samplingProtocol": "pitfall trap", "habitat": "dry\nmeadow",
		"eventRemarks": "Collecting trip: Rhön 2026", "country": "Germany", "countryCode": "DE", "stateProvince": "Hessen", "county": "Fulda", "locality": "by the old mill",
		"minimumElevationInMeters": "412.5", "maximumElevationInMeters": "412.5", "decimalLatitude": "50.51234", "decimalLongitude": "9.98765", "geodeticDatum": "EPSG:4326",
		"coordinateUncertaintyInMeters": "25", "informationWithheld": "Withheld: number of the permit.", "previousIdentifications": "Buprestidae? | Carabidae"}
	for column, value := range accepted {
		want[column] = value
	}
	require.Equal(t, []map[string]string{want}, rowsOf(t, archive, "occurrence.csv"))
	history := rowsOf(t, archive, "identification.csv")
	require.Len(t, history, 3, "a withdrawn name is none, and an agreeing voice is no further row")
	accepted["occurrenceID"] = "urn:uuid:0198-s"
	require.Equal(t, accepted, history[2])
	require.Equal(t, map[string]string{"occurrenceID": "urn:uuid:0198-s", "identificationID": "urn:uuid:0198-a", "dateIdentified": "1971", "identificationQualifier": "? Buprestidae",
		"identificationVerificationStatus": "0", "verbatimIdentification": "Buprestidae?", "isAcceptedIdentification": "false", "identificationType": "features", "taxonFormula": "A ?",
		"kingdom": "Animalia", "phylum": "Arthropoda", "class": "Insecta", "order": "Coleoptera", "family": "Buprestidae", "scientificName": "Buprestidae", "taxonRank": "family",
		"nomenclaturalCode": "ICZN"}, history[0], "of whoever was erased nothing is told")
	require.Equal(t, "Carabidae", history[1]["scientificName"])
	require.Equal(t, "media", history[1]["identificationType"])
	media := rowsOf(t, archive, "multimedia.csv")
	require.Equal(t, "urn:uuid:o1", media[0]["hasROI"])
	require.Equal(t, "http://rs.tdwg.org/acorient/values/r0006", media[0]["subjectOrientation"])
	require.Equal(t, map[string]string{"occurrenceID": "urn:uuid:0198-s", "identifier": "urn:uuid:o1", "type": "StillImage", "isROIOf": "urn:uuid:p1", "xFrac": "0.1", "yFrac": "0.2",
		"widthFrac": "0.25", "heightFrac": "0.5", "description": "antenna: serrate"}, media[1])
}

// TestValueRules: the accepted forms of value_rules.csv are written as they stand there, and the ones to avoid never.
func TestValueRules(t *testing.T) {
	rules := table(t, "darwin_core/value_rules.csv")
	require.Len(t, rules, 14)
	accepts := func(field string) (all []string) {
		for _, r := range rules {
			if strings.Contains(r["field"], field) {
				all = append(all, r["accept"])
			}
		}
		return all
	}
	require.Contains(t, accepts("identifiedBy"), strings.Join([]string{"A", "B"}, between))
	d := review.Determination{Family: "Carabidae", ScientificName: "Carabidae", Qualifier: review.QualifierCf}
	qualifier, _ := doubt(&d, "Carabidae")
	require.Contains(t, accepts("identificationQualifier"), qualifier)
	for _, r := range rules {
		if !strings.Contains(r["field"], "Date") && !strings.Contains(r["field"], "dateIdentified") {
			continue
		}
		_, _, _, ok := dates(r["accept"])
		require.True(t, ok, r["accept"])
		if r["avoid"] != "" {
			_, _, _, ok = dates(r["avoid"])
			require.False(t, ok, r["avoid"])
		}
	}
	from, to, whole, ok := dates("2007-11-13/15")
	require.Equal(t, []any{"2007-11-13", "2007-11-15", true, true}, []any{from, to, whole, ok})
	from, to, whole, ok = dates("2007-03-01T13:00:00Z/2008-05-11T15:30:00Z")
	require.Equal(t, []any{"2007-03-01", "2008-05-11", false, true}, []any{from, to, whole, ok})
}

// TestCoarsePlaces: nothing that a coarser grid keeps back is anywhere in the archive, and the archive says so.
func TestCoarsePlaces(t *testing.T) {
	for _, grid := range review.Grids[1:] {
		o := exact
		o.Places, o.Collectors = review.Places{Taxa: map[string]review.Grid{"Carabidae": grid}, Grid: review.GridExact}, false
		archive, _ := archived(t, o, example())
		row := rowsOf(t, archive, "occurrence.csv")[0]
		text := everything(t, archive)
		for _, secret := range []string{"old mill", "50.51234", "9.98765", "412.5", "leg.", "P 7", "drawer 7", "urn:uuid:p2"} {
			require.NotContains(t, text, secret, grid)
		}
		require.NotContains(t, row, "recordedBy")
		require.Contains(t, row["informationWithheld"], "locality")
		require.Contains(t, row["informationWithheld"], "collector")
		if grid == review.GridNone {
			require.NotContains(t, row, "decimalLatitude")
			require.Contains(t, row["informationWithheld"], "coordinates")
			require.NotContains(t, text, "Fulda")
			continue
		}
		p := grid.Coarsen(50.51234, 9.98765, pointer(25.0))
		require.Equal(t, []string{decimal(p.Latitude), decimal(p.Longitude), decimal(p.UncertaintyM), string(grid)},
			[]string{row["decimalLatitude"], row["decimalLongitude"], row["coordinateUncertaintyInMeters"], row["coordinatePrecision"]})
		require.Contains(t, row["dataGeneralizations"], string(grid)+" degree")
	}
	gone := example()
	gone.Withheld = nil
	archive, _ := archived(t, exact, gone)
	require.Equal(t, "Place and collector were erased.", rowsOf(t, archive, "occurrence.csv")[0]["informationWithheld"])
}

func everything(t *testing.T, archive []byte) string {
	packed, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
	require.NoError(t, err)
	var all strings.Builder
	for _, f := range packed.File {
		r, err := f.Open()
		require.NoError(t, err)
		_, err = io.Copy(&all, r)
		require.NoError(t, err)
	}
	return all.String()
}

// TestOneIsAccepted: of whatever lives, each specimen has exactly one accepted determination.
func TestOneIsAccepted(t *testing.T) {
	slip := func(id string, accepted bool, on string) review.Slip {
		return review.Slip{ID: id, Name: "Carabidae", Family: "Carabidae", Accepted: accepted, DeterminedOn: on}
	}
	sub := func(id string, status review.Status, at time.Time) review.ExtractedSubmission {
		return review.ExtractedSubmission{ID: id, Group: "g", Status: status, ChangedAt: at, ClosedAt: &at, UndeterminedBy: "ada", Determination: review.Determination{Family: "Elateridae", Determiner: "ada"}}
	}
	for want, r := range map[string]Record{
		"old":              {Specimen: review.ExtractedSpecimen{Slips: []review.Slip{slip("old", true, "1950"), slip("new", false, "1960")}}},
		"new":              {Specimen: review.ExtractedSpecimen{Slips: []review.Slip{slip("new", false, "1960"), slip("older", false, "1950")}}},
		"kept":             {Specimen: review.ExtractedSpecimen{Slips: []review.Slip{slip("kept", false, "")}}, Submissions: []review.ExtractedSubmission{sub("a", review.StatusOpen, noon)}},
		"urn:uuid:a":       {Specimen: review.ExtractedSpecimen{Slips: []review.Slip{slip("s", true, "2030")}}, Submissions: []review.ExtractedSubmission{sub("a", review.StatusConfirmed, noon), sub("b", review.StatusOpen, noon.Add(time.Hour))}},
		"urn:uuid:c":       {Submissions: []review.ExtractedSubmission{sub("b", review.StatusReturned, noon), sub("c", review.StatusOpen, noon.Add(time.Hour))}},
		"urn:uuid:d#indet": {Submissions: []review.ExtractedSubmission{sub("d", review.StatusUndetermined, noon)}},
	} {
		var accepted []string
		for _, x := range identificationsOf(&r, club) {
			if x.accepted {
				accepted = append(accepted, x.id)
			}
		}
		require.Equal(t, []string{want}, accepted)
	}
	undetermined := Record{Submissions: []review.ExtractedSubmission{sub("d", review.StatusUndetermined, noon)}}
	x := identificationsOf(&undetermined, club)[1]
	require.Equal(t, []string{"Coleoptera", "order", "Coleoptera, fam. indet.", "", "Ada Ahorn"}, []string{x.name, x.rank, x.verbatim, x.family, x.by})
	undetermined.Specimen.Vouchings = []review.Vouching{{VouchForm: review.VouchForm{Determination: "d", Verification: "3", TypeStatus: "paratype of X"}}}
	rows := identificationsOf(&undetermined, club)
	require.Equal(t, []string{"3", "paratype of X", "2"}, []string{rows[0].verification, rows[0].typeStatus, rows[1].verification})
}

// TestSameBytes: the same records give the same bytes, whatever the clock says; and all files are well formed for programs that are not ours.
func TestSameBytes(t *testing.T) {
	first, _ := archived(t, exact, example(), example())
	second, _ := archived(t, exact, example(), example())
	require.True(t, bytes.Equal(first, second))
	packed, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	require.NoError(t, err)
	var names []string
	for _, f := range packed.File {
		names = append(names, f.Name)
		r, err := f.Open()
		require.NoError(t, err)
		if strings.HasSuffix(f.Name, ".xml") {
			text, err := io.ReadAll(r)
			require.NoError(t, err)
			require.NoError(t, xml.Unmarshal(text, new(struct{})))
			if f.Name == metaName {
				place := filepath.Join(t.TempDir(), metaName)
				require.NoError(t, os.WriteFile(place, text, 0o600))
				require.True(t, followsSchema(t, place))
			}
		}
		require.NoError(t, r.Close())
	}
	require.Equal(t, []string{"occurrence.csv", "identification.csv", "multimedia.csv", "eml.xml", "meta.xml"}, names)
	o := exact
	o.Media = false
	without, counts := archived(t, o, example())
	require.Zero(t, counts.Media)
	require.NotContains(t, everything(t, without), "multimedia")
}

// TestWhatStaysInTheHouse: what has no name, what was undone, and unless it is asked for what is not settled.
func TestWhatStaysInTheHouse(t *testing.T) {
	open := example()
	open.Submissions = open.Submissions[:1]
	open.Submissions[0].Status = review.StatusOpen
	open.Submissions[0].Opinions = nil
	nameless := example()
	nameless.Submissions = nil
	undone := example()
	undone.Specimen.Origin = &review.Origin{Undone: "another file"}
	o := exact
	o.Unsettled = false
	_, counts := archived(t, o, open, nameless, undone)
	require.Zero(t, counts)
	_, counts = archived(t, exact, open, nameless, undone)
	require.Equal(t, 1, counts.Occurrences)
}
