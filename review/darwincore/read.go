package darwincore

import (
	"errors"
	"io"
	"slices"
	"strings"

	"revidit/review"
	"revidit/review/delimited"
)

// Reading reads the specimens out of an archive.
type Reading struct {
	archive    *Archive
	summary    review.IntakeSummary
	extensions []extension
	seen       map[string]int // row by identifier
}

// extension are the rows of one extension by the identifier of their occurrence.
type extension struct {
	file *File
	name string
	rows map[string][]line
}

// line is a row of a file.
type line struct {
	number int
	fields []string
}

// Read prepares an archive to be read row by row; what is wrong with its files is told in the summary.
func (a *Archive) Read() (*Reading, error) {
	r := &Reading{archive: a, seen: map[string]int{}}
	if t := a.Meta.Core.RowType; t != typeOccurrence {
		return nil, errors.New("the rows of its core are no occurrences, but " + t)
	}
	left := a.limits.Extensions
	for i := range a.Meta.Extensions {
		x, err := r.readExtension(&a.Meta.Extensions[i], &left)
		if err != nil {
			return nil, err
		}
		if x != nil {
			r.extensions = append(r.extensions, *x)
		}
	}
	r.summary.Unread = a.unnamed()
	slices.Sort(r.summary.Unread)
	return r, nil
}

// readExtension reads all of its rows; one that is not there is told, and is no reason to leave the rest.
func (r *Reading) readExtension(f *File, left *int) (*extension, error) {
	x := &extension{file: f, name: strings.Join(f.Locations, " "), rows: map[string][]line{}}
	texts, err := r.archive.text(f)
	if err != nil {
		code := review.FaultFile
		if strings.Contains(err.Error(), "it has no file") {
			code = review.FaultMissing
		}
		r.summary.General(review.IntakeFault{Code: code, File: x.name, Value: err.Error()})
		return nil, nil
	}
	for _, text := range texts {
		lines := rows(text, f)
		for {
			fields, number, err := lines.Next()
			if err == io.EOF {
				break
			}
			if err != nil {
				r.summary.General(review.IntakeFault{Code: codeOf(err), File: x.name, Row: number})
				continue
			}
			if *left--; *left < 0 {
				return nil, errors.New("its extensions have more rows than are taken at once")
			}
			if f.ID >= len(fields) || fields[f.ID] == "" {
				r.summary.General(review.IntakeFault{Code: review.FaultNoID, File: x.name, Row: number})
				continue
			}
			id := fields[f.ID]
			x.rows[id] = append(x.rows[id], line{number, fields})
		}
	}
	return x, nil
}

func codeOf(err error) review.FaultCode {
	switch {
	case errors.Is(err, delimited.ErrOpen):
		return review.FaultOpen
	case errors.Is(err, delimited.ErrLong):
		return review.FaultLong
	}
	return review.FaultText
}

// Each reads the specimens in the order of the core. An error is of visit, or that the archive holds more than is taken.
func (r *Reading) Each(visit func(*review.Incoming) error) error {
	core := &r.archive.Meta.Core
	texts, err := r.archive.text(core)
	if err != nil {
		return err
	}
	name, number := strings.Join(core.Locations, " "), 0
	for _, text := range texts {
		lines := rows(text, core)
		for {
			fields, _, err := lines.Next()
			if err == io.EOF {
				break
			}
			if number++; number > r.archive.limits.Rows {
				return errors.New("it has more rows than are taken at once")
			}
			in := &review.Incoming{Row: number}
			if err != nil {
				in.Fault(review.IntakeFault{Code: codeOf(err), File: name, Row: number})
			} else {
				r.specimen(in, name, fields)
			}
			if err := visit(in); err != nil {
				return err
			}
		}
	}
	r.orphans()
	return nil
}

// orphans tells of rows of extensions that belong to nothing.
func (r *Reading) orphans() {
	for i := range r.extensions {
		x := &r.extensions[i]
		var left []line
		for id, rows := range x.rows {
			if _, known := r.seen[id]; !known {
				left = append(left, rows...)
			}
		}
		slices.SortFunc(left, func(a, b line) int { return a.number - b.number })
		for _, l := range left {
			r.summary.General(review.IntakeFault{Code: review.FaultOrphan, File: x.name, Row: l.number, Value: l.fields[x.file.ID]})
		}
	}
}

// Summary is what was found beside the rows.
func (r *Reading) Summary() review.IntakeSummary { return r.summary }

// specimen makes one of a row of the core and all that belongs to it.
func (r *Reading) specimen(in *review.Incoming, name string, fields []string) {
	core := &r.archive.Meta.Core
	v := newValues(in, core, name, line{in.Row, fields})
	in.Source = v.take(dwc + "occurrenceID")
	id := in.Source
	if core.ID >= 0 && core.ID < len(fields) {
		id = fields[core.ID]
	}
	if in.Source == "" {
		in.Source = id
	}
	switch {
	case id == "" || len([]rune(in.Source)) > 300:
		in.Fault(review.IntakeFault{Code: review.FaultNoID, File: name, Row: in.Row, Value: id})
	case r.seen[id] > 0:
		in.Fault(review.IntakeFault{Code: review.FaultTwice, File: name, Row: in.Row, Value: id})
	default:
		r.seen[id] = in.Row
	}
	v.label()
	taxon := v.slip()
	former := v.take(dwc + "previousIdentifications")
	for i := range r.extensions {
		x := &r.extensions[i]
		rows := x.rows[id]
		if x.file.RowType == typeMultimedia {
			rows = regionsLast(x.file, rows)
		}
		for _, l := range rows {
			r.belongs(in, x, l)
		}
	}
	settleSlips(in, name, taxon)
	v.keepFormer(former)
	v.rest()
	in.Fit(name, columnOf)
}

// regionsLast puts photos before the regions in them, in whatever order they stand.
func regionsLast(f *File, rows []line) []line {
	of := slices.IndexFunc(f.Fields, func(x Field) bool { return x.Term == ac+"isROIOf" })
	if of < 0 || f.Fields[of].Index < 0 {
		return rows
	}
	isRegion := func(l line) int {
		if at := f.Fields[of].Index; at < len(l.fields) && l.fields[at] != "" {
			return 1
		}
		return 0
	}
	rows = slices.Clone(rows)
	slices.SortStableFunc(rows, func(a, b line) int { return isRegion(a) - isRegion(b) })
	return rows
}

// belongs takes in a row of an extension.
func (r *Reading) belongs(in *review.Incoming, x *extension, l line) {
	v := newValues(in, x.file, x.name, l)
	v.ignore(dwc + "occurrenceID")
	switch x.file.RowType {
	case typeIdentification:
		slip := v.slip()
		if slip.empty() {
			in.Fault(review.IntakeFault{Code: review.FaultNoTaxon, File: x.name, Row: l.number})
		} else {
			in.Slips = append(in.Slips, slip.IncomingSlip)
		}
	case typeMultimedia:
		v.medium()
	}
	v.rest()
}

// values are those of a row by term; what is not taken is kept.
type values struct {
	in    *review.Incoming
	file  *File
	name  string
	row   int
	by    map[string]string
	extra []string // columns that no field describes
}

func newValues(in *review.Incoming, f *File, name string, l line) *values {
	v := &values{in: in, file: f, name: name, row: l.number, by: map[string]string{}}
	described := map[int]bool{f.ID: true}
	for _, field := range f.Fields {
		described[field.Index] = true
		value := ""
		if field.Index >= 0 && field.Index < len(l.fields) {
			value = strings.TrimSpace(l.fields[field.Index])
		}
		if value == "" {
			value = field.Default
		}
		if v.by[field.Term] == "" {
			v.by[field.Term] = value
		}
	}
	for i, value := range l.fields {
		if !described[i] && value != "" {
			v.extra = append(v.extra, value)
		}
	}
	return v
}

// take returns a value once.
func (v *values) take(term string) string {
	value := v.by[term]
	delete(v.by, term)
	return value
}

func (v *values) ignore(terms ...string) {
	for _, term := range terms {
		delete(v.by, term)
	}
}

// keep keeps a value that was taken, after all.
func (v *values) keep(term, value string) {
	v.in.Keep(review.RestValue{File: v.name, Row: v.row, Column: shortName(term), Value: value})
}

// fault tells what is wrong with a value, which is kept.
func (v *values) fault(code review.FaultCode, term, value string) {
	v.in.Fault(review.IntakeFault{Code: code, File: v.name, Row: v.row, Column: shortName(term), Value: value})
	v.keep(term, value)
}

// rest keeps what nobody took, in the order of the description.
func (v *values) rest() {
	for _, field := range v.file.Fields {
		if value := v.take(field.Term); value != "" && !saysNothing(field.Term, value) {
			v.keep(field.Term, value)
		}
	}
	for _, value := range v.extra {
		v.in.Keep(review.RestValue{File: v.name, Row: v.row, Column: "", Value: value})
	}
}

// saysNothing: it would be written of every specimen here.
func saysNothing(term, value string) bool {
	return term == dwc+"basisOfRecord" && value == "PreservedSpecimen" || term == dwc+"nomenclaturalCode" && value == "ICZN" || term == dwc+"geodeticDatum"
}

// list splits a value of several.
func (v *values) list(term string) []string {
	separator := "|"
	for _, field := range v.file.Fields {
		if field.Term == term && field.Delimited != "" {
			separator = field.Delimited
		}
	}
	var all []string
	for _, part := range strings.Split(v.take(term), separator) {
		if part = strings.TrimSpace(part); part != "" {
			all = append(all, part)
		}
	}
	return all
}
