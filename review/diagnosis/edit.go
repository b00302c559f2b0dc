package diagnosis

import (
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
)

// CellEdit replaces one cell of a family, or of one of its forms, or adds it where it is missing.
type CellEdit struct {
	Family string `json:"family"`
	// Form is the id of the form that overrides the cell; "" is the family's own cell.
	Form      string `json:"form,omitempty"`
	Character string `json:"character"`
	// States are for KindStates and KindCount, in the order to write.
	States []StateWord `json:"states,omitempty"`
	Length *Length     `json:"length,omitempty"` // KindLength
	// Citation: what is empty or equal to the family's own is left out of the cell, as far as FORMAT.md allows.
	Citation Citation `json:"citation"`
	Note     string   `json:"note,omitempty"`
}

// StateWord is a state with how often it occurs, as written in a cell.
type StateWord struct {
	State string `json:"state"` // a state id, a number, a range such as 7-9, or rest
	Word  string `json:"word"`  // a frequency word, or a number as text ("0.62")
}

// Edited returns the folder with the edits made, in order: of each family named only the fields of the cell that
// change are written anew, and every other line stays byte for byte. The folder returned holds the files that Contents
// takes. An edit that the text does not allow (unknown family, form or character, states for a length, a text that is
// no valid UTF-8, a table written so that a line cannot be found) is an error that names it. Whether the tables are
// sound afterwards is for Load and Lint.
func Edited(folder fs.FS, edits []CellEdit) (fs.FS, error) {
	e, err := newEditor(folder)
	if err != nil {
		return nil, err
	}
	for _, edit := range edits {
		if err := e.edit(edit.normal()); err != nil {
			return nil, fmt.Errorf("%s: %w", edit.name(), err)
		}
	}
	return FromContents(e.files), nil
}

// Written returns a cell as the edit that would write what is there: ranges, rest and the order of the states as they
// stand, the citation with the family's own filled in. ok is false where there is no such cell, or the form does not
// override it.
func Written(folder fs.FS, family, form, character string) (edit CellEdit, ok bool, err error) {
	edit = CellEdit{Family: family, Form: form, Character: character}
	e, err := newEditor(folder)
	if err != nil {
		return edit, false, err
	}
	place, err := e.find(edit)
	if err != nil {
		return edit, false, fmt.Errorf("%s: %w", edit.name(), err)
	}
	if place.cell == nil {
		return edit, false, nil
	}
	edit, err = written(place.cell.value, edit, place.family)
	return edit, err == nil, err
}

// Released returns the folder with another version and notes in group.yaml; without notes the field is left out. An
// empty version is an error.
func Released(folder fs.FS, version, notes string) (fs.FS, error) {
	version, notes = strings.TrimSpace(version), strings.TrimSpace(notes)
	if version == "" {
		return nil, errors.New("a release needs a version, such as 2026.2")
	}
	if !utf8.ValidString(version + notes) {
		return nil, errors.New("the version or the notes are no valid UTF-8 text")
	}
	files, err := Contents(folder)
	if err != nil {
		return nil, err
	}
	content, ok := files[groupFile]
	if !ok {
		return nil, errors.New("group.yaml is missing; FORMAT.md says what it holds")
	}
	root, err := parseTable(groupFile, content)
	if err != nil {
		return nil, err
	}
	text := splitTable(content)
	changes := text.setFields(root, text.end(), []cellField{
		{"release", quoted(version), valueOf(root, "release") == version},
		{"notes", quoted(notes), valueOf(root, "notes") == notes},
	})
	files[groupFile] = text.with(changes)
	after, err := parseTable(groupFile, files[groupFile])
	if err != nil || valueOf(after, "release") != version || valueOf(after, "notes") != notes ||
		!sameNode(without(root, "release", "notes"), without(after, "release", "notes")) {
		return nil, errors.New("group.yaml is written in a way that cannot be edited here; write it one field a line")
	}
	return FromContents(files), nil
}

// name says which cell is meant, for messages.
func (c CellEdit) name() string {
	if c.Form == "" {
		return c.Family + ", " + c.Character
	}
	return c.Family + ", form " + c.Form + ", " + c.Character
}

// normal trims texts, as Load does with those for people.
func (c CellEdit) normal() CellEdit {
	c.Note, c.Citation.Place = strings.TrimSpace(c.Note), strings.TrimSpace(c.Citation.Place)
	c.Citation.Source = strings.TrimSpace(c.Citation.Source)
	return c
}

// check refuses what cannot be the content of a cell of this kind.
func (c CellEdit) check(kind Kind) error {
	texts := []string{c.Note, c.Citation.Source, c.Citation.Place, string(c.Citation.Basis)}
	for _, s := range c.States {
		texts = append(texts, s.State, s.Word)
	}
	switch {
	case !utf8.ValidString(strings.Join(texts, " ")):
		return errors.New("a text is no valid UTF-8")
	case kind == KindLength && (c.Length == nil || len(c.States) > 0):
		return errors.New("is a length: give min, usual and max, and no states")
	case kind != KindLength && (c.Length != nil || len(c.States) == 0):
		return errors.New("has states: give them with how often they occur, and no length")
	}
	return nil
}

// fields are the lines of a cell below its id. A citation of its own is written as FORMAT.md asks: another work and a
// cell that was read need a place of their own, even where its words are those of the family's.
func (c CellEdit) fields(present CellEdit, family Citation) []cellField {
	own := c.Citation
	needsPlace := own.Source != family.Source || own.Basis != family.Basis && own.Basis.WasRead()
	if own.Source == family.Source {
		own.Source = ""
	}
	if own.Place == family.Place && !needsPlace {
		own.Place = ""
	}
	if own.Basis == family.Basis {
		own.Basis = ""
	}
	sameContent, sameCitation := sameContent(present, c), present.Citation == c.Citation
	return []cellField{
		{"states", statesText(c.States), sameContent},
		{"length", lengthText(c.Length), sameContent},
		{"source", wordOrNone(own.Source), sameCitation},
		{"place", quoted(own.Place), sameCitation},
		{"basis", wordOrNone(string(own.Basis)), sameCitation},
		{"note", quoted(c.Note), present.Note == c.Note},
	}
}

func statesText(states []StateWord) string {
	if len(states) == 0 {
		return ""
	}
	list := make([]string, len(states))
	for i, s := range states {
		list[i] = word(s.State) + ": " + word(s.Word)
	}
	return "{" + strings.Join(list, ", ") + "}"
}

func lengthText(l *Length) string {
	if l == nil {
		return ""
	}
	number := func(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
	return fmt.Sprintf("{min: %s, usual: [%s, %s], max: %s}", number(l.Min), number(l.Usual[0]), number(l.Usual[1]), number(l.Max))
}

// written reads the value of a cell as the edit that would write it, for the same place as another edit.
func written(value *yaml.Node, at CellEdit, family Citation) (CellEdit, error) {
	if value.Kind != yaml.MappingNode {
		return at, errors.New("the cell must be a mapping; mend it first")
	}
	c := CellEdit{Family: at.Family, Form: at.Form, Character: at.Character,
		Citation: citationOf(value).or(family), Note: valueOf(value, "note")}
	if states := child(value, "states"); states != nil && states.Kind == yaml.MappingNode {
		for i := 0; i+1 < len(states.Content); i += 2 {
			c.States = append(c.States, StateWord{states.Content[i].Value, states.Content[i+1].Value})
		}
	}
	c.Length = lengthOf(child(value, "length"))
	return c, nil
}

// lengthOf reads a length; nil where it is none.
func lengthOf(node *yaml.Node) *Length {
	usual := child(node, "usual")
	if usual == nil || len(usual.Content) != 2 {
		return nil
	}
	var numbers []float64
	for _, n := range []*yaml.Node{child(node, "min"), usual.Content[0], usual.Content[1], child(node, "max")} {
		if n == nil {
			return nil
		}
		x, ok := parseNumber(n)
		if !ok {
			return nil
		}
		numbers = append(numbers, x)
	}
	return &Length{Min: numbers[0], Usual: [2]float64{numbers[1], numbers[2]}, Max: numbers[3]}
}

func citationOf(node *yaml.Node) Citation {
	return Citation{Source: valueOf(node, "source"), Place: valueOf(node, "place"), Basis: Basis(valueOf(node, "basis"))}
}

func sameContent(a, b CellEdit) bool {
	sameLength := a.Length == b.Length || a.Length != nil && b.Length != nil && *a.Length == *b.Length
	return sameLength && slices.Equal(a.States, b.States)
}

func sameCell(a, b CellEdit) bool {
	return sameContent(a, b) && a.Citation == b.Citation && a.Note == b.Note
}
