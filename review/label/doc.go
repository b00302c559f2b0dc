// Package label says what stands on the labels of a pinned specimen: which lines, in which size of type, and what was shortened so
// that nothing runs out of the label. It draws nothing and knows no page format; what type measures it is told (Metrics).
//
// The order on a label, roman months, leg., det. and conf., and how curators shorten are common practice, no source; sizes and the
// size of type have their source in testdata/practice.
package label

// MMPerPoint is a typographic point, 1/72 inch, in millimetres.
const MMPerPoint = 25.4 / 72

// Sizes of type, in points. Lines stand as far apart as the type is high ("line spacing exactly 4 point", Schiefer and MacGown 2016).
const (
	Point      = 4.0
	SmallPoint = 3.5 // for what does not fit else; nothing is smaller
)

// Distances from the edge of a label to its text, in millimetres: our own, so that scissors have something to miss by.
const (
	marginSide = 0.4
	marginTop  = 0.3
)

// Size is the outside of a label in millimetres.
type Size struct {
	ID            string
	Width, Height float64
}

// Sizes are those that can be chosen, the club's usual one first. Determination labels are about 15-20 mm by 6-9 mm (common practice,
// no source); none is larger than what testdata/practice names.
var Sizes = []Size{
	{"18x7", 18, 7},
	{"15x6", 15, 6},
	{"18x8", 18, 8},
	{"20x9", 20, 9},
	{"22.2x7.9", 22.2, 7.9},   // 7/8 by 5/16 inch: Purdue Extension, 4-H manual 401
	{"17.8x12.7", 17.8, 12.7}, // 0.7 by 0.5 inch: a mailing list of 1999, common practice
}

// SizeOf is the size with an id; an empty one is the usual size.
func SizeOf(id string) (Size, bool) {
	for _, s := range Sizes {
		if s.ID == id || id == "" {
			return s, true
		}
	}
	return Size{}, false
}

// Paper is a sheet in millimetres.
type Paper struct {
	ID            string
	Width, Height float64
}

// Papers are those that can be chosen, the usual one first.
var Papers = []Paper{{"a4", 210, 297}, {"letter", 215.9, 279.4}}

// PaperOf is the paper with an id; an empty one is the usual paper.
func PaperOf(id string) (Paper, bool) {
	for _, p := range Papers {
		if p.ID == id || id == "" {
			return p, true
		}
	}
	return Paper{}, false
}

// Metrics is what the type and the code of a sheet measure.
type Metrics interface {
	// Width of a text in millimetres, in a size of type in points.
	Width(text string, italic bool, point float64) float64
	// Has says whether the type has a letter.
	Has(letter rune) bool
	// Modules is how many modules the code of a text is wide; false where there is no code of it.
	Modules(text string) (n int, ok bool)
}

// Run is a stretch of a line in one face.
type Run struct {
	Text   string `json:"text"`
	Italic bool   `json:"italic,omitempty"`
}

// Line is a line of a label.
type Line []Run

// String is the text of a line.
func (l Line) String() string {
	text := ""
	for _, r := range l {
		text += r.Text
	}
	return text
}

// Typeset is a label as it is printed.
type Typeset struct {
	Lines []Line  `json:"lines" nullable:"false"`
	Point float64 `json:"point" doc:"Size of type in points"`
	Code  *Code   `json:"code,omitempty"`
	// Shortened is what of it stands there shorter than it is known, or not at all, in the order in which that was done.
	Shortened []Shortening `json:"shortened" nullable:"false"`
}

// Code is a Data Matrix (ISO/IEC 16022), with one module of white around it.
type Code struct {
	Content string  `json:"content"`
	Modules int     `json:"modules" doc:"Of one side"`
	Module  float64 `json:"module" doc:"Side of a module in millimetres"`
}

// Side is that of the code with the white around it, in millimetres.
func (c *Code) Side() float64 { return float64(c.Modules+2) * c.Module }

// TextLeft is how far from the left edge of a label its text stands, in millimetres.
func (l *Typeset) TextLeft() float64 {
	if l.Code != nil {
		return l.Code.Side() + marginSide
	}
	return marginSide
}

// Baseline is how far below the top of its line a text stands, in parts of its size: capital letters and descenders are then as far
// from the edges of the line.
const Baseline = 0.79

// Leading is the distance of lines of a size of type, in millimetres.
func Leading(point float64) float64 { return point * MMPerPoint }

// Field is what a stretch of a label tells.
type Field string

// Fields of labels.
const (
	Country     Field = "country"
	Province    Field = "province"
	District    Field = "district"
	Place       Field = "place"
	Elevation   Field = "elevation"
	Coordinates Field = "coordinates"
	Uncertainty Field = "uncertainty"
	Withheld    Field = "withheld" // that the exact place is not told
	Date        Field = "date"
	Method      Field = "method"
	HostPlant   Field = "host-plant"
	Habitat     Field = "habitat"
	Collector   Field = "collector"
	Name        Field = "name"
	Author      Field = "author"
	Determiner  Field = "determiner" // who signs, with the year
	Number      Field = "number"
	Whole       Field = "label"
)

// How something was shortened.
type How string

// Ways of shortening.
const (
	Abbreviated   How = "abbreviated"    // by abbreviations of the trade
	Initials      How = "initials"       // given names
	SmallerType   How = "smaller-type"   // SmallPoint
	FewerDecimals How = "fewer-decimals" // no more than the place is sure to
	LeftOut       How = "left-out"
	Cut           How = "cut"           // words at its end
	Letters       How = "letters"       // that the type does not have
	WithoutCode   How = "without-code"  // there is no room for it
	NoCodeOf      How = "no-code-of-it" // letters that no code of ours holds
)

// Shortening is one thing that was shortened.
type Shortening struct {
	Field Field  `json:"field"`
	How   How    `json:"how"`
	Full  string `json:"full,omitempty"`
	Short string `json:"short,omitempty"`
}

// Setter sets labels of one size.
type Setter struct {
	Metrics Metrics
	Size    Size
}

// lines is how many lines of a size of type a label holds.
func (s Setter) lines(point float64) int {
	return int((s.Size.Height - 2*marginTop + 1e-9) / Leading(point))
}
