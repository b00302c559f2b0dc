package diagnosis

import (
	"encoding/xml"
	"errors"
	"io/fs"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// Plate is a labelled drawing of a whole animal, or of a detail of one: plates/ID.svg.
type Plate struct {
	ID, Title string
	View      string // the photo view that looks the same way
	// Box is the drawing's own system of coordinates: left, top, width, height.
	Box [4]float64
	// Description is the text alternative of the drawing.
	Description string

	svg string
}

// SVG is the drawing without labels. Its groups bear, as their class, the ids of the parts that they show.
func (p *Plate) SVG() string { return p.svg }

// Part is a part of the body that characters speak of.
type Part struct {
	ID string
	// Name is in plain words, Term as the trade says it.
	Name, Term string
	Definition string
	// Within is the id of the part that this one belongs to; empty for none.
	Within string
	// Places are where it is drawn, at least one.
	Places []Place
	// Source is the id of the work that the definition follows, SourcePlace the place in it; empty for from memory.
	Source, SourcePlace string

	line int // in parts.yaml
}

// Place is where a part lies on a plate.
type Place struct {
	Plate string
	// Labelled: a line leads from the label, on Side of the plate, to X, Y in the coordinates of the drawing. Otherwise the
	// part is drawn, and its name is in the legend alone.
	Labelled bool
	X, Y     float64
	Side     Side
}

// Side is where a label stands.
type Side string

const (
	SideLeft  Side = "left"
	SideRight Side = "right"
)

// On is where a part lies on a plate, and false where it is not drawn there.
func (p *Part) On(plate string) (Place, bool) {
	for _, place := range p.Places {
		if place.Plate == plate {
			return place, true
		}
	}
	return Place{}, false
}

// Part returns the part with that id, or false.
func (t *Tables) Part(id string) (*Part, bool) {
	for i := range t.Parts {
		if t.Parts[i].ID == id {
			return &t.Parts[i], true
		}
	}
	return nil, false
}

// Plate returns the plate with that id, or false.
func (t *Tables) Plate(id string) (*Plate, bool) {
	for i := range t.Plates {
		if t.Plates[i].ID == id {
			return &t.Plates[i], true
		}
	}
	return nil, false
}

// AskedOf are the characters that name a part, in the order of the tables.
func (t *Tables) AskedOf(part string) []*Character {
	var found []*Character
	for i := range t.Characters {
		if slices.Contains(t.Characters[i].Parts, part) {
			found = append(found, &t.Characters[i])
		}
	}
	return found
}

// PlateOf is the plate on which the first part of a character is best looked for: one with a label to it before one
// without, then one of a view that can show the character. It is nil where the character names no part.
func (t *Tables) PlateOf(c *Character) *Plate {
	if len(c.Parts) == 0 {
		return nil
	}
	part, ok := t.Part(c.Parts[0])
	if !ok {
		return nil
	}
	var best *Plate
	most := -1
	for _, place := range part.Places {
		plate, _ := t.Plate(place.Plate)
		fits := 0
		if place.Labelled {
			fits += 2
		}
		if slices.Contains(c.Views, plate.View) {
			fits++
		}
		if fits > most {
			best, most = plate, fits
		}
	}
	return best
}

const (
	partsFile    = "parts.yaml"
	platesFolder = "plates"
)

// readParts reads parts.yaml and the plates, where the folder has them.
func (l *loader) readParts() {
	if _, err := fs.Stat(l.fsys, partsFile); errors.Is(err, fs.ErrNotExist) {
		l.partsRead = true
		return
	}
	d := l.document(partsFile)
	root := l.open(d)
	if root == nil {
		return
	}
	before := len(l.problems)
	var plates, parts []*yaml.Node
	d.fields(root,
		required("plates", func(n *yaml.Node) { plates = d.items(n) }),
		required("parts", func(n *yaml.Node) { parts = d.items(n) }),
	)
	for _, item := range plates {
		l.readPlate(d, item)
	}
	for _, item := range parts {
		l.readPart(d, item)
	}
	l.checkWithin(d)
	l.partsRead = len(l.problems) == before
	if l.partsRead {
		l.checkDrawn(d)
	}
}

func (l *loader) readPlate(d document, node *yaml.Node) {
	var p Plate
	d = d.in("plate " + peek(node, "id"))
	d.fields(node,
		required("id", d.id(&p.ID)),
		required("title", d.text(&p.Title)),
		required("view", func(n *yaml.Node) { p.View = d.name(n); l.checkViews(d, n, []string{p.View}) }),
	)
	if p.ID == "" {
		return
	}
	if _, twice := l.tables.Plate(p.ID); twice {
		d.problem(node.Line, "the plate is given twice; keep one")
		return
	}
	l.readDrawing(&p)
	l.tables.Plates = append(l.tables.Plates, p)
}

// readDrawing reads plates/ID.svg.
func (l *loader) readDrawing(p *Plate) {
	d := l.document(platesFolder + "/" + p.ID + ".svg")
	content, err := fs.ReadFile(l.fsys, d.file)
	if errors.Is(err, fs.ErrNotExist) {
		d.problem(0, "is missing: every plate of parts.yaml has a drawing")
		return
	}
	if err != nil {
		d.problem(0, "cannot be read: %v", err)
		return
	}
	l.contents[d.file] = content
	if err := checkDrawing(content, maxPlate, plateAttributes); err != nil {
		d.problem(0, "%v", err)
		return
	}
	box, ok := boxOf(content)
	if !ok {
		d.problem(0, "needs a viewBox of four numbers, the last two above 0")
		return
	}
	p.svg, p.Box, p.Description = string(content), box, descriptionOf(content)
}

// descriptionOf is the desc of a drawing that checkDrawing has accepted.
func descriptionOf(drawing []byte) string {
	var document struct {
		Desc string `xml:"desc"`
	}
	if err := xml.Unmarshal(drawing, &document); err != nil {
		return ""
	}
	return strings.TrimSpace(document.Desc)
}

func (l *loader) readPart(d document, node *yaml.Node) {
	p := Part{line: node.Line}
	d = d.in(peek(node, "id"))
	d.fields(node,
		required("id", d.id(&p.ID)),
		required("name", d.text(&p.Name)),
		required("term", d.text(&p.Term)),
		required("definition", d.text(&p.Definition)),
		optional("within", d.nameInto(&p.Within)),
		required("places", func(n *yaml.Node) { p.Places = l.readPlaces(d, n) }),
		optional("source", func(n *yaml.Node) { p.Source = d.name(n); l.checkSource(d, n.Line, p.Source) }),
		optional("place", d.text(&p.SourcePlace)),
	)
	if p.ID == "" {
		return
	}
	if (p.Source == "") != (p.SourcePlace == "") {
		d.problem(node.Line, "source and place go together: the work, and the place in it; leave both out for from memory")
	}
	if _, twice := l.tables.Part(p.ID); twice {
		d.problem(node.Line, "the part is given twice; keep one")
		return
	}
	l.tables.Parts = append(l.tables.Parts, p)
}

func (l *loader) readPlaces(d document, node *yaml.Node) []Place {
	var places []Place
	for _, item := range d.items(node) {
		place := l.readPlace(d, item)
		if slices.ContainsFunc(places, func(other Place) bool { return other.Plate == place.Plate }) {
			d.problem(item.Line, "lies twice on the plate %q; keep one", place.Plate)
			continue
		}
		places = append(places, place)
	}
	if node.Kind == yaml.SequenceNode && len(places) == 0 {
		d.problem(node.Line, "places is empty; a part lies on one plate at least")
	}
	return places
}

func (l *loader) readPlace(d document, node *yaml.Node) Place {
	var place Place
	var atGiven, sideGiven bool
	d.fields(node,
		required("plate", d.nameInto(&place.Plate)),
		optional("at", func(n *yaml.Node) { atGiven = true; place.Labelled = d.point(n, &place.X, &place.Y) }),
		optional("side", func(n *yaml.Node) { sideGiven = true; place.Side = d.side(n) }),
	)
	if atGiven != sideGiven {
		d.problem(node.Line, "at and side go together: where the label's line ends, and on which side it stands")
	}
	plate, ok := l.tables.Plate(place.Plate)
	if !ok {
		d.problem(node.Line, "unknown plate %q%s", place.Plate, didYouMean(place.Plate, l.plateIDs()))
		return place
	}
	box := plate.Box
	if place.Labelled && plate.svg != "" && (place.X < box[0] || place.X > box[0]+box[2] || place.Y < box[1] || place.Y > box[1]+box[3]) {
		d.problem(node.Line, "at %v, %v is outside the plate %s, whose viewBox is %v", place.X, place.Y, plate.ID, box)
	}
	return place
}

func (l *loader) plateIDs() []string {
	ids := make([]string, len(l.tables.Plates))
	for i, p := range l.tables.Plates {
		ids[i] = p.ID
	}
	return ids
}

func (l *loader) partIDs() []string {
	ids := make([]string, len(l.tables.Parts))
	for i, p := range l.tables.Parts {
		ids[i] = p.ID
	}
	return ids
}

// point reads [x, y].
func (d document) point(node *yaml.Node, x, y *float64) bool {
	if node.Kind != yaml.SequenceNode || len(node.Content) != 2 {
		d.problem(node.Line, "must be two numbers, such as [12, 40]")
		return false
	}
	return d.number(x)(node.Content[0]) && d.number(y)(node.Content[1])
}

func (d document) side(node *yaml.Node) Side {
	side := Side(d.name(node))
	if side != "" && side != SideLeft && side != SideRight {
		d.problem(node.Line, "must be left or right, not %q", side)
	}
	return side
}

// checkWithin reports parts that belong to none, or to each other in a circle.
func (l *loader) checkWithin(d document) {
	for i := range l.tables.Parts {
		p := &l.tables.Parts[i]
		seen := []string{p.ID}
		for at := p; at.Within != ""; {
			whole, ok := l.tables.Part(at.Within)
			if !ok {
				if at == p {
					d.problem(p.line, "%s: within: unknown part %q%s", p.ID, p.Within, didYouMean(p.Within, l.partIDs()))
				}
				break
			}
			if slices.Contains(seen, whole.ID) {
				d.problem(p.line, "%s: within goes round in a circle", p.ID)
				return // the others of the circle would say the same
			}
			seen = append(seen, whole.ID)
			at = whole
		}
	}
}

// checkDrawn compares the parts with the classes of the drawings: what lies on a plate is drawn there, and the other way
// round.
func (l *loader) checkDrawn(d document) {
	for i := range l.tables.Plates {
		plate := &l.tables.Plates[i]
		drawn := classesOf(plate.svg)
		for _, p := range l.tables.Parts {
			if _, lies := p.On(plate.ID); lies && !slices.Contains(drawn, p.ID) {
				d.problem(p.line, "%s: lies on the plate %s, but no group of plates/%s.svg has the class %s", p.ID, plate.ID, plate.ID, p.ID)
			}
		}
		file := l.document(platesFolder + "/" + plate.ID + ".svg")
		for _, class := range drawn {
			p, ok := l.tables.Part(class)
			if !ok {
				file.problem(0, "the class %q is no part%s", class, didYouMean(class, l.partIDs()))
				continue
			}
			if _, lies := p.On(plate.ID); !lies {
				file.problem(0, "shows the part %s, which parts.yaml does not place on it", class)
			}
		}
	}
}

// checkParts reports parts that a character names and that are none.
func (l *loader) checkParts(d document, node *yaml.Node, parts []string) {
	if !l.partsRead {
		return
	}
	for _, id := range parts {
		if _, ok := l.tables.Part(id); !ok {
			d.problem(node.Line, "unknown part %q%s; parts are defined in parts.yaml", id, didYouMean(id, l.partIDs()))
		}
	}
}

// partless are the characters that name no part, once a group has any.
func (t *Tables) partless() []Problem {
	if len(t.Parts) == 0 {
		return nil
	}
	var problems []Problem
	for _, c := range t.Characters {
		if len(c.Parts) == 0 {
			problems = append(problems, Problem{File: charactersFile, Line: c.line,
				Message: c.ID + ": names no part; in a group with parts every character says where it is looked for"})
		}
	}
	return problems
}
