package pages

import (
	"encoding/xml"
	"html"
	"io"
	"net/url"
	"slices"
	"strings"

	"github.com/a-h/templ"

	"revidit/review/diagnosis"
)

// PlateData is a plate as it is shown: with which parts in red, and where a touched part leads.
type PlateData struct {
	Plate  *diagnosis.Plate
	Chosen []string                        // part ids
	Href   func(part string) templ.SafeURL // nil: parts lead nowhere
}

// partURL is the page of the plates with a part in red.
func partURL(b Book, part string) templ.SafeURL {
	return tableURL(b, "parts") + templ.SafeURL("?"+url.Values{"part": {part}}.Encode())
}

// whereURL is the page of the plates with the parts of a character in red.
func whereURL(b Book, character string) templ.SafeURL {
	return tableURL(b, "parts") + templ.SafeURL("?"+url.Values{"character": {character}}.Encode())
}

// placed says whether a character can be shown on a plate.
func (b Book) placed(c *diagnosis.Character) bool {
	return b.Tables != nil && b.PlateOf(c) != nil
}

// partName is the name of a part; an id that the tables lack stays as it is.
func (b Book) partName(id string) string {
	if p, ok := b.Part(id); ok {
		return p.Name
	}
	return id
}

// markup is the drawing of a plate as it stands in a page: chosen parts are marked, and each run of shapes leads to the part
// that it shows. Labels say the same to the keyboard and to screen readers, so that neither stops here.
func (d PlateData) markup(b Book) string {
	w := plateWriter{book: b, data: d}
	decoder := xml.NewDecoder(strings.NewReader(d.Plate.SVG()))
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			return w.out.String()
		}
		if err != nil {
			return "" // Load accepts no such drawing
		}
		switch token := token.(type) {
		case xml.StartElement:
			w.start(token)
		case xml.EndElement:
			w.end(token)
		}
	}
}

// plateWriter writes a drawing anew from its shapes alone, as shapesOf does, without the svg element around them.
type plateWriter struct {
	book   Book
	data   PlateData
	out    strings.Builder
	parts  []string // the innermost part of each open group; "" for none
	linked bool     // a link is open
	skip   int      // depth below an element that is left out
}

func (w *plateWriter) start(e xml.StartElement) {
	switch {
	case e.Name.Local == "svg" && w.skip == 0:
		w.out.WriteString(ground(e))
	case w.skip > 0 || !slices.Contains(inlineElements, e.Name.Local):
		w.skip++
	case e.Name.Local == "g":
		w.closeLink()
		w.openGroup(e)
	default:
		w.openLink()
		w.out.WriteString(startOf(e))
	}
}

func (w *plateWriter) end(e xml.EndElement) {
	switch {
	case w.skip > 0:
		w.skip--
	case e.Name.Local == "svg":
		w.closeLink()
		w.out.WriteString("</g>")
	case e.Name.Local == "g":
		w.closeLink()
		w.parts = w.parts[:len(w.parts)-1]
		w.out.WriteString("</g>")
	default:
		w.out.WriteString("</" + e.Name.Local + ">")
	}
}

// ground is a group with what the svg element of a drawing says of all its lines.
func ground(e xml.StartElement) string {
	group := xml.StartElement{Name: xml.Name{Local: "g"}}
	for _, a := range e.Attr {
		if a.Name.Local != "viewBox" && a.Name.Local != "width" && a.Name.Local != "height" {
			group.Attr = append(group.Attr, a)
		}
	}
	return strings.TrimSuffix(startOf(group), ">") + ` class="drawn" aria-hidden="true">`
}

func (w *plateWriter) openGroup(e xml.StartElement) {
	part := w.part()
	chosen := false
	for _, a := range e.Attr {
		if a.Name.Local != "class" {
			continue
		}
		for _, class := range strings.Fields(a.Value) {
			part = class
			chosen = chosen || slices.Contains(w.data.Chosen, class)
		}
	}
	w.parts = append(w.parts, part)
	group := strings.TrimSuffix(startOf(e), ">")
	if chosen {
		group += ` class="chosen"`
	}
	w.out.WriteString(group + ">")
}

func (w *plateWriter) part() string {
	if len(w.parts) == 0 {
		return ""
	}
	return w.parts[len(w.parts)-1]
}

func (w *plateWriter) openLink() {
	part := w.part()
	if w.linked || part == "" || w.data.Href == nil {
		return
	}
	w.linked = true
	w.out.WriteString(`<a tabindex="-1" href="` + html.EscapeString(string(w.data.Href(part))) + `"><title>` +
		html.EscapeString(w.book.partName(part)) + `</title>`)
}

func (w *plateWriter) closeLink() {
	if w.linked {
		w.linked = false
		w.out.WriteString("</a>")
	}
}

// PlateAlone is a plate as a document of its own, which a browser keeps as an image: the chosen parts in red, without the
// dots of the shading, and where one part alone is chosen that has a label, what lies around it.
func PlateAlone(t *diagnosis.Tables, plate *diagnosis.Plate, chosen []string) string {
	var out strings.Builder
	depth, from := 0, -1 // from: depth at which a chosen group is open
	decoder := xml.NewDecoder(strings.NewReader(plate.SVG()))
	for {
		at := decoder.InputOffset()
		token, err := decoder.RawToken()
		if err != nil {
			return out.String()
		}
		raw := plate.SVG()[at:decoder.InputOffset()]
		switch token := token.(type) {
		case xml.StartElement:
			depth++
			if from < 0 && slices.ContainsFunc(strings.Fields(valueOf(token, "class")), func(c string) bool { return slices.Contains(chosen, c) }) {
				from = depth
				raw = strings.Replace(raw, "<g ", `<g color="#b3240b" `, 1)
			}
			raw = aloneElement(t, plate, chosen, token, raw, from >= 0)
		case xml.EndElement:
			if depth == from {
				from = -1
			}
			depth--
		}
		out.WriteString(raw)
	}
}

func aloneElement(t *diagnosis.Tables, plate *diagnosis.Plate, chosen []string, e xml.StartElement, raw string, red bool) string {
	box := valueOf(e, "viewBox")
	switch {
	case e.Name.Local == "svg":
		return strings.Replace(raw, `viewBox="`+box+`"`, `viewBox="`+boxAround(t, plate, chosen)+`"`, 1)
	case strings.Contains(valueOf(e, "d"), "h0m"): // dots
		return strings.Replace(raw, ` d="`+valueOf(e, "d")+`"`, "", 1)
	case red:
		return strings.Replace(raw, `fill="#fff"`, `fill="#f3b9a9"`, 1)
	}
	return raw
}

// nearShare is how much of the longer side of a plate an image of one part shows.
const nearShare = 0.4

// boxAround is the part of a plate that is shown.
func boxAround(t *diagnosis.Tables, plate *diagnosis.Plate, chosen []string) string {
	box := plate.Box
	if len(chosen) == 1 {
		if p, ok := t.Part(chosen[0]); ok {
			if place, lies := p.On(plate.ID); lies && place.Labelled {
				side := min(max(box[2], box[3])*nearShare, box[2], box[3])
				box[0] = min(max(place.X-side/2, box[0]), box[0]+box[2]-side)
				box[1] = min(max(place.Y-side/2, box[1]), box[1]+box[3]-side)
				box[2], box[3] = side, side
			}
		}
	}
	return figureNumber(box[0]) + " " + figureNumber(box[1]) + " " + figureNumber(box[2]) + " " + figureNumber(box[3])
}

// plateImageURL is the address of a plate as an image, with parts in red. It changes with the tables.
func plateImageURL(b Book, plate string, parts ...string) string {
	return "/plates/" + b.Hash[:shortHash] + "/" + plate + "?" + url.Values{"part": parts}.Encode()
}

func valueOf(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
