package inventory

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/nfp"
)

// A workbook is a ZIP archive of XML (ECMA-376, Office Open XML). It is read here as a stream, since libraries for it give either texts
// alone, without telling a day from a number, or hold whole sheets in memory; elements are known by their local names, so that the
// transitional and the strict kind are read alike.

// Limits on a workbook.
const (
	mostEntries = 10_000
	mostSheets  = 200
	mostStyles  = 100_000
	mostFormat  = 300 // letters of the format of a number (255 in ECMA-376, 18.8.31)
)

// workbook is one that is being read.
type workbook struct {
	files    map[string]*zip.File
	limits   Limits
	sheets   []sheetOf
	from1904 bool
	strings  []string
	looks    []look
}

type sheetOf struct {
	name, place string
	hidden      bool
}

// look is how the numbers of a cell are shown, as far as that tells what they are.
type look struct {
	day       bool // as a day
	shortYear bool // with two digits of its year
	zeros     int  // filled with zeros to so many digits
}

func (t *Table) readWorkbook(data []byte, wanted string, limits Limits) error {
	packed, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return fmt.Errorf("it is no workbook that can be read: %w", err)
	}
	if len(packed.File) > mostEntries {
		return fmt.Errorf("it has more than %d files", mostEntries)
	}
	w := &workbook{files: map[string]*zip.File{}, limits: limits}
	for _, f := range packed.File {
		name := strings.TrimPrefix(strings.ReplaceAll(f.Name, `\`, "/"), "/")
		if _, twice := w.files[name]; twice {
			return fmt.Errorf("it has a file twice: %s", name)
		}
		w.files[name] = f
	}
	if err := w.readParts(); err != nil {
		return err
	}
	var visible []sheetOf
	for _, s := range w.sheets {
		t.Sheets = append(t.Sheets, s.name)
		if !s.hidden {
			visible = append(visible, s)
		}
	}
	chosen := slices.IndexFunc(w.sheets, func(s sheetOf) bool { return s.name == wanted })
	if wanted == "" && len(visible) > 0 {
		chosen = slices.Index(w.sheets, visible[0])
	}
	if chosen < 0 {
		return fmt.Errorf("it has no sheet %q", wanted)
	}
	t.Sheet = w.sheets[chosen].name
	return w.readSheet(t, w.sheets[chosen].place)
}

// open gives a file of the workbook as a stream of XML; what the directory says of sizes is not believed.
func (w *workbook) open(name string) (*xml.Decoder, io.Closer, error) {
	f := w.files[name]
	if f == nil {
		return nil, nil, fmt.Errorf("it has no file %s", name)
	}
	r, err := f.Open()
	if err != nil {
		return nil, nil, fmt.Errorf("%s cannot be unpacked: %w", name, err)
	}
	d := xml.NewDecoder(&bounded{from: r, left: w.limits.Unpacked})
	d.Strict = true
	return d, r, nil
}

var errUnpacked = errors.New("it is larger than is taken when unpacked")

// bounded ends with an error where more comes than may.
type bounded struct {
	from io.Reader
	left int64
}

func (b *bounded) Read(p []byte) (int, error) {
	n, err := b.from.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return 0, errUnpacked
	}
	return n, err
}

// each visits the elements of a file that begin; text gives what stands in the one that was visited last.
func (w *workbook) each(name string, visit func(d *xml.Decoder, e *xml.StartElement) error) error {
	d, file, err := w.open(name)
	if err != nil {
		return err
	}
	defer file.Close()
	for {
		token, err := d.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("%s cannot be read: %w", name, err)
		}
		if e, ok := token.(xml.StartElement); ok {
			if err := visit(d, &e); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
	}
}

// attribute is the value of one by its local name.
func attribute(e *xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// readParts reads which sheets there are, how numbers look, and the texts that sheets share.
func (w *workbook) readParts() error {
	root, err := w.related("_rels/.rels", "", "/officeDocument")
	if err != nil || len(root) == 0 {
		return errors.Join(errors.New("it is no workbook: nothing in it says where its sheets are"), err)
	}
	book := root[0].target
	relations := path.Join(path.Dir(book), "_rels", path.Base(book)+".rels")
	sheets, err := w.related(relations, path.Dir(book), "/worksheet")
	if err != nil {
		return err
	}
	if err := w.readBook(book, sheets); err != nil {
		return err
	}
	for kind, read := range map[string]func(string) error{"/styles": w.readStyles, "/sharedStrings": w.readStrings} {
		parts, err := w.related(relations, path.Dir(book), kind)
		if err != nil {
			return err
		}
		if len(parts) > 0 {
			if err := read(parts[0].target); err != nil {
				return err
			}
		}
	}
	return nil
}

type relation struct{ id, target string }

// related are the files that a list of relations names, of a kind.
func (w *workbook) related(list, folder, kind string) (found []relation, err error) {
	err = w.each(list, func(_ *xml.Decoder, e *xml.StartElement) error {
		if e.Name.Local != "Relationship" || !strings.HasSuffix(attribute(e, "Type"), kind) || attribute(e, "TargetMode") == "External" {
			return nil
		}
		target := strings.ReplaceAll(attribute(e, "Target"), `\`, "/")
		if rooted, ok := strings.CutPrefix(target, "/"); ok {
			target = path.Clean(rooted)
		} else {
			target = path.Join(folder, target)
		}
		if found = append(found, relation{attribute(e, "Id"), target}); len(found) > mostEntries {
			return errors.New("it names more files than a workbook has")
		}
		return nil
	})
	return found, err
}

func (w *workbook) readBook(name string, sheets []relation) error {
	err := w.each(name, func(_ *xml.Decoder, e *xml.StartElement) error {
		switch e.Name.Local {
		case "workbookPr":
			value := attribute(e, "date1904")
			w.from1904 = value == "1" || value == "true"
		case "sheet":
			id := ""
			for _, a := range e.Attr {
				if a.Name.Local == "id" && a.Name.Space != "" {
					id = a.Value
				}
			}
			at := slices.IndexFunc(sheets, func(r relation) bool { return r.id == id })
			if at < 0 { // a sheet of charts
				return nil
			}
			w.sheets = append(w.sheets, sheetOf{name: attribute(e, "name"), place: sheets[at].target, hidden: attribute(e, "state") != "" && attribute(e, "state") != "visible"})
			if len(w.sheets) > mostSheets {
				return fmt.Errorf("it has more than %d sheets", mostSheets)
			}
		}
		return nil
	})
	if err == nil && len(w.sheets) == 0 {
		err = errors.New("it has no sheet")
	}
	return err
}

// builtInDays are the numbers of formats that show days or times and are described in no file (ECMA-376, 18.8.30; those of East Asia
// too); those with two digits of a year among them are 14 to 16 and 30.
var builtInDays = map[int]look{14: {day: true, shortYear: true}, 15: {day: true, shortYear: true}, 16: {day: true}, 17: {day: true, shortYear: true}, 22: {day: true, shortYear: true},
	27: {day: true}, 28: {day: true}, 29: {day: true}, 30: {day: true, shortYear: true}, 31: {day: true}, 34: {day: true}, 35: {day: true}, 36: {day: true},
	50: {day: true}, 51: {day: true}, 52: {day: true}, 53: {day: true}, 54: {day: true}, 57: {day: true}, 58: {day: true}}

func (w *workbook) readStyles(name string) error {
	formats := map[int]look{}
	cells := false // within cellXfs
	return w.each(name, func(_ *xml.Decoder, e *xml.StartElement) error {
		number, err := strconv.Atoi(attribute(e, "numFmtId"))
		switch e.Name.Local {
		case "numFmt":
			if err == nil && len(formats) < mostStyles {
				formats[number] = lookOf(attribute(e, "formatCode"))
			}
		case "cellXfs":
			cells = true
		case "cellStyles", "dxfs", "cellStyleXfs":
			cells = false
		case "xf":
			if !cells {
				return nil
			}
			shown, own := formats[number]
			if !own {
				shown = builtInDays[number]
			}
			if w.looks = append(w.looks, shown); len(w.looks) > mostStyles {
				return errors.New("it has more styles than a workbook has")
			}
		}
		return nil
	})
}

// lookOf reads the format of a number (ECMA-376, 18.8.31).
func lookOf(code string) look {
	if code != "" && strings.Trim(code, "0") == "" {
		return look{zeros: len(code)}
	}
	if len(code) > mostFormat {
		return look{}
	}
	parser := nfp.NumberFormatParser()
	var l look
	for _, section := range parser.Parse(code) {
		for _, token := range section.Items {
			if token.TType != nfp.TokenTypeDateTimes {
				continue
			}
			switch value := strings.ToLower(token.TValue); {
			case strings.Trim(value, "y") == "" && len(value) <= 2:
				l.day, l.shortYear = true, true
			case strings.Trim(value, "yd") == "":
				l.day = true
			case strings.Trim(value, "m") == "" && len(value) > 2: // mmm is always a month
				l.day = true
			}
		}
		break // the first section is of numbers above zero
	}
	return l
}

// readStrings reads the texts that cells share; what tells how one is spoken is no part of it.
func (w *workbook) readStrings(name string) error {
	letters := 0
	return w.each(name, func(d *xml.Decoder, e *xml.StartElement) error {
		if e.Name.Local != "si" {
			return nil
		}
		text, err := richText(d)
		if letters += len(text); err == nil && letters > w.limits.Letters {
			err = errors.New("it holds more text than is taken at once")
		}
		w.strings = append(w.strings, text)
		return err
	})
}

// richText is the text of an element that has begun, to its end: of its <t>, but not of those in <rPh>.
func richText(d *xml.Decoder) (string, error) {
	var b strings.Builder
	depth, spoken, text := 1, 0, false
	for depth > 0 {
		token, err := d.Token()
		if err != nil {
			return "", err
		}
		switch e := token.(type) {
		case xml.StartElement:
			if depth++; e.Name.Local == "rPh" && spoken == 0 {
				spoken = depth
			}
			text = e.Name.Local == "t" && spoken == 0
		case xml.EndElement:
			if depth == spoken {
				spoken = 0
			}
			depth--
			text = false
		case xml.CharData:
			if text {
				b.Write(e)
			}
		}
	}
	return b.String(), nil
}
