package inventory

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"

	"revidit/review"
	"revidit/review/diagnosis"
)

const today = "2026-11-30"

// known are the names of families that our tables know.
func known(name string) (today, remark string, ok bool) {
	family, remark, ok := diagnosis.Default().Resolve(name)
	if !ok {
		return "", "", false
	}
	return family.Name, remark, true
}

// taken reads a table as wanted says.
func taken(t testing.TB, data []byte, wanted *review.InventoryReading) ([]*review.Incoming, *review.InventoryReading) {
	t.Helper()
	table, err := Read(data, wanted, DefaultLimits)
	require.NoError(t, err)
	reading := table.Settle(wanted, known)
	var rows []*review.Incoming
	require.NoError(t, NewSource(table, reading, "t.csv", known, today).Each(func(in *review.Incoming) error {
		rows = append(rows, in)
		return nil
	}))
	return rows, reading
}

// told are the faults of a row, shortly.
func told(in *review.Incoming) (said []string) {
	for _, f := range in.Faults {
		said = append(said, fmt.Sprintf("%d %s %s: %s", f.Row, f.Column, f.Code, strings.TrimSuffix(f.Value+" > "+f.Stored, " > ")))
	}
	return said
}

func kept(in *review.Incoming) map[string]string {
	rest := map[string]string{}
	for _, v := range in.Rest {
		rest[v.Column] = v.Value
	}
	return rest
}

// old is a made-up table as a curator of the last century might have left it.
const old = "Sammlung Immergruen;;;;;;;;;;;\n" +
	"\n" +
	"Nr.;Familie;Gattung;Art;det.;det. Jahr;Datum;Land;Fundort;Höhe (m);leg.;Bemerkungen\n" +
	"0001;Carabidae;Carabus;auratus;A. Lattich;1931;14.v.1930;Österreich;Hintertal;1050 m;B. Wegerich;aus dem Nachlass\n" +
	"0002;Bruchidae;Bruchus;pisorum;det. A. Lattich 1931;;5.6.30;Österreich;Hintertal;3445 ft;B. Wegerich;\n" +
	"3;Carabidae;Carabus;cf. nitens;A. Lattich;31;28.V.-2.VI.;Österreich;=HYPERLINK(1);1000-1100 m;;\n" +
	";Carabidae;Carabus;auratus;;;31.ii.1930;;;hoch;;\n" +
	"0001;Carabidae;Carabus;auronitens;C. Sauerklee;1975;14.v.1930;Österreich;Hintertal;1050 m;B. Wegerich;aus dem Nachlass\n" +
	"0002;Carabidae;Carabus;auratus;A. Lattich;1931;7.vii.1950;Schweiz;Anderswo;;;\n" +
	"\"0009;nicht geschlossen\n" +
	"0010;Carabidae;;;D. Augentrost;2003;1.i.2099;Österreich;Hintertal;;;\n"

func TestOldTable(t *testing.T) {
	rows, reading := taken(t, []byte(old), nil)
	require.Equal(t, []any{"utf-8", ";", 3}, []any{reading.Encoding, reading.Separator, reading.Header})
	means := []review.Meaning{}
	for _, c := range reading.Columns {
		means = append(means, c.Means)
	}
	require.Equal(t, []review.Meaning{"label.catalogue_number", "slip.1.family", "slip.1.genus", "slip.1.epithet", "slip.1.determiner", "slip.1.date", review.MeansCollected, "label.country",
		"withheld.locality", "withheld.elevation_m", "withheld.collector", review.MeansKeep}, means)
	require.Equal(t, &review.ColumnsDates{Either: 1, TwoDigits: 1}, reading.Columns[6].Dates)
	require.Len(t, rows, 7)

	first := rows[0]
	require.Equal(t, 4, first.Row, "as a spreadsheet counts, with the empty row")
	require.Equal(t, []int{8}, first.Joined)
	require.Equal(t, review.Label{CatalogueNumber: "0001", Country: "Österreich", CollectedFrom: "1930-05-14"}, first.Label)
	require.Equal(t, 1050.0, *first.Withheld.ElevationM)
	require.Len(t, first.Slips, 2, "a further row of the same number, with another determination")
	require.Equal(t, []any{"Carabus auratus", []string{"A. Lattich"}, "1931", false}, []any{first.Slips[0].Name, first.Slips[0].By, first.Slips[0].DeterminedOn, first.Slips[0].Accepted})
	require.Equal(t, []any{"Carabus auronitens", "species", "Carabidae", "1975", true}, []any{first.Slips[1].Name, first.Slips[1].Rank, first.Slips[1].Family, first.Slips[1].DeterminedOn, first.Slips[1].Accepted})
	require.Equal(t, []string{"8 Nr. joined: 0001"}, told(first))
	require.Equal(t, "14.v.1930", kept(first)["Datum"], "the verbatim date is kept")
	require.Equal(t, "aus dem Nachlass", kept(first)["Bemerkungen"])

	second := rows[1]
	require.Empty(t, second.Label.CollectedFrom, "neither century nor order are guessed")
	require.Equal(t, "5.6.30", kept(second)["Datum"])
	require.Equal(t, 1050.0, *second.Withheld.ElevationM)
	require.Equal(t, []any{"Bruchus pisorum", "Bruchidae", []string{"A. Lattich"}, "1931"}, []any{second.Slips[0].Name, second.Slips[0].Family, second.Slips[0].By, second.Slips[0].DeterminedOn},
		"the family stays as it was written")
	require.Contains(t, told(second)[2], "Familie renamed: Bruchidae > Chrysomelidae", "%v", told(second))
	require.Equal(t, []string{"5 Datum century: 5.6.30", "5 Höhe (m) unit: 3445 ft > 1050 m"}, told(second)[:2])

	third := rows[2]
	require.Equal(t, []string{"6 Nr. zeros: 3 > 3", "6 Datum no-year: 28.V.-2.VI.", "6 Höhe (m) several: 1000-1100 m", "6 det. Jahr century: 31"}, told(third))
	require.Equal(t, []any{"Carabus nitens", "cf. nitens", "Carabus cf. nitens"}, []any{third.Slips[0].Name, third.Slips[0].Qualifier, third.Slips[0].Wording})
	require.Equal(t, "=HYPERLINK(1)", third.Withheld.Locality, "a formula is text")
	require.False(t, third.Refused)

	require.Equal(t, []string{"7 Datum unread: 31.ii.1930", "7 Höhe (m) number: hoch", "7  no-number: "}, told(rows[3]))
	require.False(t, rows[3].Refused)
	require.True(t, rows[4].Refused, "the same number with other data: nobody knows which is right")
	require.Equal(t, "9 Nr. twice: 0002", told(rows[4])[len(told(rows[4]))-1])
	require.True(t, rows[5].Refused)
	require.Equal(t, review.FaultOpen, rows[5].Faults[0].Code)
	last := rows[6]
	require.Equal(t, []any{11, "0010", false}, []any{last.Row, last.Label.CatalogueNumber, last.Refused}, "a bad row stops none of the others")
	require.Equal(t, []any{"Carabidae", "family"}, []any{last.Slips[0].Name, last.Slips[0].Rank})
	require.Equal(t, []string{"11 Datum future: 1.i.2099 > 2099-01-01"}, told(last))

	reading.Columns[6].Order, reading.Columns[6].Century = review.DayFirst, 1900
	rows, again := taken(t, []byte(old), reading)
	require.Equal(t, "1930-06-05", rows[1].Label.CollectedFrom)
	require.Equal(t, "5.6.30", kept(rows[1])["Datum"])
	require.Equal(t, review.ByCurator, again.Columns[0].Why)
}

// TestEncodings: the same table in each encoding that can be found out, and in those that can be named.
func TestEncodings(t *testing.T) {
	const text = "Nr.;Fundort\n1;Höhlensteinwände – “Süd”\n"
	encoded := func(e interface{ String(string) (string, error) }) []byte {
		s, err := e.String(text)
		require.NoError(t, err)
		return []byte(s)
	}
	for name, c := range map[string]struct {
		data   []byte
		wanted string
		sure   bool
	}{
		"utf-8":        {[]byte(text), "", true},
		"utf-8 marked": {[]byte("\ufeff" + text), "", true},
		"utf-16le":     {encoded(unicode.UTF16(unicode.LittleEndian, unicode.UseBOM).NewEncoder()), "", true},
		"utf-16be":     {encoded(unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewEncoder()), "", true},
		"windows-1252": {encoded(charmap.Windows1252.NewEncoder()), "", false},
		"macintosh":    {encoded(charmap.Macintosh.NewEncoder()), "macintosh", true},
	} {
		rows, reading := taken(t, c.data, &review.InventoryReading{Encoding: c.wanted})
		want, _, _ := strings.Cut(name, " ")
		require.Equal(t, []any{want, c.sure}, []any{reading.Encoding, reading.Sure}, name)
		require.Equal(t, "Höhlensteinwände – “Süd”", rows[0].Withheld.Locality, name)
	}
	_, err := Read([]byte("a;b\x00\x01\n\xff\xfe\x00c;d\xff"), nil, DefaultLimits)
	require.ErrorContains(t, err, "no text")
	_, err = Read([]byte("\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"), nil, DefaultLimits)
	require.ErrorContains(t, err, ".xls")
	_, err = Read([]byte("\n\n;;\n"), nil, DefaultLimits)
	require.ErrorContains(t, err, "no row")
}

func TestSeparators(t *testing.T) {
	for separator, text := range map[string]string{
		",":  "no,place\n1,\"Hintertal, upper end\"\n2,\"Vordertal; lower, end\"\n",
		";":  "no;place\n1;Hintertal, upper end\n2;Vordertal, lower end\n",
		"\t": "no\tplace\r\n1\tHintertal, upper end\r\n2\tVordertal; lower end\r\n",
		"|":  "no|place\r1|Hintertal\r2|Vordertal, end\r",
	} {
		rows, reading := taken(t, []byte(text), nil)
		require.Equal(t, separator, reading.Separator)
		require.Equal(t, []any{2, "1", 2}, []any{len(rows), rows[0].Label.CatalogueNumber, rows[0].Row}, separator)
	}
	rows, reading := taken(t, []byte("sep=;\nno;place\n1;a,b,c\n"), nil)
	require.Equal(t, []any{";", 2, 3, "a,b,c"}, []any{reading.Separator, reading.Header, rows[0].Row, rows[0].Withheld.Locality})
}

// TestColumnsByContent: without names columns are known by what stands in them, and nothing is put where it does not clearly belong.
func TestColumnsByContent(t *testing.T) {
	text := ""
	for i := range 20 {
		text += fmt.Sprintf("A-%02d,Carabidae,Carabus auratus,%d.v.1930,47.%02d N 10.%02d E,♂,det. A. Lattich 19%02d,note %s\n", i, i+1, i+10, i+10, i+30, strings.Repeat("x", i%3))
	}
	rows, reading := taken(t, []byte(text), nil)
	means := []review.Meaning{}
	for _, c := range reading.Columns {
		means = append(means, c.Means)
		require.True(t, c.Means == review.MeansKeep || c.Why == review.ByContent)
	}
	require.Equal(t, []review.Meaning{"label.catalogue_number", "slip.1.family", "slip.1.name", review.MeansCollected, review.MeansPoint, "label.sex", review.MeansSlips, review.MeansKeep}, means)
	require.Equal(t, -1, reading.Header)
	require.Len(t, rows, 20)
	require.Equal(t, 1, rows[0].Row)
	require.Equal(t, []any{"male", 47.1, 10.1}, []any{rows[0].Label.Sex, *rows[0].Withheld.Latitude, *rows[0].Withheld.Longitude})
	require.Equal(t, []any{"Carabus auratus", []string{"A. Lattich"}, "1930"}, []any{rows[0].Slips[0].Name, rows[0].Slips[0].By, rows[0].Slips[0].DeterminedOn}, "%+v", rows[0].Slips)
	require.Len(t, rows[0].Slips, 1)
}

func TestHeadings(t *testing.T) {
	for heading, want := range map[string]review.Meaning{"dwc:country": "label.country", "Höhe (m)": "withheld.elevation_m", "Det. 2": "slip.2.determiner", "2. Bestimmer": "slip.2.determiner", "det_2_year": "slip.2.date",
		"Name 3": "slip.3.name", "catalogNumber": "label.catalogue_number", "Inv.-Nr.": "label.catalogue_number", "Fundort": "withheld.locality", "LEG.": "withheld.collector", "Familia": "slip.1.family",
		"decimalLatitude": "withheld.latitude", "frühere Bestimmung": "slip.0.name", "Place 2": "", "xyz": "", "": "", "Datum": review.MeansCollected, "geodeticDatum": review.MeansDatum} {
		require.Equal(t, want, ByHeading(heading), heading)
	}
	for means := range headings {
		require.Contains(t, append(review.Meanings(), allSlips()...), means)
	}
}

func allSlips() (all []review.Meaning) {
	for _, part := range review.SlipParts {
		all = append(all, review.SlipMeaning(0, part), review.SlipMeaning(1, part))
	}
	return all
}

// TestSlipsOfACell: how slips are written; common practice, no source.
func TestSlipsOfACell(t *testing.T) {
	for _, c := range []struct {
		cell string
		want []string // name | people | date | confirms
	}{
		{"det. A. B. 1987; det. C. D. 2003", []string{"|A. B.|1987|false", "|C. D.|2003|false"}},
		{"Carabus auratus L. det. A. B. 1987; Carabus nitens det. C. D. & E. F. v.2003", []string{"Carabus auratus L.|A. B.|1987|false", "Carabus nitens|C. D.,E. F.|2003-05|false"}},
		{"Carabus sp. det. A. B. 1987 Carabus nitens det. C. D. 2003", []string{"Carabus|A. B.|1987|false", "Carabus nitens|C. D.|2003|false"}},
		{"Carabus nitens, det. Kron, I. 1987", []string{"Carabus nitens|Kron, I.|1987|false"}},
		{"Carabus nitens det. A. B. 14.v.1987 conf. C. D. 2003", []string{"Carabus nitens|A. B.|1987-05-14|false", "|||true"}},
		{"conf. C. D. 2003", []string{"|||true"}},
		{"Carabidae indet.", []string{"Carabidae|||false"}},
	} {
		got := []string{}
		for _, s := range ReadSlips(c.cell, Dates{}) {
			got = append(got, fmt.Sprintf("%s|%s|%s|%v", s.Name, strings.Join(s.By, ","), s.date.From, s.confirms))
		}
		require.Equal(t, c.want, got, c.cell)
	}
}

// TestDeterminationsInColumns: det. 1, det. 2 and so on are determinations of their own; the latest holds.
func TestDeterminationsInColumns(t *testing.T) {
	rows, reading := taken(t, []byte("no,name 1,det. 1,det. 1 year,name 2,det. 2,det. 2 year,det. 3\n"+
		"7,Carabus auratus,A. B.,1931,Carabus nitens,C. D. & E. F.,2003,\n8,Carabus auratus,A. B.,1931,,C. D.,2003,\n9,Carabus auratus,A. B.,,Carabus nitens,,,\n"), nil)
	require.Equal(t, review.Meaning("slip.3.determiner"), reading.Columns[7].Means)
	require.Equal(t, []any{2, "1931", "2003", true}, []any{len(rows[0].Slips), rows[0].Slips[0].DeterminedOn, rows[0].Slips[1].DeterminedOn, rows[0].Slips[1].Accepted})
	require.Equal(t, []string{"C. D.", "E. F."}, rows[0].Slips[1].By)
	require.Equal(t, []string{"3 det. 2 year unnamed: C. D. 2003"}, told(rows[1]), "of a later determination without a name nothing is guessed")
	require.True(t, rows[1].Slips[0].Accepted)
	require.True(t, rows[2].Slips[1].Accepted)
}

func TestLimits(t *testing.T) {
	limits := DefaultLimits
	limits.Rows = 2
	_, err := Read([]byte("a,b\n1,2\n3,4\n"), nil, limits)
	require.ErrorContains(t, err, "more than 2 rows")
	limits = DefaultLimits
	limits.Letters = 4
	_, err = Read([]byte("abc,def\n"), nil, limits)
	require.ErrorContains(t, err, "more text")
	_, err = Read([]byte(strings.Repeat("a,", 300)), nil, DefaultLimits)
	require.ErrorContains(t, err, "more than 200 cells")
}

// few names stand for the tables where many files are read: loading those takes as long as reading a thousand.
func few(name string) (today, remark string, ok bool) {
	today, ok = map[string]string{"Carabidae": "Carabidae", "Bruchidae": "Chrysomelidae"}[name]
	return today, "", ok
}

// checked holds whatever comes in to the fields that it comes into.
func checked(t *testing.T, data []byte, wanted *review.InventoryReading) {
	limits := Limits{File: 1 << 20, Unpacked: 1 << 20, Rows: 300, Letters: 1 << 18}
	table, err := Read(data, wanted, limits)
	if err != nil {
		return
	}
	reading := table.Settle(wanted, few)
	var p review.Problems
	reading.Check(&p)
	require.NoError(t, p.Err(), "what was found out can be asked for")
	source := NewSource(table, reading, "f", few, today)
	last := 0
	err = source.Each(func(in *review.Incoming) error {
		var p review.Problems
		in.Label.Check(&p)
		in.Withheld.Check(&p)
		require.NoError(t, p.Err())
		require.Greater(t, in.Row, last, "rows come in their order")
		last = in.Row
		accepted := 0
		for _, s := range in.Slips {
			if s.Accepted {
				accepted++
			}
			require.NotEmpty(t, s.Name+s.Wording)
		}
		require.Equal(t, min(len(in.Slips), 1), accepted)
		return nil
	})
	require.NoError(t, err)
	again, err := Read(data, reading, limits)
	require.NoError(t, err, "what was found out reads the same file")
	require.Equal(t, table.Rows, again.Rows)
}

// FuzzTable: whatever somebody sends as CSV is read or refused, within its bounds, and what comes in fits the fields that it comes into.
func FuzzTable(f *testing.F) {
	f.Add([]byte(old), "", "", 0)
	f.Add([]byte("no,det. 1,det. 2,date,coordinates,slips\n1,A,B,5/6/87,47°N 10°O,det. A. B. 1987; C det. D 2003\n"), "", "", 0)
	f.Add([]byte("\xff\xfen\x00;\x00x\x00\n\x00"), "", "", 0)
	f.Add([]byte("sep=;\r\na;b\r\n\"1;2\r\n"), "windows-1252", ";", -1)
	f.Fuzz(func(t *testing.T, data []byte, encoding, separator string, header int) {
		wanted := &review.InventoryReading{Encoding: encoding, Separator: separator, Header: header}
		var p review.Problems
		if wanted.Check(&p); len(p) > 0 {
			wanted = nil
		}
		checked(t, data, wanted)
	})
}

// FuzzColumns: whatever a curator says that columns hold, and whatever stands in them.
func FuzzColumns(f *testing.F) {
	all := append(review.Meanings(), allSlips()...)
	for i := range all {
		f.Add("14.v.26", "det. A. B. 1987; 47°N 10°O", uint8(i), uint8(i+7), 1925, "day", "west")
	}
	f.Fuzz(func(t *testing.T, a, b string, one, other uint8, century int, order, east string) {
		wanted := &review.InventoryReading{Header: -1}
		for _, n := range []uint8{one, other} {
			wanted.Columns = append(wanted.Columns, review.InventoryColumn{Means: all[int(n)%len(all)], Century: century, Order: review.DateOrder(order), East: east})
		}
		var p review.Problems
		if wanted.Check(&p); len(p) > 0 {
			return
		}
		var text bytes.Buffer
		w := csv.NewWriter(&text)
		require.NoError(t, w.WriteAll([][]string{{a, b}, {b, a}, {a, ""}}))
		checked(t, text.Bytes(), wanted)
	})
}
