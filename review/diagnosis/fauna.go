package diagnosis

import (
	"path"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// Fauna is how many species of each family occur in a region: a prior that a club can choose, and nothing more.
type Fauna struct {
	ID, Label, Note, Licence string
	Families                 []FaunaLine // by name
}

// FaunaLine is one family of a fauna, with the source of its number.
type FaunaLine struct {
	Family       string
	Species      int // at least 1
	Source, Note string
	Basis        Basis
}

const faunasFolder = "faunas"

// Fauna returns the fauna with that id, or false.
func (t *Tables) Fauna(id string) (*Fauna, bool) {
	for i := range t.Faunas {
		if t.Faunas[i].ID == id {
			return &t.Faunas[i], true
		}
	}
	return nil, false
}

// readFaunas reads faunas/*.yaml in the order of their names.
func (l *loader) readFaunas() {
	for _, id := range l.faunaNames {
		l.readFauna(id)
	}
}

func (l *loader) readFauna(id string) {
	d := l.document(path.Join(faunasFolder, id+".yaml"))
	root := l.open(d)
	if root == nil {
		return
	}
	var f Fauna
	var all FaunaLine // what lines have that do not say
	var lines []*yaml.Node
	d.fields(root,
		required("fauna", d.id(&f.ID)),
		required("label", d.text(&f.Label)),
		optional("note", d.text(&f.Note)),
		required("licence", d.text(&f.Licence)),
		required("source", d.text(&all.Source)),
		required("basis", func(n *yaml.Node) { all.Basis = d.basis(n) }),
		required("families", func(n *yaml.Node) { lines = d.items(n) }),
	)
	if f.ID != "" && f.ID != id {
		d.problem(root.Line, "the fauna is called %q, but the file %q; give both the same name", f.ID, id)
	}
	if f.ID == "list" || f.ID == "world" {
		d.problem(root.Line, "%q cannot be a fauna: in a policy it means another part of the prior", f.ID)
	}
	for _, item := range lines {
		line := all
		l.readFaunaLine(d, item, &line)
		if slices.ContainsFunc(f.Families, func(other FaunaLine) bool { return other.Family == line.Family }) {
			d.problem(item.Line, "%s is given twice; keep one", line.Family)
			continue
		}
		f.Families = append(f.Families, line)
	}
	slices.SortFunc(f.Families, func(a, b FaunaLine) int { return strings.Compare(a.Family, b.Family) })
	l.tables.Faunas = append(l.tables.Faunas, f)
}

func (l *loader) readFaunaLine(d document, node *yaml.Node, line *FaunaLine) {
	d.fields(node,
		required("family", d.text(&line.Family)),
		required("species", d.count(&line.Species)),
		optional("source", d.text(&line.Source)),
		optional("basis", func(n *yaml.Node) { line.Basis = d.basis(n) }),
		optional("note", d.text(&line.Note)),
	)
	if line.Family != "" && !slices.Contains(l.familyNames, line.Family) {
		d.problem(node.Line, "there is no families/%s.yaml%s; a fauna names families as these tables do", line.Family, didYouMean(line.Family, l.familyNames))
	}
}
