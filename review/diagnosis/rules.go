package diagnosis

import (
	"slices"

	"go.yaml.in/yaml/v4"
)

func (l *loader) readDependent(d document, node *yaml.Node) {
	var g Dependent
	d = d.in("dependent " + peek(node, "id"))
	d.fields(node,
		required("id", d.id(&g.ID)),
		required("characters", d.names(&g.Characters)),
		required("exponent", func(n *yaml.Node) {
			d.positive(&g.Exponent)(n)
			if g.Exponent > 1 {
				d.problem(n.Line, "the exponent must be above 0 and at most 1; 1 would mean independent")
			}
		}),
		required("because", d.text(&g.Because)),
	)
	if len(g.Characters) < 2 {
		d.problem(node.Line, "a dependent group needs at least two characters")
	}
	for _, id := range g.Characters {
		if !l.hasCharacter(id) {
			d.problem(node.Line, "unknown character %q%s", id, didYouMean(id, l.characterIDs()))
		}
		for _, other := range l.tables.Dependent {
			if slices.Contains(other.Characters, id) {
				d.problem(node.Line, "%s is already in the group %s; a character has one exponent", id, other.ID)
			}
		}
	}
	if slices.ContainsFunc(l.tables.Dependent, func(other Dependent) bool { return other.ID == g.ID }) {
		d.problem(node.Line, "the group is given twice; keep one")
	}
	l.tables.Dependent = append(l.tables.Dependent, g)
}

func (l *loader) readIncompatible(d document, node *yaml.Node) {
	var r Incompatible
	d = d.in("incompatible " + peek(node, "id"))
	d.fields(node,
		required("id", d.id(&r.ID)),
		required("first", func(n *yaml.Node) { r.First = l.selection(d, n) }),
		required("second", func(n *yaml.Node) { r.Second = l.selection(d, n) }),
		required("because", d.text(&r.Because)),
	)
	if r.First.Character != "" && r.First.Character == r.Second.Character {
		d.problem(node.Line, "first and second must be two different characters")
	}
	if slices.ContainsFunc(l.tables.Incompatible, func(other Incompatible) bool { return other.ID == r.ID }) {
		d.problem(node.Line, "the rule is given twice; keep one")
	}
	l.tables.Incompatible = append(l.tables.Incompatible, r)
}

// selection reads {character: [state, ...]}; ranges of a count are written out.
func (l *loader) selection(d document, node *yaml.Node) Selection {
	entries := d.entries(node)
	if len(entries) != 1 {
		d.problem(node.Line, "must name exactly one character with its states, such as {rostrum: [none]}")
		return Selection{}
	}
	e := entries[0]
	c, ok := l.tables.Character(e.key)
	if !ok {
		d.problem(e.line, "unknown character %q%s", e.key, didYouMean(e.key, l.characterIDs()))
		return Selection{}
	}
	if c.Kind == KindLength {
		d.problem(e.line, "%s is a length and has no states", e.key)
		return Selection{}
	}
	s := Selection{Character: c.ID}
	var keys []string
	d.names(&keys)(e.value)
	for _, key := range keys {
		for _, i := range d.selectStates(e.line, c, key) {
			if slices.Contains(s.States, c.States[i].ID) {
				d.problem(e.line, "%q covers %s a second time", key, c.States[i].ID)
				break
			}
			s.States = append(s.States, c.States[i].ID)
		}
	}
	return s
}

func (l *loader) readAtMost(d document, node *yaml.Node) {
	var r AtMost
	d = d.in("at_most " + peek(node, "id"))
	d.fields(node,
		required("id", d.id(&r.ID)),
		required("less", d.nameInto(&r.Less)),
		required("more", d.nameInto(&r.More)),
		required("because", d.text(&r.Because)),
	)
	for _, id := range []string{r.Less, r.More} {
		c, ok := l.tables.Character(id)
		if id != "" && !ok {
			d.problem(node.Line, "unknown character %q%s", id, didYouMean(id, l.characterIDs()))
		}
		if ok && c.Kind != KindCount {
			d.problem(node.Line, "%s is no count; at_most compares two counts", id)
		}
	}
	if r.Less != "" && r.Less == r.More {
		d.problem(node.Line, "less and more must be two different counts")
	}
	if slices.ContainsFunc(l.tables.AtMost, func(other AtMost) bool { return other.ID == r.ID }) {
		d.problem(node.Line, "the rule is given twice; keep one")
	}
	l.tables.AtMost = append(l.tables.AtMost, r)
}
