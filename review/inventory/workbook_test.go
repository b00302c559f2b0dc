package inventory

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"revidit/review"
)

// book is a workbook as another program writes it: excelize.
func book(t testing.TB, fill func(f *excelize.File)) []byte {
	t.Helper()
	f := excelize.NewFile()
	fill(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	require.NoError(t, f.Close())
	return b.Bytes()
}

func styled(t testing.TB, f *excelize.File, cell, format string) {
	t.Helper()
	style, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
	require.NoError(t, err)
	require.NoError(t, f.SetCellStyle("Sheet1", cell, cell, style))
}

func cells(t *testing.T, data []byte, sheet string) map[string]Cell {
	t.Helper()
	table, err := Read(data, &review.InventoryReading{Sheet: sheet}, DefaultLimits)
	require.NoError(t, err)
	found := map[string]Cell{}
	for _, r := range table.Rows {
		for i, c := range r.Cells {
			if c != (Cell{}) {
				found[fmt.Sprint(Letter(i), r.Number)] = c
			}
		}
	}
	return found
}

// TestCellsOfAWorkbook: what another program has written is read as what a spreadsheet takes it for.
func TestCellsOfAWorkbook(t *testing.T) {
	data := book(t, func(f *excelize.File) {
		set := func(cell string, value any) { require.NoError(t, f.SetCellValue("Sheet1", cell, value)) }
		set("A1", "Nr.")
		set("B1", " Höhle & <Süd> ")
		set("A3", 7)
		styled(t, f, "A3", "0000")
		set("B3", 46156)
		styled(t, f, "B3", "dd.mm.yyyy")
		set("C3", 46156)
		styled(t, f, "C3", "d/m/yy")
		set("D3", 46156)
		styled(t, f, "D3", `0.0 "days"`)
		set("E3", 46156.4375)
		styled(t, f, "E3", "yyyy-mm-dd hh:mm")
		set("F3", 0.1+0.2)
		set("G3", true)
		set("H3", "=1+1")
		require.NoError(t, f.SetCellFormula("Sheet1", "I3", "A3*2"))
		set("J3", 123456789012)
		require.NoError(t, f.SetCellRichText("Sheet1", "K3", []excelize.RichTextRun{{Text: "Carabus "}, {Text: "auratus", Font: &excelize.Font{Italic: true}}}))
		set("AB3", "far")
		_, err := f.NewSheet("Andere")
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Andere", "A1", "there"))
	})
	// 46156 is 14 May 2026: 46023 is 1 January 2026 by the rule of ECMA-376, 18.17.4, that 1 is 1 January 1900.
	require.Equal(t, map[string]Cell{
		"A1": {Text: "Nr."}, "B1": {Text: "Höhle & <Süd>"}, "A3": {Text: "0007"}, "B3": {Text: "2026-05-14", Kind: CellDay}, "C3": {Text: "2026-05-14", Kind: CellDay, ShortYear: true},
		"D3": {Text: "46156", Kind: CellNumber}, "E3": {Text: "2026-05-14T10:30", Kind: CellDay}, "F3": {Text: "0.3", Kind: CellNumber}, "G3": {Text: "yes"}, "H3": {Text: "=1+1"},
		"I3": {Uncounted: true}, "J3": {Text: "123456789012", Kind: CellNumber}, "K3": {Text: "Carabus auratus"}, "AB3": {Text: "far"},
	}, cells(t, data, ""))
	require.Equal(t, map[string]Cell{"A1": {Text: "there"}}, cells(t, data, "Andere"))
	_, err := Read(data, &review.InventoryReading{Sheet: "none"}, DefaultLimits)
	require.ErrorContains(t, err, `no sheet "none"`)
}

// TestBothSystemsOfDays: the same day in the system of 1900 and in that of 1904, which excelize's own conversion agrees on.
func TestBothSystemsOfDays(t *testing.T) {
	for _, serial := range []float64{1, 59, 61, 367, 20000, 46156} {
		for _, from1904 := range []bool{false, true} {
			theirs, err := excelize.ExcelDateToTime(serial, from1904)
			require.NoError(t, err)
			ours, ok := dayOf(serial, from1904)
			require.True(t, ok)
			require.Equal(t, theirs.Format("2006-01-02"), ours, "%v %v", serial, from1904)
		}
	}
	_, ok := dayOf(60, false)
	require.False(t, ok, "there was no 29 February 1900")
	data := book(t, func(f *excelize.File) {
		yes := true
		require.NoError(t, f.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: &yes}))
		require.NoError(t, f.SetCellValue("Sheet1", "A1", 46156-1462)) // the systems are 1462 days apart (ECMA-376, 18.17.4.1)
		styled(t, f, "A1", "yyyy-mm-dd")
	})
	require.Equal(t, map[string]Cell{"A1": {Text: "2026-05-14", Kind: CellDay}}, cells(t, data, ""))
}

func TestFormatsOfNumbers(t *testing.T) {
	for code, want := range map[string]look{
		"General": {}, "0.00": {}, "#,##0": {}, "000000": {zeros: 6}, "dd.mm.yyyy": {day: true}, "d. mmmm yyyy": {day: true}, "[$-407]dd. mmm yy": {day: true, shortYear: true},
		`0 "day"`: {}, "hh:mm": {}, "mm:ss": {}, "mmm": {day: true}, `"y"0`: {}, "@": {},
	} {
		require.Equal(t, want, lookOf(code), code)
	}
}

// TestAWorkbookAsATable: numbers that lost zeros, days, formulas without values and errors are told by row and column.
func TestAWorkbookAsATable(t *testing.T) {
	data := book(t, func(f *excelize.File) {
		for i, row := range [][]any{{"No.", "Name", "Date", "Elevation", "Remarks"}, {"0012", "Carabus auratus", 46156, 1050, "x"}, {13, "Carabus nitens", 46157, 1060.5, nil}, {"0014", nil, "5/6/1987", nil, nil}} {
			require.NoError(t, f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row))
		}
		styled(t, f, "C2", "dd.mm.yyyy")
		styled(t, f, "C3", "dd.mm.yy")
		require.NoError(t, f.SetCellFormula("Sheet1", "B4", "B3"))
	})
	rows, reading := taken(t, data, nil)
	require.Equal(t, []any{"Sheet1", []string{"Sheet1"}, 1}, []any{reading.Sheet, reading.Sheets, reading.Header})
	require.Equal(t, &review.ColumnsDates{Either: 1, Native: 2}, reading.Columns[2].Dates)
	require.Equal(t, "2026-05-14", rows[0].Label.CollectedFrom)
	require.Empty(t, told(rows[0]))
	require.Equal(t, []string{"3 No. zeros: 13 > 13", "3 Date shown: 2026-05-15 > 2026-05-15"}, told(rows[1]))
	require.Equal(t, 1060.5, *rows[1].Withheld.ElevationM)
	require.Equal(t, []string{"4 Name formula: ", "4 Date order: 5/6/1987"}, told(rows[2]))
}

// changed is a workbook with a part written anew.
func changed(t testing.TB, data []byte, part string, text func(string) string) []byte {
	t.Helper()
	from, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	require.NoError(t, err)
	var b bytes.Buffer
	to := zip.NewWriter(&b)
	for _, f := range from.File {
		r, err := f.Open()
		require.NoError(t, err)
		content, err := io.ReadAll(r)
		require.NoError(t, err)
		if f.Name == part {
			content = []byte(text(string(content)))
		}
		w, err := to.Create(f.Name)
		require.NoError(t, err)
		_, err = w.Write(content)
		require.NoError(t, err)
	}
	require.NoError(t, to.Close())
	return b.Bytes()
}

const sheet1 = "xl/worksheets/sheet1.xml"

// TestWorkbooksOfOthers: errors, inline texts, escaped letters, and what is no workbook.
func TestWorkbooksOfOthers(t *testing.T) {
	plain := book(t, func(f *excelize.File) { require.NoError(t, f.SetCellValue("Sheet1", "A1", "x")) })
	sheet := func(data string) []byte {
		return changed(t, plain, sheet1, func(string) string {
			return `<x:worksheet xmlns:x="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><x:sheetData>` + data + `</x:sheetData></x:worksheet>`
		})
	}
	require.Equal(t, map[string]Cell{"A1": {Text: "#REF!", Kind: CellBroken}, "B1": {Text: "a\r\nb"}, "C1": {Text: "Carabus nitens"}, "A2": {Text: "2"}},
		cells(t, sheet(`<x:row><x:c t="e"><x:f>B9</x:f><x:v>#REF!</x:v></x:c><x:c t="str"><x:v>a_x000D_&#10;b</x:v></x:c>`+
			`<x:c t="inlineStr"><x:is><x:r><x:t>Carabus </x:t></x:r><x:r><x:t>nitens</x:t></x:r><x:rPh sb="0" eb="1"><x:t>spoken</x:t></x:rPh></x:is></x:c></x:row><x:row><x:c t="str"><x:v>2</x:v></x:c></x:row>`), ""))
	for name, data := range map[string]string{
		"back to an earlier row": `<x:row r="5"/><x:row r="4"/>`, "no cell's name": `<x:row><x:c r="7"><x:v>1</x:v></x:c></x:row>`, "no such text": `<x:row><x:c t="s"><x:v>99</x:v></x:c></x:row>`,
		"no number": `<x:row><x:c><x:v>one</x:v></x:c></x:row>`, "too far to the right": `<x:row><x:c r="ZZ1"><x:v>1</x:v></x:c></x:row>`, "no type": `<x:row><x:c t="z"><x:v>1</x:v></x:c></x:row>`,
	} {
		_, err := Read(sheet(data), nil, DefaultLimits)
		require.Error(t, err, name)
	}
	_, err := Read(sheet(strings.Repeat(`<x:row><x:c><x:v>1</x:v></x:c></x:row>`, 1<<16)), nil, Limits{File: 1 << 20, Unpacked: 1 << 20, Rows: 1 << 20, Letters: 1 << 20})
	require.ErrorIs(t, err, errUnpacked, "a small file that grows is stopped")
	_, err = Read([]byte("PK\x03\x04 and no archive"), nil, DefaultLimits)
	require.ErrorContains(t, err, "no workbook")
	_, err = Read(changed(t, plain, "_rels/.rels", func(string) string { return "<Relationships/>" }), nil, DefaultLimits)
	require.ErrorContains(t, err, "no workbook")
}

// FuzzSheet: whatever stands in the parts of a workbook is read or refused, within its bounds.
func FuzzSheet(f *testing.F) {
	plain := book(f, func(f *excelize.File) {})
	parts := map[string]string{}
	from, err := zip.NewReader(bytes.NewReader(plain), int64(len(plain)))
	require.NoError(f, err)
	for _, part := range from.File {
		r, err := part.Open()
		require.NoError(f, err)
		text, err := io.ReadAll(r)
		require.NoError(f, err)
		parts[part.Name] = string(text)
	}
	f.Add(`<worksheet><sheetData><row r="1"><c r="A1" t="s"><v>0</v></c><c r="B1" s="1"><v>46156.5</v></c></row></sheetData></worksheet>`, `<sst><si><t>Nr.</t></si></sst>`,
		`<styleSheet><numFmts><numFmt numFmtId="164" formatCode="dd.mm.yy"/></numFmts><cellXfs><xf numFmtId="0"/><xf numFmtId="164"/></cellXfs></styleSheet>`, parts["xl/workbook.xml"])
	f.Add(parts[sheet1], `<sst><si><r><t>a</t></r><rPh><t>b</t></rPh></si></sst>`, parts["xl/styles.xml"], `<workbook xmlns:r="x"><workbookPr date1904="1"/><sheets><sheet name="a" r:id="rId1"/></sheets></workbook>`)
	relations := strings.Replace(parts["xl/_rels/workbook.xml.rels"], "</Relationships>", `<Relationship Id="rIdS" Type="x/sharedStrings" Target="sharedStrings.xml"/></Relationships>`, 1)
	f.Fuzz(func(t *testing.T, sheet, strings, styles, workbook string) {
		var b bytes.Buffer
		w := zip.NewWriter(&b)
		for name, text := range map[string]string{"_rels/.rels": parts["_rels/.rels"], "xl/_rels/workbook.xml.rels": relations, "xl/workbook.xml": workbook, "xl/styles.xml": styles,
			"xl/sharedStrings.xml": strings, sheet1: sheet} {
			part, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
			require.NoError(t, err)
			_, err = part.Write([]byte(text))
			require.NoError(t, err)
		}
		require.NoError(t, w.Close())
		checked(t, b.Bytes(), nil)
	})
}

// FuzzWorkbook: whatever somebody sends as a workbook is read or refused.
func FuzzWorkbook(f *testing.F) {
	f.Add(book(f, func(b *excelize.File) {
		require.NoError(f, b.SetSheetRow("Sheet1", "A1", &[]any{"No.", "Date"}))
		require.NoError(f, b.SetSheetRow("Sheet1", "A2", &[]any{12, 46156}))
	}))
	f.Fuzz(func(t *testing.T, data []byte) {
		checked(t, append([]byte("PK\x03\x04"), bytes.TrimPrefix(data, []byte("PK\x03\x04"))...), nil)
	})
}

// BenchmarkWorkbook reads a workbook of 20,000 rows and 16 columns, beside excelize, which gives texts alone.
func BenchmarkWorkbook(b *testing.B) {
	const rows = 20_000
	f := excelize.NewFile()
	stream, err := f.NewStreamWriter("Sheet1")
	require.NoError(b, err)
	for i := 1; i <= rows; i++ {
		row := []any{fmt.Sprintf("OC-%06d", i), "Carabidae", "Carabus auratus", "A. Lattich", 1900 + i%100, "14.v.1930", 46156 + i%100, "Austria", "Tirol", "Hintertal", 47.1, 10.2, 1050, "B. Wegerich", "male", "a remark"}
		require.NoError(b, stream.SetRow(fmt.Sprintf("A%d", i), row))
	}
	require.NoError(b, stream.Flush())
	var packed bytes.Buffer
	require.NoError(b, f.Write(&packed))
	b.Run("ours", func(b *testing.B) {
		for b.Loop() {
			table, err := Read(packed.Bytes(), nil, DefaultLimits)
			require.NoError(b, err)
			require.Len(b, table.Rows, rows)
		}
	})
	b.Run("excelize", func(b *testing.B) {
		for b.Loop() {
			f, err := excelize.OpenReader(bytes.NewReader(packed.Bytes()), excelize.Options{RawCellValue: true})
			require.NoError(b, err)
			read, err := f.Rows("Sheet1")
			require.NoError(b, err)
			n := 0
			for read.Next() {
				_, err := read.Columns()
				require.NoError(b, err)
				n++
			}
			require.Equal(b, rows, n)
			require.NoError(b, f.Close())
		}
	})
}
