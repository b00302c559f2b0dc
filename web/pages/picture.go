package pages

import (
	"encoding/xml"
	"html"
	"io"
	"regexp"
	"slices"
	"strings"
	"sync"

	"revidit/review/diagnosis"
)

// shortHash is how much of the hash of the tables an address carries: enough to tell releases apart.
const shortHash = 16

// pictureURL is the address of the drawing of a state, or "" where there is none. It changes with the tables.
func (b Book) pictureURL(character, state string) string {
	if !b.hasPicture(character, state) {
		return ""
	}
	return "/pictures/" + b.Hash[:shortHash] + "/" + character + "/" + state
}

func (b Book) hasPicture(character, state string) bool {
	if b.Tables == nil {
		return false
	}
	_, ok := b.Tables.Picture(character, state)
	return ok
}

// drawn says whether any state of a character has a drawing.
func (b Book) drawn(c *diagnosis.Character) bool {
	return slices.ContainsFunc(c.States, func(s diagnosis.State) bool { return b.hasPicture(c.ID, s.ID) })
}

// threeNumbers are states such as 5-5-4: one number a pair of legs.
var threeNumbers = regexp.MustCompile(`^\d+-\d+-\d+$`)

// threeFeet says whether the drawings of a character show three feet beside each other.
func threeFeet(c *diagnosis.Character) bool {
	return slices.ContainsFunc(c.States, func(s diagnosis.State) bool { return threeNumbers.MatchString(s.ID) })
}

// inlined are drawings as they stand in a page, by their source. There is one a state, so that it stays small.
var inlined sync.Map

// inline is a drawing as markup for a page, drawn in the colour of the text around it; "" where there is none.
func (b Book) inline(character, state string) string {
	if b.Tables == nil {
		return ""
	}
	source, ok := b.Tables.Picture(character, state)
	if !ok {
		return ""
	}
	if known, ok := inlined.Load(source); ok {
		return known.(string)
	}
	made := shapesOf(source)
	inlined.Store(source, made)
	return made
}

var (
	inlineElements   = []string{"svg", "g", "path", "circle", "ellipse", "rect", "line", "polyline", "polygon"}
	inlineAttributes = []string{"viewBox", "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width", "stroke-linecap", "stroke-linejoin",
		"stroke-dasharray", "opacity", "d", "cx", "cy", "r", "rx", "ry", "x", "y", "x1", "y1", "x2", "y2", "width", "height", "points", "transform"}
)

// shapesOf writes a drawing anew from its shapes alone. A page is read by other rules than XML, so that text and
// comments which are harmless in a file of their own might not be in a page; neither comes through here. What the
// drawing shows is said in words beside it, so that it is hidden from screen readers.
func shapesOf(source string) string {
	decoder := xml.NewDecoder(strings.NewReader(source))
	var out strings.Builder
	skip := 0 // depth below an element that is left out
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			return out.String()
		}
		if err != nil {
			return "" // Load accepts no such drawing
		}
		switch token := token.(type) {
		case xml.StartElement:
			if skip > 0 || !slices.Contains(inlineElements, token.Name.Local) {
				skip++
				continue
			}
			out.WriteString(startOf(token))
		case xml.EndElement:
			if skip > 0 {
				skip--
				continue
			}
			out.WriteString("</" + token.Name.Local + ">")
		}
	}
}

func startOf(e xml.StartElement) string {
	var out strings.Builder
	out.WriteString("<" + e.Name.Local)
	if e.Name.Local == "svg" {
		out.WriteString(` aria-hidden="true" focusable="false"`)
	}
	for _, a := range e.Attr {
		if a.Name.Space == "" && slices.Contains(inlineAttributes, a.Name.Local) {
			out.WriteString(" " + a.Name.Local + `="` + html.EscapeString(a.Value) + `"`)
		}
	}
	out.WriteString(">")
	return out.String()
}
