package sheet

import (
	_ "embed"
	"fmt"
	"sync"

	"github.com/boombuler/barcode/datamatrix"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"

	"revidit/review/label"
)

// Liberation Sans 2.1.5, which is as wide as Helvetica, letter by letter; SIL Open Font License 1.1 (font/LICENSE).
var (
	//go:embed font/LiberationSans-Regular.ttf
	regular []byte
	//go:embed font/LiberationSans-Italic.ttf
	italic []byte
)

var faces = sync.OnceValue(func() [2]*sfnt.Font {
	var made [2]*sfnt.Font
	for i, data := range [][]byte{regular, italic} {
		face, err := sfnt.Parse(data)
		if err != nil {
			panic(fmt.Sprintf("sheet: an embedded font cannot be read: %v", err)) // embedded above: no input can cause it
		}
		made[i] = face
	}
	return made
})

// Type is what the type and the code of sheets measure.
type Type struct{}

var _ label.Metrics = Type{}

// Width implements label.Metrics.
func (Type) Width(text string, slanted bool, point float64) float64 {
	face := faces()[0]
	if slanted {
		face = faces()[1]
	}
	var buffer sfnt.Buffer
	perEm := fixed.I(int(face.UnitsPerEm()))
	sum := fixed.Int26_6(0)
	for _, r := range text {
		glyph, err := face.GlyphIndex(&buffer, r)
		if err != nil {
			continue // a letter that the type lacks is a box that no text of a label has
		}
		advance, err := face.GlyphAdvance(&buffer, glyph, perEm, font.HintingNone)
		if err == nil {
			sum += advance
		}
	}
	return float64(sum) / float64(perEm) * point * label.MMPerPoint
}

// Has implements label.Metrics: both faces have the letter.
func (Type) Has(letter rune) bool {
	var buffer sfnt.Buffer
	for _, face := range faces() {
		if glyph, err := face.GlyphIndex(&buffer, letter); err != nil || glyph == 0 {
			return false
		}
	}
	return true
}

// Modules implements label.Metrics. The codes of the library hold bytes, and readers take them for Latin-1: of other letters than
// those of ASCII there is none.
func (Type) Modules(text string) (int, bool) {
	matrix, err := matrixOf(text)
	if err != nil {
		return 0, false
	}
	return matrix.Bounds().Dx(), true
}

// matrixOf is the Data Matrix of a text.
func matrixOf(text string) (matrix, error) {
	for _, r := range text {
		if r < ' ' || r > '~' {
			return nil, fmt.Errorf("%q is no letter of ASCII", r)
		}
	}
	if text == "" {
		return nil, fmt.Errorf("there is nothing to encode")
	}
	return datamatrix.Encode(text)
}
