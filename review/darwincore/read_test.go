package darwincore

import (
	"archive/zip"
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"revidit/review"
	"revidit/review/delimited"
)

// packedAs is an archive of files, in their order: name, text, name, text.
func packedAs(t testing.TB, files ...string) []byte {
	var archive bytes.Buffer
	w := zip.NewWriter(&archive)
	for i := 0; i < len(files); i += 2 {
		into, err := w.Create(files[i])
		require.NoError(t, err)
		_, err = into.Write([]byte(files[i+1]))
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return archive.Bytes()
}

// read is everything in an archive.
func read(t testing.TB, archive []byte, limits Limits) ([]review.Incoming, review.IntakeSummary) {
	a, err := Open(bytes.NewReader(archive), int64(len(archive)), limits)
	require.NoError(t, err)
	r, err := a.Read()
	require.NoError(t, err)
	var all []review.Incoming
	var counted review.IntakeSummary
	require.NoError(t, r.Each(func(in *review.Incoming) error {
		all = append(all, *in)
		counted.Count(in)
		return nil
	}))
	told := r.Summary()
	counted.Faults, counted.Unread = told.Faults, told.Unread
	return all, counted
}

// takenIn is the record that a service without anything makes of what came in: each name becomes somebody of that name.
func takenIn(in *review.Incoming, book people) Record {
	r := Record{Specimen: review.ExtractedSpecimen{ID: "new", ChangedAt: noon, Label: in.Label, Origin: &review.Origin{Source: in.Source}, Described: in.Described}, Withheld: &in.Withheld}
	for _, s := range in.Slips {
		for _, name := range s.By {
			s.Determiners = append(s.Determiners, "new "+name)
			book["new "+name] = name
		}
		r.Specimen.Slips = append(r.Specimen.Slips, s.Slip)
	}
	return r
}

// TestRoundTrip: our own archive, read into an empty house and written again, has equal determinations, regions and dates.
func TestRoundTrip(t *testing.T) {
	indet := example()
	indet.Specimen.ID = "0199-i"
	indet.Specimen.Photos, indet.Specimen.Marked = nil, nil
	indet.Submissions = []review.ExtractedSubmission{{ID: "0199-i", Group: "g", Status: review.StatusUndetermined, ChangedAt: noon, ClosedAt: &noon, UndeterminedBy: "ben",
		Determination: review.Determination{Family: "Elateridae", ScientificName: "Agriotes Eschscholtz, 1829", Qualifier: review.QualifierAff, Doubted: review.RankGenus, Determiner: "ada", DeterminedOn: "2026-05"}}}
	first, counts := archived(t, exact, example(), indet)
	incoming, summary := read(t, first, DefaultLimits)
	require.Equal(t, review.IntakeSummary{Rows: 2, Slips: counts.Identifications, Described: 2, Regions: 1, Unplaced: summary.Unplaced}, summary, "%+v", incoming)
	var records []Record
	for i := range incoming {
		records = append(records, takenIn(&incoming[i], club))
	}
	second, _ := archived(t, exact, records...)
	same := func(name string, but ...string) {
		was, is := rowsOf(t, first, name), rowsOf(t, second, name)
		for _, rows := range [][]map[string]string{was, is} {
			for _, row := range rows {
				for _, column := range but {
					delete(row, column)
				}
			}
		}
		require.Equal(t, was, is, name)
	}
	same("identification.csv", "identifiedByID") // who determined is somebody else's number elsewhere
	same("multimedia.csv", "creator")
	same("occurrence.csv", "identifiedByID", "modified", "informationWithheld") // changed now, and nothing is withheld any more
	kept := map[string]bool{}
	for _, u := range summary.Unplaced {
		kept[u.Column] = true
	}
	require.Equal(t, map[string]bool{"modified": true, "license": true, "institutionCode": true, "collectionCode": true, "informationWithheld": true, "creator": true}, kept)
}

const foreignMeta = `<?xml version="1.0" encoding="UTF-8"?><archive xmlns="http://rs.tdwg.org/dwc/text/" metadata="eml.xml">
<core encoding="%s" fieldsTerminatedBy="%s" linesTerminatedBy="\n" fieldsEnclosedBy="%s" ignoreHeaderLines="1" rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>occ.txt</location></files><id index="0"/>
<field index="1" term="http://rs.tdwg.org/dwc/terms/catalogNumber"/><field index="2" term="http://rs.tdwg.org/dwc/terms/scientificName"/><field index="3" term="http://rs.tdwg.org/dwc/terms/identifiedBy"/>
<field index="4" term="http://rs.tdwg.org/dwc/terms/eventDate"/><field index="5" term="http://rs.tdwg.org/dwc/terms/waterBody"/><field index="6" term="http://rs.tdwg.org/dwc/terms/individualCount" default="1"/>
<field term="http://rs.tdwg.org/dwc/terms/country" default="Österreich"/><field term="http://rs.tdwg.org/dwc/terms/basisOfRecord" default="PreservedSpecimen"/></core>
<extension rowType="http://rs.tdwg.org/dwc/terms/MeasurementOrFact" ignoreHeaderLines="0"><files><location>facts.csv</location></files><coreid index="0"/>
<field index="1" term="http://rs.tdwg.org/dwc/terms/measurementType"/><field index="2" term="http://rs.tdwg.org/dwc/terms/measurementValue"/></extension>
<extension rowType="http://rs.tdwg.org/dwc/terms/Identification"><files><location>gone.csv</location></files><coreid index="0"/><field index="1" term="http://rs.tdwg.org/dwc/terms/scientificName"/></extension></archive>`

// foreign is an archive as another program writes it, in an encoding, with marks of its own.
func foreign(t testing.TB, encoding, terminated, enclosed, separator string, encode func(string) string) []byte {
	rows := "id|number|name|by|date|water|n\n" +
		"x1|7|Carabus auratus Linné, 1761|Müller|1906-06|Lake|\n" +
		"x2|8|Elater sp.|A. Öhm|14.5.1907|Lake|three|left over\n" +
		"x1|9|twice||1906||\n" +
		"x3\n"
	return packedAs(t, "folder/meta.xml", fmt.Sprintf(foreignMeta, encoding, terminated, enclosed), "folder/occ.txt", encode(strings.ReplaceAll(rows, "|", separator)),
		"folder/facts.csv", "x1,length,20 mm\nx9,length,1\n", "folder/eml.xml", "<eml/>", "folder/notes.txt", "hello")
}

// TestForeignArchives: whatever delimiter and encoding, the same comes in: what has a place in it, everything else word for word, and
// faults by row and column that stop nothing else.
func TestForeignArchives(t *testing.T) {
	plain := func(s string) string { return s }
	latin := func(s string) string {
		r, err := charmap.Windows1252.NewEncoder().String(s)
		require.NoError(t, err)
		return r
	}
	wide := func(s string) string {
		r, err := unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder().String(s)
		require.NoError(t, err)
		return r
	}
	for name, archive := range map[string][]byte{
		"tabs":         foreign(t, "UTF-8", `\t`, "", "\t", plain),
		"byte order":   foreign(t, "UTF-8", `\t`, "", "\t", func(s string) string { return "\ufeff" + s }),
		"bars, quotes": foreign(t, "utf-8", "|", "&quot;", "|", plain),
		"Windows":      foreign(t, "windows-1252", ";", "'", ";", func(s string) string { return strings.ReplaceAll(latin(s), "\n", "\r\n") }),
		"Latin 1":      foreign(t, "ISO-8859-1", ";", "", ";", latin),
		"sixteen bits": foreign(t, "utf-16le", ";", "", ";", wide),
	} {
		all, told := read(t, archive, DefaultLimits)
		require.Len(t, all, 4, name)
		first := all[0]
		require.Equal(t, review.Label{CatalogueNumber: "7", Country: "Österreich", CollectedFrom: "1906-06", Count: 1}, first.Label, name)
		require.Equal(t, []review.IncomingSlip{{Slip: review.Slip{Name: "Carabus auratus Linné, 1761", Accepted: true}, By: []string{"Müller"}}}, first.Slips, name)
		require.Equal(t, []review.RestValue{{File: "facts.csv", Row: 1, Column: "measurementType", Value: "length"}, {File: "facts.csv", Row: 1, Column: "measurementValue", Value: "20 mm"},
			{File: "occ.txt", Row: 1, Column: "waterBody", Value: "Lake"}}, first.Rest, name)
		require.Empty(t, first.Faults)
		require.Equal(t, []review.IntakeFault{{Code: review.FaultNumber, File: "occ.txt", Row: 2, Column: "individualCount", Value: "three"},
			{Code: review.FaultDate, File: "occ.txt", Row: 2, Column: "eventDate", Value: "14.5.1907"}}, all[1].Faults, name)
		require.False(t, all[1].Refused)
		require.Contains(t, all[1].Rest, review.RestValue{File: "occ.txt", Row: 2, Column: "", Value: "left over"})
		require.Contains(t, all[1].Rest, review.RestValue{File: "occ.txt", Row: 2, Column: "eventDate", Value: "14.5.1907"})
		require.True(t, all[2].Refused)
		require.Equal(t, review.FaultTwice, all[2].Faults[0].Code)
		require.False(t, all[3].Refused, "a short row has empty fields")
		require.Equal(t, []string{"folder/notes.txt"}, told.Unread, name)
		require.Equal(t, []review.FaultCode{review.FaultMissing, review.FaultOrphan}, []review.FaultCode{told.Faults[0].Code, told.Faults[1].Code}, name)
		require.Equal(t, []int{4, 1, 2}, []int{told.Rows, told.Refused, told.Faulty}, name)
	}
}

// TestBrokenRows: a mark that is not closed costs its own row.
func TestBrokenRows(t *testing.T) {
	file := File{Terminated: ",", Lines: "\n", Enclosed: `"`}
	text := "a,\"b\"\"c\"\n\n\"open,1\nx,y\r\n\"two\nlines\",z\nbad\xff,1\n" + strings.Repeat("l", delimited.MaxField+1) + ",1\nlast,\"in\"side"
	lines := rows(strings.ToValidUTF8(text, "\ufffd"), &file)
	var got []string
	for {
		fields, n, err := lines.Next()
		if err != nil && err.Error() == "EOF" {
			break
		}
		got = append(got, fmt.Sprintf("%d %v %s", n, fields, codeOfOrNone(err)))
	}
	require.Equal(t, []string{`1 [a b"c] `, "2 [] open", "3 [x y] ", "4 [two\nlines z] ", "5 [] text", "6 [] long", "7 [last inside] "}, got)
}

func codeOfOrNone(err error) review.FaultCode {
	if err == nil {
		return ""
	}
	return codeOf(err)
}

// TestBounds: what is too large is refused before it takes memory.
func TestBounds(t *testing.T) {
	meta := `<archive xmlns="http://rs.tdwg.org/dwc/text/"><core rowType="http://rs.tdwg.org/dwc/terms/Occurrence"><files><location>o</location></files><id index="0"/><field index="0" term="http://rs.tdwg.org/dwc/terms/occurrenceID"/></core></archive>`
	bomb := packedAs(t, "meta.xml", meta, "o", strings.Repeat("0\n", 1<<20))
	require.Less(t, len(bomb), 1<<14)
	for name, limits := range map[string]Limits{
		"packed":   {Packed: 100, Unpacked: 1 << 30, Rows: 1 << 30},
		"unpacked": {Packed: 1 << 20, Unpacked: 1 << 20, Rows: 1 << 30},
		"rows":     {Packed: 1 << 20, Unpacked: 1 << 30, Rows: 100},
	} {
		a, err := Open(bytes.NewReader(bomb), int64(len(bomb)), limits)
		if name == "packed" {
			require.Error(t, err, name)
			continue
		}
		require.NoError(t, err, name)
		r, err := a.Read()
		require.NoError(t, err)
		require.Error(t, r.Each(func(*review.Incoming) error { return nil }), name)
	}
	for _, files := range [][]string{{"o", "x"}, {"meta.xml", "no XML"}, {"meta.xml", meta, "meta.xml", meta}, {"a/b/meta.xml", meta}} {
		archive := packedAs(t, files...)
		_, err := Open(bytes.NewReader(archive), int64(len(archive)), DefaultLimits)
		require.Error(t, err, files[0])
	}
	taxa := packedAs(t, "meta.xml", strings.ReplaceAll(meta, "terms/Occurrence\"", "terms/Taxon\""))
	a, err := Open(bytes.NewReader(taxa), int64(len(taxa)), DefaultLimits)
	require.NoError(t, err)
	_, err = a.Read()
	require.ErrorContains(t, err, "no occurrences")
}

// TestSlipsOfOthers: of several accepted ones the latest is, of none the core's own, and it is told.
func TestSlipsOfOthers(t *testing.T) {
	slip := func(id, name, on string, accepted bool) review.IncomingSlip {
		return review.IncomingSlip{Slip: review.Slip{ID: id, Name: name, DeterminedOn: on, Accepted: accepted}}
	}
	for name, c := range map[string]struct {
		slips  []review.IncomingSlip
		core   readSlip
		want   string
		faults int
	}{
		"two accepted":   {[]review.IncomingSlip{slip("a", "A", "1950", true), slip("b", "B", "1940", true)}, readSlip{}, "A", 1},
		"none accepted":  {[]review.IncomingSlip{slip("a", "A", "1940", false), slip("b", "B", "1950", false)}, readSlip{}, "B", 0},
		"core in it":     {[]review.IncomingSlip{slip("a", "A", "1940", false), slip("b", "B", "1950", false)}, readSlip{IncomingSlip: slip("a", "A", "", false)}, "A", 0},
		"core beside it": {[]review.IncomingSlip{slip("a", "A", "1990", false)}, readSlip{IncomingSlip: slip("", "C", "", false)}, "C", 0},
		"core alone":     {nil, readSlip{IncomingSlip: slip("", "C", "", false)}, "C", 0},
	} {
		in := review.Incoming{Slips: c.slips}
		settleSlips(&in, "f", c.core)
		var accepted []string
		for _, s := range in.Slips {
			if s.Accepted {
				accepted = append(accepted, s.Name)
			}
		}
		require.Equal(t, []string{c.want}, accepted, name)
		require.Len(t, in.Faults, c.faults, name)
	}
}
