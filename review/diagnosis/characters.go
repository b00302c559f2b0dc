package diagnosis

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"
)

// readCharacters reads characters.yaml.
func (l *loader) readCharacters() {
	d := l.document(charactersFile)
	root := l.open(d)
	if root == nil {
		return
	}
	l.charactersRead = true
	// The rules name characters, so they are read after them wherever they stand in the file.
	var rules []func()
	later := func(read func(document, *yaml.Node)) func(*yaml.Node) {
		return func(node *yaml.Node) {
			rules = append(rules, func() {
				for _, item := range d.items(node) {
					read(d, item)
				}
			})
		}
	}
	d.fields(root,
		required("characters", func(node *yaml.Node) {
			for _, item := range d.items(node) {
				l.readCharacter(d, item)
			}
		}),
		optional("dependent", later(l.readDependent)),
		optional("incompatible", later(l.readIncompatible)),
		optional("at_most", later(l.readAtMost)),
	)
	l.checkBeside(d)
	for _, read := range rules {
		read()
	}
}

func (l *loader) readCharacter(d document, node *yaml.Node) {
	c := Character{line: node.Line, Effort: 1}
	var confused, mistaken []*yaml.Node
	var read, mentioned *yaml.Node
	var bounds bounds
	d = d.in(peek(node, "id"))
	d.fields(node,
		required("id", d.id(&c.ID)),
		required("label", d.text(&c.Label)),
		required("region", d.id(&c.Region)),
		required("kind", func(n *yaml.Node) { c.Kind = d.kind(n) }),
		required("how", d.text(&c.How)),
		required("views", func(n *yaml.Node) { d.names(&c.Views)(n); l.checkViews(d, n, c.Views) }),
		optional("parts", func(n *yaml.Node) { d.names(&c.Parts)(n); l.checkParts(d, n, c.Parts) }),
		optional("states", func(n *yaml.Node) { c.States = d.states(n) }),
		optional("min", func(n *yaml.Node) { bounds.min = true; bounds.bad = !d.number(&c.Min)(n) || bounds.bad }),
		optional("max", func(n *yaml.Node) { bounds.max = true; bounds.bad = !d.number(&c.Max)(n) || bounds.bad }),
		optional("confused", func(n *yaml.Node) { confused = d.items(n) }),
		optional("mistaken", func(n *yaml.Node) { mistaken = d.items(n) }),
		optional("striking", d.names(&c.Striking)),
		optional("read", func(n *yaml.Node) { read = n }),
		optional("mentioned", func(n *yaml.Node) { mentioned = n }),
		optional("silence", d.text(&c.Silence)),
		optional("beside", d.names(&c.Beside)),
		optional("never_excludes", d.truth(&c.NeverExcludes)),
		optional("only_live", d.names(&c.OnlyLive)),
		optional("effort", func(n *yaml.Node) { d.effort(n, &c) }),
		optional("ask_first", d.truth(&c.AskFirst)),
	)
	if c.ID == "" {
		return
	}
	if l.hasCharacter(c.ID) {
		d.problem(node.Line, "the character is given twice; keep one")
		return
	}
	d.checkKind(node.Line, &c, bounds)
	for _, item := range confused {
		d.readConfused(item, &c)
	}
	d.checkListed(node.Line, "only_live", c.OnlyLive, &c)
	d.checkListed(node.Line, "striking", c.Striking, &c)
	for _, item := range mistaken {
		d.readMistaken(item, &c)
	}
	if read != nil {
		d.readRates(read, &c)
	}
	d.readMentioned(node.Line, mentioned, &c)
	l.tables.characterIndex[c.ID] = len(l.tables.Characters)
	l.tables.Characters = append(l.tables.Characters, c)
}

func (d document) checkListed(line int, field string, states []string, c *Character) {
	for _, state := range states {
		if c.State(state) < 0 {
			d.problem(line, "%s: unknown state %q%s", field, state, didYouMean(state, c.stateIDs()))
		}
	}
	if len(states) > 0 && len(states) == len(c.States) {
		d.problem(line, "%s: all states are listed; leave out those that are plain", field)
	}
}

// effort reads what one look takes.
func (d document) effort(node *yaml.Node, c *Character) {
	d.fields(node, required("glances", d.positive(&c.Effort)), optional("needs", d.text(&c.Needs)))
}

// peek returns the text of a key before the mapping is read properly, for the context of messages.
func peek(node *yaml.Node, key string) string {
	for i := 0; node.Kind == yaml.MappingNode && i+1 < len(node.Content); i += 2 {
		if node.Content[i].Value == key && node.Content[i+1].Kind == yaml.ScalarNode {
			return node.Content[i+1].Value
		}
	}
	return "an entry without " + key
}

func (l *loader) hasCharacter(id string) bool {
	_, ok := l.tables.characterIndex[id]
	return ok
}

func (l *loader) checkViews(d document, node *yaml.Node, views []string) {
	known := make([]string, len(l.tables.Group.Views))
	for i, v := range l.tables.Group.Views {
		known[i] = v.ID
	}
	// Without any view group.yaml itself has a problem, which is reported there.
	for _, view := range views {
		if len(known) > 0 && !slices.Contains(known, view) {
			d.problem(node.Line, "unknown view %q%s; views are defined in group.yaml", view, didYouMean(view, known))
		}
	}
}

func (d document) kind(node *yaml.Node) Kind {
	kind := Kind(d.name(node))
	switch kind {
	case KindStates, KindCount, KindLength, "":
		return kind
	}
	d.problem(node.Line, "unknown kind %q; use states, count or length", kind)
	return ""
}

func (d document) states(node *yaml.Node) []State {
	var list []State
	for _, item := range d.items(node) {
		var s State
		d.fields(item,
			required("id", d.id(&s.ID)),
			required("label", d.text(&s.Label)),
			optional("hint", d.text(&s.Hint)),
		)
		if s.ID == "rest" {
			d.problem(item.Line, "\"rest\" cannot be a state: in a family's cell it means all others")
			continue
		}
		if slices.ContainsFunc(list, func(other State) bool { return s.ID != "" && other.ID == s.ID }) {
			d.problem(item.Line, "the state %q is given twice; keep one", s.ID)
			continue
		}
		list = append(list, s)
	}
	return list
}

// bounds says which of min and max a character gives, and whether one of them is no number.
type bounds struct{ min, max, bad bool }

// maxCount bounds a count, because each number of it is a state with its own probability.
const maxCount = 200

// checkKind checks that a character has what its kind needs and nothing else, and makes the states of a count.
func (d document) checkKind(line int, c *Character, given bounds) {
	if given.bad {
		return
	}
	switch c.Kind {
	case KindStates:
		if len(c.States) < 2 {
			d.problem(line, "a character of kind states needs at least two states")
		}
		if given.min || given.max {
			d.problem(line, "min and max belong to a count or a length; remove them")
		}
	case KindCount:
		if len(c.States) > 0 {
			d.problem(line, "the states of a count are the numbers from min to max; remove states")
			return
		}
		whole := c.Min == math.Trunc(c.Min) && c.Max == math.Trunc(c.Max)
		if !given.min || !given.max || !whole || c.Min < 0 || c.Max <= c.Min || c.Max > maxCount {
			c.Min, c.Max = 0, 0
			d.problem(line, "a count needs whole numbers min and max, with 0 <= min < max <= %d", maxCount)
			return
		}
		for n := int(c.Min); n <= int(c.Max); n++ {
			id := strconv.Itoa(n)
			c.States = append(c.States, State{ID: id, Label: id})
		}
	case KindLength:
		if len(c.States) > 0 {
			d.problem(line, "a length has no states; remove them")
		}
		if !given.min || !given.max || c.Min <= 0 || c.Max <= c.Min {
			d.problem(line, "a length needs min and max in millimetres, with 0 < min < max")
		}
	}
}

func (d document) readConfused(node *yaml.Node, c *Character) {
	var pair []string
	var weight float64
	d.fields(node, required("states", d.names(&pair)), required("weight", d.positive(&weight)))
	if c.Kind != KindStates {
		d.problem(node.Line, "confused: only a character of kind states has confused pairs; counts err by one step by themselves")
		return
	}
	if len(pair) != 2 {
		d.problem(node.Line, "confused: a pair must name two different states")
		return
	}
	for _, state := range pair {
		if c.State(state) < 0 {
			d.problem(node.Line, "confused: unknown state %q%s", state, didYouMean(state, c.stateIDs()))
			return
		}
	}
	for _, other := range c.Confused {
		if slices.Contains(pair, other.States[0]) && slices.Contains(pair, other.States[1]) {
			d.problem(node.Line, "confused: the pair %s is given twice; keep one", strings.Join(pair, " and "))
			return
		}
	}
	c.Confused = append(c.Confused, Confused{States: [2]string{pair[0], pair[1]}, Weight: weight})
}

func (c *Character) stateIDs() []string {
	ids := make([]string, len(c.States))
	for i, s := range c.States {
		ids[i] = s.ID
	}
	return ids
}

func (l *loader) characterIDs() []string {
	ids := make([]string, len(l.tables.Characters))
	for i, c := range l.tables.Characters {
		ids[i] = c.ID
	}
	return ids
}

// selectStates returns the indices of the states that one key of a cell or selection names: a state id, or for a count
// a number or a range such as 7-9. nil after a problem.
func (d document) selectStates(line int, c *Character, key string) []int {
	if c.Kind != KindCount {
		if i := c.State(key); i >= 0 {
			return []int{i}
		}
		ids := c.stateIDs()
		d.problem(line, "unknown state %q%s; known are %s", key, didYouMean(key, ids), strings.Join(ids, ", "))
		return nil
	}
	first, last, isRange := strings.Cut(key, "-")
	if !isRange {
		last = first
	}
	from, err1 := strconv.Atoi(first)
	to, err2 := strconv.Atoi(last)
	if err1 != nil || err2 != nil || from > to {
		d.problem(line, "%q must be a whole number or a range such as 7-9", key)
		return nil
	}
	if from < int(c.Min) || to > int(c.Max) {
		d.problem(line, "%q is outside %g to %g, which characters.yaml allows", key, c.Min, c.Max)
		return nil
	}
	var indices []int
	for n := from; n <= to; n++ {
		indices = append(indices, n-int(c.Min))
	}
	return indices
}
