package darwincore

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"revidit/review/delimited"
)

// metaName is the name that the description of the files must have (text guide, section 2).
const metaName = "meta.xml"

const textNamespace = "http://rs.tdwg.org/dwc/text/"

// Meta describes the files of an archive.
type Meta struct {
	Metadata   string // file that describes the whole; empty: none
	Core       File
	Extensions []File
}

// File describes one file of rows.
type File struct {
	RowType    string
	Locations  []string
	Encoding   string
	Terminated string // what ends a field
	Lines      string // what ends a line
	Enclosed   string // what encloses a field; empty: nothing does
	Header     int    // lines before the first row
	ID         int    // column of the id of the core; -1: none
	Fields     []Field
}

// Field is a column, or a value that all rows have.
type Field struct {
	Index      int // -1: no column
	Term       string
	Default    string
	HasDefault bool
	Delimited  string // by what several values are joined
}

// Limits on a description.
const (
	maxMeta  = 1 << 20 // bytes
	maxFiles = 100
)

// ReadMeta reads a description. The error tells the first thing by which it breaks the schema or the text of the standard.
func ReadMeta(from io.Reader) (Meta, error) {
	limited := &io.LimitedReader{R: from, N: maxMeta + 1}
	m := metaReader{decoder: xml.NewDecoder(limited)}
	m.decoder.CharsetReader = charsetReader
	err := m.archive()
	switch {
	case limited.N <= 0:
		return m.meta, errors.New("it is larger than a description of files may be")
	case err != nil:
		return m.meta, err
	}
	return m.meta, m.meta.check()
}

// metaReader goes through the elements in the order that the schema asks for.
type metaReader struct {
	decoder *xml.Decoder
	meta    Meta
	cores   int
}

func (m *metaReader) archive() error {
	root, err := m.next()
	if err != nil {
		return err
	}
	if root == nil || root.Name.Local != "archive" {
		return errors.New("its root must be the element archive")
	}
	if root.Name.Space != textNamespace {
		return fmt.Errorf("the element archive must be of the namespace %s", textNamespace)
	}
	for _, a := range root.Attr {
		if a.Name.Local == "metadata" {
			m.meta.Metadata = a.Value
		}
	}
	for {
		e, err := m.next()
		if err != nil {
			return err
		}
		if e == nil {
			return m.end()
		}
		if err := m.files(*e); err != nil {
			return err
		}
	}
}

// end reads on behind the root, so that whatever stands there is not passed over.
func (m *metaReader) end() error {
	if _, err := m.decoder.Token(); err != io.EOF {
		for {
			token, err := m.decoder.Token()
			if err == io.EOF {
				break
			}
			if _, element := token.(xml.StartElement); err != nil || element {
				return errors.New("something stands behind the element archive")
			}
		}
	}
	if m.cores != 1 {
		return fmt.Errorf("it has %d cores and must have one", m.cores)
	}
	return nil
}

// next is the next element below the one that is open, nil at its end.
func (m *metaReader) next() (*xml.StartElement, error) {
	for {
		token, err := m.decoder.Token()
		if err != nil {
			return nil, fmt.Errorf("it is no XML: %w", err)
		}
		switch t := token.(type) {
		case xml.StartElement:
			return &t, nil
		case xml.EndElement:
			return nil, nil
		}
	}
}

func (m *metaReader) files(e xml.StartElement) error {
	f := File{Encoding: "UTF-8", Terminated: ",", Lines: "\n", Enclosed: `"`, ID: -1}
	switch e.Name.Local {
	case "core":
		m.cores++
	case "extension":
	default:
		return fmt.Errorf("the element %s has no place below archive", e.Name.Local)
	}
	if err := f.attributes(e); err != nil {
		return err
	}
	if err := m.inside(&f, e.Name.Local); err != nil {
		return err
	}
	if e.Name.Local == "core" {
		m.meta.Core = f
		return nil
	}
	if m.meta.Extensions = append(m.meta.Extensions, f); len(m.meta.Extensions) > maxFiles {
		return fmt.Errorf("it has more than %d extensions", maxFiles)
	}
	return nil
}

func (f *File) attributes(e xml.StartElement) (err error) {
	for _, a := range e.Attr {
		switch a.Name.Local {
		case "rowType":
			f.RowType = a.Value
		case "encoding":
			f.Encoding = a.Value
		case "fieldsTerminatedBy":
			f.Terminated = unescaped(a.Value)
		case "linesTerminatedBy":
			f.Lines = unescaped(a.Value)
		case "fieldsEnclosedBy":
			f.Enclosed = unescaped(a.Value)
		case "ignoreHeaderLines":
			if f.Header, err = strconv.Atoi(strings.TrimSpace(a.Value)); err != nil || f.Header < 0 || f.Header > 1000 {
				return fmt.Errorf("ignoreHeaderLines of the %s must be a number of lines", e.Name.Local)
			}
		}
	}
	if u, err := url.Parse(f.RowType); err != nil || !u.IsAbs() {
		return fmt.Errorf("rowType of the %s is missing or no URI", e.Name.Local)
	}
	return nil
}

// unescaped reads \t, \n and \r, which stand as two characters each.
func unescaped(s string) string {
	return strings.NewReplacer(`\t`, "\t", `\n`, "\n", `\r`, "\r", `\\`, `\`).Replace(s)
}

// inside reads files, id or coreid, and fields, in this order.
func (m *metaReader) inside(f *File, kind string) error {
	idName := map[string]string{"core": "id", "extension": "coreid"}[kind]
	stage := 0
	for {
		e, err := m.next()
		if err != nil {
			return err
		}
		if e == nil {
			return f.whole(kind, idName)
		}
		at := slices.Index([]string{"files", idName, "field"}, e.Name.Local) + 1
		switch {
		case at == 0:
			return fmt.Errorf("the element %s has no place in the %s", e.Name.Local, kind)
		case at < stage || at == stage && at != 3:
			return fmt.Errorf("%s stands too late in the %s: files, %s, and fields must stand in this order", e.Name.Local, kind, idName)
		}
		stage = at
		switch at {
		case 1:
			err = m.locations(f)
		case 2:
			f.ID, err = indexOf(*e, true)
		case 3:
			err = f.field(*e)
		}
		if err == nil && at > 1 {
			err = m.decoder.Skip()
		}
		if err != nil {
			return fmt.Errorf("in the %s: %w", kind, err)
		}
	}
}

func (f *File) whole(kind, idName string) error {
	switch {
	case len(f.Locations) == 0:
		return fmt.Errorf("the %s names no file", kind)
	case kind == "extension" && f.ID < 0:
		return fmt.Errorf("the extension %s has no %s", f.RowType, idName)
	case len(f.Fields) == 0:
		return fmt.Errorf("the %s has no field", kind)
	}
	return nil
}

func (m *metaReader) locations(f *File) error {
	for {
		e, err := m.next()
		if err != nil {
			return err
		}
		if e == nil {
			return nil
		}
		if e.Name.Local != "location" {
			return fmt.Errorf("the element %s has no place in files", e.Name.Local)
		}
		var place string
		if err := m.decoder.DecodeElement(&place, e); err != nil {
			return err
		}
		if f.Locations = append(f.Locations, strings.TrimSpace(place)); len(f.Locations) > maxFiles {
			return fmt.Errorf("it has more than %d locations", maxFiles)
		}
	}
}

// indexOf is the attribute index, a number from 0; -1 where there is none and none is needed.
func indexOf(e xml.StartElement, needed bool) (int, error) {
	for _, a := range e.Attr {
		if a.Name.Local != "index" {
			continue
		}
		n, err := strconv.Atoi(strings.TrimSpace(a.Value))
		if err != nil || n < 0 || n >= delimited.MaxFields {
			return -1, fmt.Errorf("%q is no index from 0 to %d", a.Value, delimited.MaxFields-1)
		}
		return n, nil
	}
	if needed {
		return -1, fmt.Errorf("%s has no index", e.Name.Local)
	}
	return -1, nil
}

func (f *File) field(e xml.StartElement) (err error) {
	var field Field
	if field.Index, err = indexOf(e, false); err != nil {
		return err
	}
	for _, a := range e.Attr {
		switch a.Name.Local {
		case "term":
			field.Term = strings.TrimSpace(a.Value)
		case "default":
			field.Default, field.HasDefault = a.Value, true
		case "delimitedBy":
			field.Delimited = unescaped(a.Value)
		}
	}
	if u, err := url.Parse(field.Term); err != nil || !u.IsAbs() {
		return errors.New("a field has no term that is a URI")
	}
	if field.Index < 0 && !field.HasDefault {
		return fmt.Errorf("the field %s has neither an index nor a default", shortName(field.Term))
	}
	if f.Fields = append(f.Fields, field); len(f.Fields) > delimited.MaxFields {
		return fmt.Errorf("it has more than %d fields", delimited.MaxFields)
	}
	return nil
}

// check is what the text of the standard asks for beyond the schema.
func (m *Meta) check() error {
	if len(m.Extensions) > 0 && m.Core.ID < 0 {
		return errors.New("there are extensions, and the core has no id that they could refer to")
	}
	for _, f := range append([]File{m.Core}, m.Extensions...) {
		if f.Terminated == "" {
			return fmt.Errorf("fieldsTerminatedBy of %s is empty", shortName(f.RowType))
		}
		if f.Lines == "" {
			return fmt.Errorf("linesTerminatedBy of %s is empty", shortName(f.RowType))
		}
		if len([]rune(f.Enclosed)) > 1 {
			return fmt.Errorf("fieldsEnclosedBy of %s is more than one character", shortName(f.RowType))
		}
		if strings.ContainsAny(f.Terminated, "\r\n") || f.Enclosed != "" && strings.Contains(f.Terminated+f.Lines, f.Enclosed) {
			return fmt.Errorf("of %s it cannot be told where fields and lines end", shortName(f.RowType))
		}
	}
	return nil
}

// Write writes the description, the same bytes for the same files.
func (m *Meta) Write(to io.Writer) error {
	var b strings.Builder
	b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<archive xmlns=\"" + textNamespace + `" metadata="` + attribute(m.Metadata) + "\">\n")
	m.Core.write(&b, "core", "id")
	for i := range m.Extensions {
		m.Extensions[i].write(&b, "extension", "coreid")
	}
	b.WriteString("</archive>\n")
	_, err := io.WriteString(to, b.String())
	return err
}

func (f *File) write(b *strings.Builder, kind, id string) {
	fmt.Fprintf(b, `  <%s encoding="%s" fieldsTerminatedBy="%s" linesTerminatedBy="%s" fieldsEnclosedBy="%s" ignoreHeaderLines="%d" rowType="%s">`+"\n", kind, attribute(f.Encoding),
		escaped(f.Terminated), escaped(f.Lines), attribute(f.Enclosed), f.Header, attribute(f.RowType))
	b.WriteString("    <files>")
	for _, place := range f.Locations {
		b.WriteString("<location>" + attribute(place) + "</location>")
	}
	fmt.Fprintf(b, "</files>\n    <%s index=\"%d\"/>\n", id, f.ID)
	for _, field := range f.Fields {
		b.WriteString("    <field")
		if field.Index >= 0 {
			fmt.Fprintf(b, ` index="%d"`, field.Index)
		}
		fmt.Fprintf(b, ` term="%s"`, attribute(field.Term))
		if field.HasDefault {
			fmt.Fprintf(b, ` default="%s"`, attribute(field.Default))
		}
		b.WriteString("/>\n")
	}
	fmt.Fprintf(b, "  </%s>\n", kind)
}

func escaped(s string) string {
	return attribute(strings.NewReplacer(`\`, `\\`, "\t", `\t`, "\n", `\n`, "\r", `\r`).Replace(s))
}

// attribute is text as it stands in XML. What XML cannot hold at all is left out.
func attribute(s string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(s)); err != nil {
		panic(err) // a strings.Builder takes everything
	}
	return b.String()
}
