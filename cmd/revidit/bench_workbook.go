package main

import (
	"archive/zip"
	"bytes"
	"encoding/csv"
	"encoding/xml"
	"io"
)

// workbookParts are those of a workbook with one sheet that do not hold its rows (ECMA-376 part 1, clauses 12 and 18; part 2, clause 9).
var workbookParts = []struct{ name, content string }{
	{"[Content_Types].xml", `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">` +
		`<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>` +
		`<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>` +
		`<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`},
	{"_rels/.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
	{"xl/workbook.xml", `<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">` +
		`<sheets><sheet name="register" sheetId="1" r:id="r1"/></sheets></workbook>`},
	{"xl/_rels/workbook.xml.rels", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` +
		`<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`},
}

// sheetOf is a CSV table as a workbook with one sheet, each cell with its text.
func sheetOf(table []byte) ([]byte, error) {
	var file bytes.Buffer
	pack := zip.NewWriter(&file)
	for _, part := range workbookParts {
		w, err := pack.Create(part.name)
		if err != nil {
			return nil, err
		}
		if _, err := io.WriteString(w, xml.Header+part.content); err != nil {
			return nil, err
		}
	}
	w, err := pack.Create("xl/worksheets/sheet1.xml")
	if err != nil {
		return nil, err
	}
	if err := writeSheet(w, csv.NewReader(bytes.NewReader(table))); err != nil {
		return nil, err
	}
	if err := pack.Close(); err != nil {
		return nil, err
	}
	return file.Bytes(), nil
}

func writeSheet(w io.Writer, rows *csv.Reader) error {
	text := bytes.NewBufferString(xml.Header + `<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>`)
	for {
		row, err := rows.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return err
		}
		text.WriteString("<row>")
		for _, cell := range row {
			text.WriteString(`<c t="inlineStr"><is><t xml:space="preserve">`)
			if err := xml.EscapeText(text, []byte(cell)); err != nil {
				return err
			}
			text.WriteString("</t></is></c>")
		}
		text.WriteString("</row>")
		if _, err := text.WriteTo(w); err != nil {
			return err
		}
	}
	text.WriteString("</sheetData></worksheet>")
	_, err := text.WriteTo(w)
	return err
}
