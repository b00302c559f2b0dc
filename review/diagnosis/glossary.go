package diagnosis

import (
	"errors"
	"io/fs"
	"slices"

	"go.yaml.in/yaml/v4"
)

// Term is a word of the trade that characters, states, helps or labels use and that is no part of the body.
type Term struct {
	ID, Term string
	// Name is the same in plain words; empty where the term is plain enough.
	Name       string
	Definition string
	// Shown are states that the term is the word for; the first one with a drawing is its picture.
	Shown []Selection
	// Parts are the ids of parts that it is said of, See those of other terms.
	Parts, See []string
	// Source is the id of the work that the definition follows, SourcePlace the place in it; empty for from memory.
	Source, SourcePlace string

	line int // in glossary.yaml
}

const glossaryFile = "glossary.yaml"

// Term returns the term with that id, or false.
func (t *Tables) Term(id string) (*Term, bool) {
	for i := range t.Terms {
		if t.Terms[i].ID == id {
			return &t.Terms[i], true
		}
	}
	return nil, false
}

// TermsOf are the terms that are words for a state, or with an empty state for any state of the character.
func (t *Tables) TermsOf(character, state string) []*Term {
	var found []*Term
	for i := range t.Terms {
		if t.Terms[i].says(character, state) {
			found = append(found, &t.Terms[i])
		}
	}
	return found
}

func (t *Term) says(character, state string) bool {
	return slices.ContainsFunc(t.Shown, func(s Selection) bool {
		return s.Character == character && (state == "" || slices.Contains(s.States, state))
	})
}

// readGlossary reads glossary.yaml, where the folder has one.
func (l *loader) readGlossary() {
	if _, err := fs.Stat(l.fsys, glossaryFile); errors.Is(err, fs.ErrNotExist) {
		return
	}
	d := l.document(glossaryFile)
	root := l.open(d)
	if root == nil {
		return
	}
	d.fields(root, required("terms", func(n *yaml.Node) {
		for _, item := range d.items(n) {
			l.readTerm(d, item)
		}
	}))
	for i := range l.tables.Terms {
		l.checkSee(d, &l.tables.Terms[i])
	}
}

func (l *loader) readTerm(d document, node *yaml.Node) {
	term := Term{line: node.Line}
	d = d.in(peek(node, "id"))
	d.fields(node,
		required("id", d.id(&term.ID)),
		required("term", d.text(&term.Term)),
		optional("name", d.text(&term.Name)),
		required("definition", d.text(&term.Definition)),
		optional("states", func(n *yaml.Node) { term.Shown = l.selections(d, n) }),
		optional("parts", func(n *yaml.Node) { d.names(&term.Parts)(n); l.checkParts(d, n, term.Parts) }),
		optional("see", d.names(&term.See)),
		optional("source", func(n *yaml.Node) { term.Source = d.name(n); l.checkSource(d, n.Line, term.Source) }),
		optional("place", d.text(&term.SourcePlace)),
	)
	if term.ID == "" {
		return
	}
	if (term.Source == "") != (term.SourcePlace == "") {
		d.problem(node.Line, "source and place go together: the work, and the place in it; leave both out for from memory")
	}
	_, twice := l.tables.Term(term.ID)
	if _, part := l.tables.Part(term.ID); twice || part {
		d.problem(node.Line, "the id stands for another term or part already; keep one")
		return
	}
	l.tables.Terms = append(l.tables.Terms, term)
}

// selections reads {character: [state, ...], ...}, one selection a character.
func (l *loader) selections(d document, node *yaml.Node) []Selection {
	var found []Selection
	for i := 0; node.Kind == yaml.MappingNode && i+1 < len(node.Content); i += 2 {
		one := &yaml.Node{Kind: yaml.MappingNode, Line: node.Content[i].Line, Content: node.Content[i : i+2]}
		if s := l.selection(d, one); s.Character != "" {
			found = append(found, s)
		}
	}
	if node.Kind != yaml.MappingNode {
		d.problem(node.Line, "must name characters with their states, such as {rostrum: [long]}, not %s", kindName(node))
	}
	return found
}

// checkSee reports terms that lead to none.
func (l *loader) checkSee(d document, term *Term) {
	if !l.partsRead {
		return
	}
	for _, id := range term.See {
		if _, ok := l.tables.Term(id); ok && id != term.ID {
			continue
		}
		if _, ok := l.tables.Part(id); ok {
			continue
		}
		d.problem(term.line, "%s: see: %q is no other term or part%s", term.ID, id, didYouMean(id, append(l.termIDs(), l.partIDs()...)))
	}
}

func (l *loader) termIDs() []string {
	ids := make([]string, len(l.tables.Terms))
	for i, t := range l.tables.Terms {
		ids[i] = t.ID
	}
	return ids
}
