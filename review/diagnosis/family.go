package diagnosis

import (
	"maps"
	"math"
	"runtime"
	"slices"
	"sync"

	"go.yaml.in/yaml/v4"
)

// readFamilies reads families/*.yaml in the order of their names, which is the order of the families.
func (l *loader) readFamilies() {
	oldNames := map[string]*oldNameEntry{}
	for _, read := range l.readAll() {
		l.problems = append(l.problems, read.loader.problems...)
		maps.Copy(l.contents, read.loader.contents)
		f, olds := read.family, read.oldNames
		if f == nil {
			continue
		}
		l.tables.familyIndex[f.Name] = len(l.tables.Families)
		for _, old := range olds {
			l.addOldName(oldNames, old)
		}
		l.tables.Families = append(l.tables.Families, *f)
	}
}

// familyRead is what reading one file gave; its loader holds its problems and its contents.
type familyRead struct {
	loader   *loader
	family   *Family
	oldNames []oldNameEntry
}

// readAll reads the family files on all cores, since parsing them is most of the work of loading. The files know
// nothing of each other; the result is in the order of their names.
func (l *loader) readAll() []familyRead {
	reads := make([]familyRead, len(l.familyNames))
	var group sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		group.Go(func() {
			for i := range next {
				own := *l
				own.problems, own.contents = nil, map[string][]byte{}
				family, oldNames := own.readFamily(l.familyNames[i])
				reads[i] = familyRead{loader: &own, family: family, oldNames: oldNames}
			}
		})
	}
	for i := range reads {
		next <- i
	}
	close(next)
	group.Wait()
	return reads
}

// oldNameEntry is an old name with the place where it is claimed.
type oldNameEntry struct {
	OldName
	family string
	file   string
	line   int
}

// addOldName records which family holds an old name: exactly one, and no name that is accepted today.
func (l *loader) addOldName(seen map[string]*oldNameEntry, e oldNameEntry) {
	d := l.document(e.file).in("old name " + e.Name)
	if slices.Contains(l.familyNames, e.Name) {
		d.problem(e.line, "is an accepted family of these tables (families/%s.yaml); it cannot be an old name too", e.Name)
		return
	}
	if other, twice := seen[e.Name]; twice {
		d.problem(e.line, "is already held by %s (%s:%d); a name leads to one family", other.family, other.file, other.line)
		return
	}
	seen[e.Name] = &e
	l.tables.oldNames[e.Name] = oldNameRef{family: l.tables.familyIndex[e.family], remark: e.Remark}
}

// readFamily reads one file; nil when nothing of it can be used.
func (l *loader) readFamily(name string) (*Family, []oldNameEntry) {
	d := l.document(familiesFolder + "/" + name + ".yaml")
	root := l.open(d)
	if root == nil {
		return nil, nil
	}
	f := &Family{File: d.file}
	var olds []oldNameEntry
	var cite Citation
	var cells, forms *yaml.Node
	d.fields(root,
		required("family", func(n *yaml.Node) {
			d.text(&f.Name)(n)
			if f.Name != name {
				d.problem(n.Line, "the file is named %s but its family is %q; make them equal", name, n.Value)
			}
		}),
		required("superfamily", d.text(&f.Superfamily)),
		required("common", d.text(&f.Common)),
		required("species", d.count(&f.Species)),
		required("species_source", d.text(&f.SpeciesSource)),
		optional("caution", d.text(&f.Caution)),
		optional("dissecting", d.text(&f.Dissecting)),
		optional("quarantine", func(n *yaml.Node) { f.Quarantine = l.readReportable(d, n) }),
		optional("source", d.nameInto(&cite.Source)),
		optional("place", d.text(&cite.Place)),
		optional("basis", func(n *yaml.Node) { cite.Basis = d.basis(n) }),
		optional("old_names", func(n *yaml.Node) { olds = readOldNames(d, n, f, name) }),
		optional("lookalikes", func(n *yaml.Node) { l.readLookAlikes(d, n, f, name) }),
		optional("inseparable", func(n *yaml.Node) { l.readInseparable(d, n, f, name) }),
		required("characters", func(n *yaml.Node) { cells = n }),
		optional("forms", func(n *yaml.Node) { forms = n }),
	)
	// Cells take the family's source, so they are read after it wherever it stands.
	f.Cells = map[string]*Cell{}
	if cells != nil {
		f.Cells, _ = l.readCells(d, cells, cite)
	}
	f.Forms = l.readForms(d, forms, f, cite)
	if f.Name != name {
		return nil, nil
	}
	return f, olds
}

// readReportable reads species that have to be reported. What to do then stands in the group, once.
func (l *loader) readReportable(d document, node *yaml.Node) (list []Reportable) {
	if l.tables.Group.Quarantine == "" {
		d.problem(node.Line, "names species under quarantine, but %s does not say what to do then; give it the field quarantine", groupFile)
	}
	for _, item := range d.items(node) {
		var r Reportable
		d.fields(item, required("name", d.text(&r.Name)), required("common", d.text(&r.Common)))
		list = append(list, r)
	}
	return list
}

func readOldNames(d document, node *yaml.Node, f *Family, family string) []oldNameEntry {
	var list []oldNameEntry
	for _, item := range d.items(node) {
		var old OldName
		d.fields(item, required("name", d.text(&old.Name)), required("remark", d.text(&old.Remark)))
		if old.Name == "" {
			continue
		}
		f.OldNames = append(f.OldNames, old)
		list = append(list, oldNameEntry{old, family, d.file, item.Line})
	}
	return list
}

func (l *loader) readLookAlikes(d document, node *yaml.Node, f *Family, self string) {
	for _, item := range d.items(node) {
		a := LookAlike{line: item.Line}
		d.fields(item, required("family", d.text(&a.Family)), required("tell", d.text(&a.Tell)))
		if a.Family == "" {
			continue
		}
		twice := slices.ContainsFunc(f.LookAlikes, func(other LookAlike) bool { return other.Family == a.Family })
		l.checkOther(d.in("look-alike "+a.Family), item.Line, a.Family, self, twice)
		f.LookAlikes = append(f.LookAlikes, a)
	}
}

func (l *loader) readInseparable(d document, node *yaml.Node, f *Family, self string) {
	for _, item := range d.items(node) {
		var i Inseparable
		in := d.in("inseparable " + peek(item, "family"))
		in.fields(item, required("family", in.text(&i.Family)), required("because", in.text(&i.Because)), required("needs", in.text(&i.Needs)))
		if i.Family == "" {
			continue
		}
		twice := slices.ContainsFunc(f.Inseparable, func(other Inseparable) bool { return other.Family == i.Family })
		l.checkOther(in, item.Line, i.Family, self, twice)
		f.Inseparable = append(f.Inseparable, i)
	}
}

// checkOther checks that a family names another one of these tables, and once.
func (l *loader) checkOther(d document, line int, other, self string, twice bool) {
	switch {
	case other == self:
		d.problem(line, "is the family itself")
	case !slices.Contains(l.familyNames, other):
		d.problem(line, "has no table%s; name a family of these tables", didYouMean(other, l.familyNames))
	case twice:
		d.problem(line, "is given twice; keep one")
	}
}

// readCells returns the cells by character, and the characters in file order.
func (l *loader) readCells(d document, node *yaml.Node, cite Citation) (cells map[string]*Cell, order []string) {
	cells = map[string]*Cell{}
	for _, e := range d.entries(node) {
		if cell := l.readCell(d, e, cite); cell != nil {
			cells[e.key] = cell
			order = append(order, e.key)
		}
	}
	return cells, order
}

// readForms returns the forms with complete cells; a family without forms has one that is all of it.
func (l *loader) readForms(d document, node *yaml.Node, f *Family, cite Citation) []Form {
	if node == nil {
		return []Form{{ID: "all", Label: "the whole family", Weight: 1, Cells: f.Cells}}
	}
	var forms []Form
	sum := 0.0
	complete := node.Kind == yaml.SequenceNode
	for _, item := range d.items(node) {
		form := l.readForm(d, item, f, cite)
		if slices.ContainsFunc(forms, func(other Form) bool { return form.ID != "" && other.ID == form.ID }) {
			d.problem(item.Line, "the form %q is given twice; keep one", form.ID)
		}
		sum += form.Weight
		complete = complete && form.Weight > 0 // 0 after a problem that is reported there
		forms = append(forms, form)
	}
	if !complete {
		return forms
	}
	if math.Abs(sum-1) > sumTolerance {
		d.problem(node.Line, "the weights of the forms sum to %.4g and not to 1", sum)
		return forms
	}
	for i := range forms {
		forms[i].Weight /= sum
	}
	return forms
}

func (l *loader) readForm(d document, node *yaml.Node, f *Family, cite Citation) Form {
	form := Form{line: node.Line}
	var own map[string]*Cell
	d = d.in("form " + peek(node, "id"))
	d.fields(node,
		required("id", d.id(&form.ID)),
		required("label", d.text(&form.Label)),
		required("weight", func(n *yaml.Node) {
			d.positive(&form.Weight)(n)
			if form.Weight > 1 {
				d.problem(n.Line, "the weight %g must be above 0 and at most 1", form.Weight)
				form.Weight = 0
			}
		}),
		optional("sex", func(n *yaml.Node) {
			form.Sex = d.name(n)
			if form.Sex != "male" && form.Sex != "female" {
				d.problem(n.Line, "unknown sex %q; use male or female, or leave it out", form.Sex)
			}
		}),
		optional("characters", func(n *yaml.Node) { own, form.Own = l.readCells(d, n, cite) }),
	)
	form.Cells = maps.Clone(f.Cells)
	maps.Copy(form.Cells, own)
	return form
}
