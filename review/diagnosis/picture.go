package diagnosis

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"
)

// Pictures are line drawings of states: pictures/CHARACTER/STATE.svg. They are plain shapes and text alternatives;
// whatever else SVG can hold (scripts, links, styles, images) is refused, since a folder of tables may come from elsewhere.
const (
	picturesFolder = "pictures"
	maxPicture     = 8 << 10  // bytes; a small line drawing needs no more
	maxPlate       = 80 << 10 // bytes; a whole animal with its shading
)

// CountingPicture stands in the place of a state for the drawing pictures/CHARACTER/counting.svg: a worked count, which
// shows where to begin and what does not count.
const CountingPicture = "counting"

var (
	pictureElements   = []string{"svg", "title", "desc", "g", "path", "circle", "ellipse", "rect", "line", "polyline", "polygon"}
	pictureAttributes = []string{"xmlns", "viewBox", "role", "color", "fill", "fill-opacity", "fill-rule", "stroke", "stroke-width",
		"stroke-linecap", "stroke-linejoin", "stroke-dasharray", "opacity", "d", "cx", "cy", "r", "rx", "ry", "x", "y", "x1", "y1", "x2", "y2", "width", "height",
		"points", "transform"}
	// On plates the class of a group names the parts that it shows.
	plateAttributes = append(slices.Clone(pictureAttributes), "class")
)

// Picture is the drawing of a state, or with CountingPicture that of a worked count, as an SVG document, and false where
// there is none.
func (t *Tables) Picture(character, state string) (svg string, ok bool) {
	svg, ok = t.pictures[character+"/"+state]
	return svg, ok
}

// readPictures reads every drawing and checks that it is one of a known state, and harmless.
func (l *loader) readPictures() {
	l.tables.pictures = map[string]string{}
	err := fs.WalkDir(l.fsys, picturesFolder, func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if entry.IsDir() || strings.HasPrefix(entry.Name(), ".") || path.Ext(name) != ".svg" {
			return nil
		}
		l.readPicture(name)
		return nil
	})
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		l.document(picturesFolder).problem(0, "the folder cannot be read: %v", err)
	}
}

func (l *loader) readPicture(name string) {
	d := l.document(name)
	content, err := fs.ReadFile(l.fsys, name)
	if err != nil {
		d.problem(0, "cannot be read: %v", err)
		return
	}
	l.contents[name] = content
	key := strings.TrimSuffix(strings.TrimPrefix(name, picturesFolder+"/"), ".svg")
	id, state, _ := strings.Cut(key, "/")
	if c, ok := l.tables.Character(id); l.charactersRead && (!ok || c.State(state) < 0 && state != CountingPicture) {
		d.problem(0, "is the picture of no state; pictures go to pictures/CHARACTER/STATE.svg, a worked count to pictures/CHARACTER/counting.svg")
		return
	}
	if err := checkDrawing(content, maxPicture, pictureAttributes); err != nil {
		d.problem(0, "%v", err)
		return
	}
	l.tables.pictures[key] = string(content)
}

// checkDrawing accepts well-formed documents of plain shapes with a title and a description.
func checkDrawing(content []byte, limit int, attributes []string) error {
	if len(content) > limit {
		return fmt.Errorf("is larger than %d bytes; simplify the drawing", limit)
	}
	decoder := xml.NewDecoder(strings.NewReader(string(content)))
	var seen []string
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return fmt.Errorf("is no well-formed SVG: %w", err)
		}
		switch token := token.(type) {
		case xml.StartElement:
			if err := checkElement(token, attributes); err != nil {
				return err
			}
			seen = append(seen, token.Name.Local)
		case xml.Directive, xml.ProcInst:
			return errors.New("must hold shapes only, no declarations")
		}
	}
	if len(seen) == 0 || seen[0] != "svg" || !slices.Contains(seen, "title") || !slices.Contains(seen, "desc") {
		return errors.New("must be an svg element with a title and a desc, which are its text alternative")
	}
	return nil
}

func checkElement(e xml.StartElement, attributes []string) error {
	if !slices.Contains(pictureElements, e.Name.Local) {
		return fmt.Errorf("must hold shapes only, no %s element", e.Name.Local)
	}
	for _, a := range e.Attr {
		if a.Name.Space != "" || !slices.Contains(attributes, a.Name.Local) || strings.Contains(a.Value, "url(") {
			return fmt.Errorf("must hold shapes only, no attribute %s on %s", a.Name.Local, e.Name.Local)
		}
	}
	return nil
}

// eachElement visits the elements of a drawing that checkDrawing has accepted.
func eachElement(svg string, visit func(xml.StartElement)) {
	decoder := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := decoder.Token()
		if err != nil {
			return
		}
		if start, ok := token.(xml.StartElement); ok {
			visit(start)
		}
	}
}

func attribute(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Space == "" && a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// classesOf are the classes of a drawing, each once, in its order.
func classesOf(svg string) []string {
	var classes []string
	eachElement(svg, func(e xml.StartElement) {
		for _, class := range strings.Fields(attribute(e, "class")) {
			if !slices.Contains(classes, class) {
				classes = append(classes, class)
			}
		}
	})
	return classes
}

// boxOf is the viewBox of a drawing, and false where it has none that can be drawn in.
func boxOf(svg []byte) (box [4]float64, ok bool) {
	var fields []string
	eachElement(string(svg), func(e xml.StartElement) {
		if e.Name.Local == "svg" && fields == nil {
			fields = strings.Fields(attribute(e, "viewBox"))
		}
	})
	if len(fields) != len(box) {
		return box, false
	}
	for i, field := range fields {
		x, err := strconv.ParseFloat(field, 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return box, false
		}
		box[i] = x
	}
	return box, box[2] > 0 && box[3] > 0
}

// pictureless are the states of named states that have no drawing, once a group has any.
func (t *Tables) pictureless() []Problem {
	if len(t.pictures) == 0 {
		return nil
	}
	var problems []Problem
	for _, c := range t.Characters {
		if c.Kind != KindStates {
			continue
		}
		for _, s := range c.States {
			if _, ok := t.Picture(c.ID, s.ID); !ok {
				problems = append(problems, Problem{File: picturesFolder + "/" + c.ID + "/" + s.ID + ".svg",
					Message: "is missing: every state of a group with pictures has one"})
			}
		}
	}
	return problems
}
