package review

import (
	"fmt"
	"slices"
	"strings"
)

// InventoryReading is how the table of an old collection is read: what was found out of the file, and what a curator has said of it.
// Nothing of a date is guessed: which of day and month is first, and in which hundred years two digits of a year lie, a curator says
// for each column; until then such dates stay as they are written, and no date is stored.
type InventoryReading struct {
	// Encoding is that of a CSV file; Sure: it was marked or leaves no other choice.
	Encoding  string   `json:"encoding,omitempty" doc:"Of a CSV file: utf-8, utf-16le, utf-16be, windows-1252, iso-8859-15, macintosh or ibm850; empty: find out"`
	Sure      bool     `json:"sure,omitempty" readOnly:"true" doc:"The encoding is marked in the file, or no other one fits"`
	Separator string   `json:"separator,omitempty" doc:"Of a CSV file, what stands between two cells: a comma, a semicolon, a tab or |; empty: find out"`
	Sheet     string   `json:"sheet,omitempty" maxLength:"100" doc:"Of a workbook, the sheet; empty: the first one that can be seen"`
	Sheets    []string `json:"sheets,omitempty" readOnly:"true"`
	// Header is the row of the names of columns as spreadsheets count; -1: there is none, 0: find out.
	Header  int               `json:"header,omitempty" minimum:"-1" maximum:"1000" doc:"Row with the names of columns, the first being 1; -1: there is none; 0: find out"`
	Columns []InventoryColumn `json:"columns,omitempty" maxItems:"200" doc:"All of them in their order, or none: find out"`
	Rows    int               `json:"rows,omitempty" readOnly:"true" doc:"Rows with data"`
}

// InventoryColumn is one column: what a curator says of it, and what was found in it.
type InventoryColumn struct {
	Means   Meaning   `json:"means,omitempty" maxLength:"60" doc:"What it holds: a field of the label (label.country), collected, collected-day, collected-month, collected-year, point, datum, source, slips, slip.1.name and so on; keep: word for word; leave: not at all"`
	Order   DateOrder `json:"order,omitempty" enum:",day,month" doc:"What is first in dates such as 5/6/1987; empty: not told, such dates stay as they are written"`
	Century int       `json:"century,omitempty" minimum:"0" maximum:"2100" doc:"First of the hundred years in which two digits of a year lie, as in 1925: 26 is 1926 and 24 is 2024; 0: not told, such dates stay as they are written"`
	East    string    `json:"east,omitempty" enum:",east,west" doc:"What the letter O means in coordinates: east in German, west in French, Italian and Spanish; empty: not told"`

	Letter   string        `json:"letter,omitempty" readOnly:"true" doc:"As spreadsheets call it"`
	Name     string        `json:"name,omitempty" readOnly:"true" doc:"As it is headed"`
	Why      ColumnWhy     `json:"why,omitempty" readOnly:"true" enum:",name,content,curator" doc:"What its meaning rests on"`
	Values   int           `json:"values,omitempty" readOnly:"true" doc:"Cells that are not empty"`
	Examples []string      `json:"examples,omitempty" readOnly:"true"`
	Dates    *ColumnsDates `json:"dates,omitempty" readOnly:"true" doc:"What is to be asked of its dates"`
	LettersO int           `json:"letters_o,omitempty" readOnly:"true" doc:"Coordinates in which the letter O stands"`
}

// ColumnsDates are dates of a column of which something is to be asked.
type ColumnsDates struct {
	Either     int `json:"either,omitempty" doc:"Dates that can be read with the day or the month first"`
	DayFirst   int `json:"day_first,omitempty" doc:"Dates of figures alone that can only be read with the day first"`
	MonthFirst int `json:"month_first,omitempty" doc:"Dates of figures alone that can only be read with the month first"`
	TwoDigits  int `json:"two_digits,omitempty" doc:"Dates with two digits of a year"`
	Native     int `json:"native,omitempty" doc:"Days that the spreadsheet stores as such"`
}

// DateOrder is what is first in a date of figures.
type DateOrder string

// Orders; the empty one is not told.
const (
	DayFirst   DateOrder = "day"
	MonthFirst DateOrder = "month"
)

// ColumnWhy is what the meaning of a column rests on.
type ColumnWhy string

// What it rests on.
const (
	ByName    ColumnWhy = "name"
	ByContent ColumnWhy = "content"
	ByCurator ColumnWhy = "curator"
)

// Meaning is what a column holds: the path of a field of the label, a part of a determination (slip.1.name), or one of these.
type Meaning string

// Meanings that are no field of the label and no part of a determination.
const (
	MeansKeep           Meaning = "keep"  // it has no place: its values stay word for word with their specimens
	MeansLeave          Meaning = "leave" // its values are not taken in at all
	MeansCollected      Meaning = "collected"
	MeansCollectedUntil Meaning = "collected-until"
	MeansDay            Meaning = "collected-day"
	MeansMonth          Meaning = "collected-month"
	MeansYear           Meaning = "collected-year"
	MeansPoint          Meaning = "point" // latitude and longitude in one cell
	MeansDatum          Meaning = "datum"
	MeansSource         Meaning = "source" // identifier elsewhere
	MeansSlips          Meaning = "slips"  // whole slips: det. A. B. 1987; det. C. D. 2003
)

var plainMeanings = []Meaning{MeansKeep, MeansLeave, MeansSource, MeansCollected, MeansCollectedUntil, MeansDay, MeansMonth, MeansYear, MeansPoint, MeansDatum, MeansSlips}

// SlipParts are the parts of a determination that a column can hold.
var SlipParts = []string{"name", "family", "genus", "subgenus", "epithet", "subspecies", "author", "qualifier", "determiner", "date", "type", "remarks"}

// MostSlips are determinations of a specimen that columns of their own can hold. Number 0 is an earlier one without a number.
const MostSlips = 6

// SlipMeaning is a part of a determination by its number: 0 is an earlier one, 1 the first of those that are numbered.
func SlipMeaning(number int, part string) Meaning {
	return Meaning(fmt.Sprintf("slip.%d.%s", number, part))
}

// Slip is the number and the part of a determination; false of other meanings.
func (m Meaning) Slip() (number int, part string, ok bool) {
	rest, ok := strings.CutPrefix(string(m), "slip.")
	if !ok || len(rest) < 3 || rest[1] != '.' {
		return 0, "", false
	}
	number, part = int(rest[0]-'0'), rest[2:]
	return number, part, number >= 0 && number <= MostSlips && slices.Contains(SlipParts, part)
}

// Field is the field of the label that it is; false of other meanings. Dates and coordinates are fields with meanings of their own.
func (m Meaning) Field() (LabelField, bool) {
	for _, f := range LabelFields() {
		if f.Path() == string(m) && f.Kind != LabelDate {
			return f, true
		}
	}
	return LabelField{}, false
}

// IsDate says whether cells of the column are read as dates.
func (m Meaning) IsDate() bool {
	_, part, slip := m.Slip()
	return m == MeansCollected || m == MeansCollectedUntil || m == MeansYear || m == MeansSlips || slip && (part == "date" || part == "determiner")
}

// IsPlace says whether cells of the column are read as coordinates.
func (m Meaning) IsPlace() bool {
	return m == MeansPoint || m == "withheld.latitude" || m == "withheld.longitude"
}

func (m Meaning) valid() bool {
	_, field := m.Field()
	_, _, slip := m.Slip()
	return field || slip || slices.Contains(plainMeanings, m)
}

// Meanings are all of them, in the order of forms, but for parts of determinations.
func Meanings() []Meaning {
	all := slices.Clone(plainMeanings)
	for _, f := range LabelFields() {
		if f.Kind != LabelDate {
			all = append(all, Meaning(f.Path()))
		}
	}
	return all
}

// Encodings and separators that a curator can name.
var (
	InventoryEncodings  = []string{"utf-8", "utf-16le", "utf-16be", "windows-1252", "iso-8859-15", "macintosh", "ibm850"}
	InventorySeparators = []string{",", ";", "\t", "|"}
)

// MostColumns bounds a table.
const MostColumns = 200

// Check adds everything that cannot be asked for. What a reading found out is not looked at.
func (r *InventoryReading) Check(p *Problems) {
	if r.Encoding != "" && !slices.Contains(InventoryEncodings, r.Encoding) {
		p.Addf("encoding", "is none that is known here")
	}
	if r.Separator != "" && !slices.Contains(InventorySeparators, r.Separator) {
		p.Addf("separator", "must be a comma, a semicolon, a tab or |")
	}
	if r.Header < -1 || r.Header > 1000 {
		p.Addf("header", "must be a row from 1 to 1000")
	}
	if len(r.Columns) > MostColumns {
		p.Addf("columns", "at most %d columns", MostColumns)
	}
	held := map[Meaning]int{}
	for i, c := range r.Columns {
		at := fmt.Sprintf("columns.%d", i)
		first, twice := held[c.Means]
		switch {
		case !c.Means.valid():
			p.Addf(at+".means", "is nothing that a column can hold here")
		case c.Means == MeansKeep || c.Means == MeansLeave || c.Means == MeansSlips:
		case twice:
			p.Addf(at+".means", "is what column %d holds already", first+1)
		default:
			held[c.Means] = i
		}
		if c.Order != "" && c.Order != DayFirst && c.Order != MonthFirst {
			p.Addf(at+".order", "must be day, month or empty")
		}
		if c.Century != 0 && (c.Century < 1700 || c.Century > 2100) {
			p.Addf(at+".century", "must be a year from 1700 to 2100, or empty")
		}
		if c.East != "" && c.East != "east" && c.East != "west" {
			p.Addf(at+".east", "must be east, west or empty")
		}
	}
}
