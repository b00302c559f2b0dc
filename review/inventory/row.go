package inventory

import (
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"revidit/review"
)

// specimen makes what comes in of one row, and of further rows of the same specimen.
type specimen struct {
	*review.Incoming
	source *Source
	dates  [3]string               // of collecting: day, month and year in columns of their own
	parts  map[int]*slipParts      // determinations in columns, by number
	point  struct{ lat, lon Cell } // as they were written
	cols   struct{ lat, lon int }
	whole  []slipText
	own    int // index of the determination of the row's own columns; -1: there is none
	column int // that is being read
	row    int
}

// slipParts is a determination whose parts stand in columns of their own.
type slipParts struct {
	row                                                        int
	name, family, genus, subgenus, epithet, subspecies, author string
	qualifier, determiner, date, typeStatus, remarks           string
	columns                                                    map[string]int
	nativeDay                                                  bool
	shortYear                                                  bool
}

func (p *slipParts) field(part string) *string {
	return map[string]*string{"name": &p.name, "family": &p.family, "genus": &p.genus, "subgenus": &p.subgenus, "epithet": &p.epithet, "subspecies": &p.subspecies, "author": &p.author,
		"qualifier": &p.qualifier, "determiner": &p.determiner, "date": &p.date, "type": &p.typeStatus, "remarks": &p.remarks}[part]
}

// tell notes something of the cell that is being read.
func (s *specimen) tell(code review.FaultCode, value, stored string) {
	s.Fault(review.IntakeFault{Code: code, File: s.source.file, Row: s.row, Column: s.source.title(s.column), Value: value, Stored: stored})
}

// keep keeps the cell that is being read word for word.
func (s *specimen) keep(value string) {
	s.Keep(review.RestValue{File: s.source.file, Row: s.row, Column: s.source.title(s.column), Value: value})
}

// cell takes one cell in, by what its column means.
func (s *specimen) cell(c Cell, means review.Meaning) {
	switch {
	case means == review.MeansLeave:
		return
	case c.Uncounted:
		s.tell(review.FaultFormula, "", "")
		return
	case c.Text == "":
		return
	case c.Kind == CellBroken:
		s.tell(review.FaultError, c.Text, "")
		s.keep(c.Text)
		return
	}
	if number, part, ok := means.Slip(); ok {
		s.slipCell(number, part, c)
		return
	}
	switch means {
	case review.MeansKeep:
		s.keep(c.Text)
	case review.MeansSource:
		s.Source = c.Text
		if utf8.RuneCountInString(c.Text) > review.MaxSlipText {
			s.tell(review.FaultLetters, c.Text, "")
			s.Source = ""
		}
	case review.MeansCollected, review.MeansCollectedUntil:
		s.collected(c, means == review.MeansCollectedUntil)
	case review.MeansDay:
		s.dates[0] = c.Text
	case review.MeansMonth:
		s.dates[1] = c.Text
	case review.MeansYear:
		s.dates[2] = c.Text
	case review.MeansPoint:
		s.oneCellPoint(c)
	case review.MeansDatum:
		s.datum(c)
	case review.MeansSlips:
		s.whole = append(s.whole, s.readWhole(c.Text)...)
	default:
		s.label(c, means)
	}
}

// datum tells of coordinates of another one than WGS 84, which may lie hundreds of metres off.
func (s *specimen) datum(c Cell) {
	switch strings.ToUpper(strings.NewReplacer(" ", "", "-", "").Replace(c.Text)) {
	case "EPSG:4326", "WGS84":
		return
	}
	s.tell(review.FaultDatum, c.Text, "")
	s.keep(c.Text)
}

// label takes a field of the label.
func (s *specimen) label(c Cell, means review.Meaning) {
	l, w := &s.Label, &s.Withheld
	switch means {
	case "withheld.latitude":
		s.point.lat, s.cols.lat = c, s.column
	case "withheld.longitude":
		s.point.lon, s.cols.lon = c, s.column
	case "withheld.elevation_m":
		w.ElevationM = s.metres(c)
	case "withheld.uncertainty_m":
		w.UncertaintyM = s.metres(c)
	case "label.sex":
		if l.Sex = sexOf(c.Text); l.Sex == "" {
			s.unlike(c.Text)
		}
	case "label.count":
		if l.Count = countOf(c.Text); l.Count == 0 {
			s.tell(review.FaultNumber, c.Text, "")
			s.keep(c.Text)
		}
	default:
		if means == "label.catalogue_number" {
			s.number(c)
		}
		s.source.fields[s.column].Set(l, w, c.Text)
	}
}

// unlike: a word that the field does not know, or several of them.
func (s *specimen) unlike(text string) {
	code := review.FaultChoice
	if sexes.MatchString(text) && len(sexes.FindAllString(text, -1)) > 1 {
		code = review.FaultSeveral
	}
	s.tell(code, text, "")
	s.keep(text)
}

func (s *specimen) metres(c Cell) *float64 {
	if c.Kind == CellNumber {
		if x, err := strconv.ParseFloat(c.Text, 64); err == nil {
			return &x
		}
	}
	x, feet, fault := metresOf(c.Text)
	if fault != "" {
		s.tell(fault, c.Text, "")
		s.keep(c.Text)
		return nil
	}
	if feet {
		s.tell(review.FaultUnit, c.Text, plain(x)+" m")
	}
	if plain(x) != strings.TrimSpace(strings.TrimSuffix(c.Text, "m")) {
		s.keep(c.Text)
	}
	return &x
}

// rounded are numbers that a spreadsheet shows with an exponent: the figures behind are lost.
var rounded = regexp.MustCompile(`^[+-]?\d([.,]\d+)?[eE]\+?\d+$`)

// number tells of a catalogue number that a spreadsheet has perhaps changed.
func (s *specimen) number(c Cell) {
	const figures = 15 // of a number, which spreadsheets keep
	switch {
	case rounded.MatchString(c.Text), c.Kind == CellNumber && len(strings.TrimLeft(c.Text, "-")) > figures:
		s.tell(review.FaultRounded, c.Text, c.Text)
	case s.source.zeros > len(c.Text) && figuresOnly(c.Text):
		s.tell(review.FaultZeros, c.Text, c.Text)
	case c.Kind == CellDay:
		s.tell(review.FaultRounded, c.Text, c.Text)
	}
}

func figuresOnly(text string) bool { return text != "" && strings.Trim(text, "0123456789") == "" }

// sexes are the words and signs for them in English and German, and the letters that lists use.
var sexes = regexp.MustCompile(`(?i)[♂♀]|\b(?:males?|females?|m(?:ä|ae)nnlich|m(?:ä|ae)nnchen|weiblich|weibchen)\b`)

func sexOf(text string) string {
	switch strings.ToLower(strings.TrimSpace(strings.Trim(text, "1 ."))) {
	case "♂", "m", "male", "männlich", "maennlich", "männchen", "maennchen", "mas":
		return "male"
	case "♀", "f", "w", "female", "weiblich", "weibchen", "fem":
		return "female"
	}
	return ""
}

var counted = regexp.MustCompile(`^(?i)(\d{1,5})\s*(?:ex|exx|exemplare?|specimens?|spec|spm|stk|stück|ind|individuals?|individuen)?\.?$`)

// countOf is a number of individuals; 0 where it is none.
func countOf(text string) int {
	m := counted.FindStringSubmatch(text)
	if m == nil {
		return 0
	}
	n, err := strconv.Atoi(m[1])
	if err != nil || n > 10_000 {
		return 0
	}
	return n
}

// collected reads the date of collecting, or the end of it.
func (s *specimen) collected(c Cell, until bool) {
	d := s.date(c)
	l := &s.Label
	switch {
	case d.Fault != "":
		return
	case !until && l.CollectedFrom == "":
		l.CollectedFrom, l.CollectedTo = d.From, d.To
	case until && d.To == "" && l.CollectedTo == "" && l.CollectedFrom != "" && d.From >= l.CollectedFrom:
		if d.From > l.CollectedFrom {
			l.CollectedTo = d.From
		}
	case until && d.To == "" && l.CollectedFrom != "" && l.CollectedTo == "":
		s.tell(review.FaultBackwards, c.Text, "")
		s.keep(c.Text)
	case l.CollectedFrom == "":
		s.tell(review.FaultUnread, c.Text, "")
		s.keep(c.Text)
	default:
		s.tell(review.FaultSeveral, c.Text, "")
		s.keep(c.Text)
	}
}

// date reads a cell as one, tells of what is to be known of it, and keeps how it was written.
func (s *specimen) date(c Cell) Date {
	d := ParseDate(c.Text, s.source.datesOf(s.column))
	s.tellDate(d, c.Text)
	if c.ShortYear && d.Fault == "" {
		s.tell(review.FaultShown, c.Text, d.From)
	}
	if c.Text != d.From && c.Text != d.From+"/"+d.To {
		s.keep(c.Text)
	}
	return d
}

func (s *specimen) tellDate(d Date, written string) {
	stored := strings.TrimSuffix(d.From+"/"+d.To, "/")
	switch {
	case d.Fault != "":
		s.tell(d.Fault, written, "")
	case d.Against:
		s.tell(review.FaultAgainst, written, stored)
	case max(d.From, d.To) > s.source.today:
		s.tell(review.FaultFuture, written, stored)
	}
}

// dateOfParts puts day, month and year together.
func (s *specimen) dateOfParts() {
	day, month, year := s.dates[0], s.dates[1], s.dates[2]
	if day+month+year == "" {
		return
	}
	s.column = s.source.columnOf(review.MeansYear, s.column)
	written := strings.TrimPrefix(strings.TrimPrefix(strings.TrimSuffix(day, ".")+"."+strings.TrimSuffix(month, ".")+"."+year, "."), ".")
	how := Dates{Order: review.DayFirst, Century: s.source.datesOf(s.column).Century} // their columns say which is which
	d := ParseDate(written, how)
	if s.Label.CollectedFrom != "" {
		if d.Fault != "" || s.Label.CollectedFrom != d.From {
			s.keep(written)
		}
		return
	}
	if d.Fault == "" && (d.MonthFirst || day != "" && month == "" || d.To != "") {
		d = Date{Fault: review.FaultUnread}
	}
	s.tellDate(d, written)
	if d.Fault != "" {
		s.keep(written)
		return
	}
	s.Label.CollectedFrom = d.From
	if monthOf(strings.TrimSuffix(month, ".")) > 0 && len(month) > 0 {
		s.keep(written)
	}
}

func (s *specimen) oneCellPoint(c Cell) {
	p, ok := ParsePoint(c.Text, s.source.reading.Columns[s.column].East)
	s.place(p, ok, c.Text)
}

// place stores a point, or tells why not; how it was written is kept.
func (s *specimen) place(p Point, ok bool, written string) {
	switch {
	case !ok:
		s.tell(review.FaultPoint, written, "")
	case p.LetterO:
		s.tell(review.FaultCompass, written, "")
	default:
		s.Withheld.Latitude, s.Withheld.Longitude = &p.Latitude, &p.Longitude
	}
	s.keep(written)
}

// twoCellPoint puts latitude and longitude together.
func (s *specimen) twoCellPoint() {
	lat, lon := s.point.lat.Text, s.point.lon.Text
	if lat == "" && lon == "" {
		return
	}
	if s.column = s.cols.lat; lat == "" {
		s.column = s.cols.lon
	}
	if lat == "" || lon == "" {
		s.tell(review.FaultEmptyPlace, lat+lon, "")
		s.keep(lat + lon)
		return
	}
	p, ok := pointFrom(lat, lon, s.source.reading.Columns[s.cols.lon].East)
	if x, err := strconv.ParseFloat(lat, 64); ok && !p.LetterO && err == nil && x == p.Latitude {
		if y, err := strconv.ParseFloat(lon, 64); err == nil && y == p.Longitude { // as they stand
			s.Withheld.Latitude, s.Withheld.Longitude = &p.Latitude, &p.Longitude
			return
		}
	}
	s.place(p, ok, lat+" "+lon)
}
