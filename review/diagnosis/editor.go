package diagnosis

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// editor makes edits in the text of a folder.
type editor struct {
	files      map[string]string
	characters *loader
	tables     map[string]familyTable // by file, what files hold, as far as it was read
}

// familyTable is the text of a family's file and what it says.
type familyTable struct {
	text tableText
	root *yaml.Node
}

func newEditor(folder fs.FS) (*editor, error) {
	files, err := Contents(folder)
	if err != nil {
		return nil, err
	}
	l := newLoader(FromContents(files))
	l.readGroup()
	l.readCharacters()
	if len(l.problems) > 0 {
		return nil, fmt.Errorf("the tables cannot be edited before this is mended: %s", l.problems[0])
	}
	return &editor{files, l, map[string]familyTable{}}, nil
}

func (e *editor) read(file string) (familyTable, error) {
	if table, ok := e.tables[file]; ok {
		return table, nil
	}
	root, err := parseTable(file, e.files[file])
	if err != nil {
		return familyTable{}, err
	}
	e.tables[file] = familyTable{splitTable(e.files[file]), root}
	return e.tables[file], nil
}

// cellPlace is where in a family's file a cell stands or goes.
type cellPlace struct {
	familyTable
	file   string
	family Citation // the family's own
	form   *yaml.Node
	// formEnd and cellsEnd are the last lines that can belong to the form and to its (or the family's) characters.
	formEnd, cellsEnd int
	cells             *yaml.Node // nil where the form has no characters yet
	cellsKey          *yaml.Node
	cell              *section // nil where it is missing
}

// find looks up where the cell of an edit stands.
func (e *editor) find(edit CellEdit) (*cellPlace, error) {
	c, ok := e.characters.tables.Character(edit.Character)
	if !ok {
		return nil, fmt.Errorf("unknown character%s", didYouMean(edit.Character, e.characters.characterIDs()))
	}
	p := &cellPlace{file: familiesFolder + "/" + edit.Family + ".yaml"}
	if _, ok := e.files[p.file]; !ok || strings.Contains(edit.Family, "/") {
		return nil, fmt.Errorf("unknown family%s", didYouMean(edit.Family, e.familyNames()))
	}
	var err error
	if p.familyTable, err = e.read(p.file); err != nil {
		return nil, err
	}
	p.family = citationOf(p.root)
	if err := p.findCells(edit.Form); err != nil {
		return nil, err
	}
	if p.cells == nil {
		return p, nil
	}
	if p.cells.Kind != yaml.MappingNode {
		return nil, fmt.Errorf("%s:%d: characters must be a mapping; mend it first", p.file, p.cells.Line)
	}
	p.cell = named(p.text.sections(p.cells, p.cellsEnd), c.ID)
	return p, nil
}

func (e *editor) familyNames() []string {
	var names []string
	for _, name := range slices.Sorted(maps.Keys(e.files)) {
		if family, ok := strings.CutPrefix(name, familiesFolder+"/"); ok {
			names = append(names, strings.TrimSuffix(family, ".yaml"))
		}
	}
	return names
}

// findCells finds the block of characters of the family (form "") or of a form.
func (p *cellPlace) findCells(form string) error {
	holder, end := p.root, p.text.end()
	if form != "" {
		var err error
		if holder, end, err = p.findForm(form, end); err != nil {
			return err
		}
		p.form, p.formEnd = holder, end
	}
	block := named(p.text.sections(holder, end), "characters")
	if block == nil && form == "" {
		return fmt.Errorf("%s has no characters; mend it first", p.file)
	}
	if block != nil {
		p.cellsKey, p.cells, p.cellsEnd = block.key, block.value, block.last
	}
	return nil
}

func (p *cellPlace) findForm(id string, end int) (form *yaml.Node, last int, err error) {
	forms := named(p.text.sections(p.root, end), "forms")
	if forms == nil {
		return nil, 0, errors.New("the family has no forms of its own; leave the form empty")
	}
	var ids []string
	for i, item := range forms.value.Content {
		last = forms.last
		if i+1 < len(forms.value.Content) {
			last = forms.value.Content[i+1].Line - 1
		}
		if valueOf(item, "id") == id {
			return item, last, nil
		}
		ids = append(ids, valueOf(item, "id"))
	}
	return nil, 0, fmt.Errorf("unknown form%s; the family has %s", didYouMean(id, ids), strings.Join(ids, ", "))
}

// edit makes one edit, whose texts are trimmed.
func (e *editor) edit(edit CellEdit) error {
	p, err := e.find(edit)
	if err != nil {
		return err
	}
	c, _ := e.characters.tables.Character(edit.Character)
	if err := edit.check(c.Kind); err != nil {
		return err
	}
	edit.Citation = edit.Citation.or(p.family)
	changes, err := p.changes(edit)
	if err != nil || len(changes) == 0 {
		return err
	}
	text := p.text.with(changes)
	root, err := p.verify(text, edit)
	if err != nil {
		return err
	}
	e.files[p.file], e.tables[p.file] = text, familyTable{splitTable(text), root}
	return nil
}

// or fills in what is empty from the family's own citation.
func (c Citation) or(family Citation) Citation {
	if c.Source == "" {
		c.Source = family.Source
	}
	if c.Place == "" {
		c.Place = family.Place
	}
	if c.Basis == "" {
		c.Basis = family.Basis
	}
	return c
}

// changes are the lines that an edit replaces, adds or takes out.
func (p *cellPlace) changes(edit CellEdit) ([]change, error) {
	for _, node := range []*yaml.Node{p.root, p.form, p.cells} {
		empty := node == p.cells && node != nil && len(node.Content) == 0
		if node != nil && node.Style&yaml.FlowStyle != 0 && !empty {
			return nil, fmt.Errorf("%s:%d is written in braces; write it one field a line, then it can be edited here", p.file, node.Line)
		}
	}
	if p.cell != nil {
		return p.replace(edit)
	}
	fields := edit.fields(CellEdit{}, p.family)
	if p.cells == nil {
		indent := p.form.Column - 1
		added := append([]string{p.text.line(indent, "characters:")}, p.text.cell(indent+2, edit.Character, fields)...)
		return []change{{p.lastOf(p.form, p.formEnd), 0, added}}, nil
	}
	if len(p.cells.Content) == 0 {
		return p.fill(p.text.cell(p.cellsKey.Column+1, edit.Character, fields))
	}
	return []change{{p.lastOf(p.cells, p.cellsEnd), 0, p.text.cell(p.cells.Column-1, edit.Character, fields)}}, nil
}

// lastOf is the last line of a block mapping.
func (p *cellPlace) lastOf(mapping *yaml.Node, limit int) int {
	sections := p.text.sections(mapping, limit)
	return sections[len(sections)-1].last
}

// fill puts the first cell in the place of `characters: {}`.
func (p *cellPlace) fill(cell []string) ([]change, error) {
	key, ok := p.text.cutEmpty(p.cells)
	if !ok {
		return nil, fmt.Errorf("%s:%d: the empty characters are written over several lines; write them as {}", p.file, p.cells.Line)
	}
	return []change{{p.cells.Line - 1, 1, append([]string{key}, cell...)}}, nil
}

// replace changes the fields of a cell that differ. A cell in braces is written anew as a whole, one field a line.
func (p *cellPlace) replace(edit CellEdit) ([]change, error) {
	present, err := written(p.cell.value, edit, p.family)
	if err != nil {
		return nil, fmt.Errorf("%s:%d: %w", p.file, p.cell.key.Line, err)
	}
	if sameCell(present, edit) {
		return nil, nil
	}
	fields := edit.fields(present, p.family)
	if p.cell.value.Style&yaml.FlowStyle == 0 {
		return p.text.setFields(p.cell.value, p.cell.last, fields), nil
	}
	indent := p.cell.key.Column - 1
	anew := append(p.text.comments(*p.cell, indent), p.text.cell(indent, edit.Character, fields)...)
	return []change{{p.cell.key.Line - 1, p.cell.last - p.cell.key.Line + 1, anew}}, nil
}

// verify reads the text that an edit has made: the cell must say what was asked, and all else what it said before. The
// lines of a cell are found by rules of thumb about YAML; this makes an odd file an error and never a wrong table.
func (p *cellPlace) verify(text string, edit CellEdit) (*yaml.Node, error) {
	odd := fmt.Errorf("%s is written in a way that cannot be edited here; write this cell and those around it one field a line", p.file)
	after, err := parseTable(p.file, text)
	if err != nil {
		return nil, odd
	}
	cell := child(child(holderOf(after, edit.Form), "characters"), edit.Character)
	if cell == nil {
		return nil, odd
	}
	got, err := written(cell, edit, p.family)
	if err != nil || !sameCell(got, edit) || !sameNode(withoutCell(p.root, edit), withoutCell(after, edit)) {
		return nil, odd
	}
	return after, nil
}

// holderOf is the family (form "") or the form that has the characters; nil where there is none.
func holderOf(root *yaml.Node, form string) *yaml.Node {
	if form == "" {
		return root
	}
	forms := child(root, "forms")
	if forms == nil {
		return nil
	}
	for _, item := range forms.Content {
		if valueOf(item, "id") == form {
			return item
		}
	}
	return nil
}

// withoutCell is a family with one cell left out, and with it the characters of a form that has no other.
func withoutCell(root *yaml.Node, edit CellEdit) *yaml.Node {
	holder := holderOf(root, edit.Form)
	cells := child(holder, "characters")
	if cells == nil {
		return root
	}
	rest := without(holder, "characters")
	if others := without(cells, edit.Character); len(others.Content) > 0 {
		rest = replaced(holder, cells, others)
	}
	return replaced(root, holder, rest)
}

// replaced is a tree with one node in the place of another; the tree itself stays.
func replaced(tree, old, with *yaml.Node) *yaml.Node {
	if tree == old {
		return with
	}
	copied := *tree
	copied.Content = make([]*yaml.Node, len(tree.Content))
	for i, node := range tree.Content {
		copied.Content[i] = replaced(node, old, with)
	}
	return &copied
}
