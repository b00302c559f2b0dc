package diagnosis

import (
	"slices"

	"go.yaml.in/yaml/v4"
)

// readMistaken reads an error that is made in one direction.
func (d document) readMistaken(node *yaml.Node, c *Character) {
	var m Mistaken
	d.fields(node, required("from", d.nameInto(&m.From)), required("to", d.nameInto(&m.To)), required("weight", d.positive(&m.Weight)))
	if c.Kind != KindStates {
		d.problem(node.Line, "mistaken: only a character of kind states has states that are mistaken; counts err by one step by themselves")
		return
	}
	for _, state := range []string{m.From, m.To} {
		if state != "" && c.State(state) < 0 {
			d.problem(node.Line, "mistaken: unknown state %q%s", state, didYouMean(state, c.stateIDs()))
			return
		}
	}
	if m.From == m.To {
		d.problem(node.Line, "mistaken: from and to must be two different states")
		return
	}
	for _, other := range c.Mistaken {
		if other.From == m.From && other.To == m.To {
			d.problem(node.Line, "mistaken: %s for %s is given twice; keep one", m.From, m.To)
			return
		}
	}
	c.Mistaken = append(c.Mistaken, m)
}

// readRates reads how often states are read right: by state, and rest for all others.
func (d document) readRates(node *yaml.Node, c *Character) {
	if c.Kind == KindLength {
		d.problem(node.Line, "read: a length is measured; remove it")
		return
	}
	c.Read = make([]Rates, len(c.States))
	given := make([]bool, len(c.States))
	var rest Rates
	for _, e := range d.entries(node) {
		rates := d.rates(e)
		if e.key == restKey {
			rest = rates
			continue
		}
		for _, i := range d.selectStates(e.line, c, e.key) {
			if given[i] {
				d.problem(e.line, "read: %q covers %s, which another entry gives already", e.key, c.States[i].ID)
			}
			given[i], c.Read[i] = true, rates
		}
	}
	for i := range c.Read {
		if !given[i] {
			c.Read[i] = rest
		}
	}
}

func (d document) rates(e entry) Rates {
	var r Rates
	d.fields(e.value, required("member", d.share(&r.Member)), required("reviewer", d.share(&r.Reviewer)))
	return r
}

// share reads a number above 0 and below 1.
func (d document) share(into *float64) func(*yaml.Node) {
	return func(node *yaml.Node) {
		if x, ok := parseNumber(node); ok && x > 0 && x < 1 {
			*into = x
			return
		}
		d.problem(node.Line, "must be a number above 0 and below 1, not %s", kindName(node))
	}
}

// readMentioned reads how often a character is mentioned, by state, and needs the words for its not being so.
func (d document) readMentioned(line int, node *yaml.Node, c *Character) {
	if (node == nil) != (c.Silence == "") {
		d.problem(line, "mentioned and silence belong together: how often the character is mentioned, and the words for its not being so")
		return
	}
	if node == nil {
		if len(c.Beside) > 0 {
			d.problem(line, "beside: only a character with mentioned has silence that other regions could tell of")
		}
		return
	}
	if c.Kind != KindStates || len(c.Striking) == 0 {
		d.problem(node.Line, "mentioned: only a character with striking states has silence that tells something")
		return
	}
	rates, given, rest := make([]float64, len(c.States)), make([]bool, len(c.States)), 0.0
	for _, e := range d.entries(node) {
		var m float64
		d.share(&m)(e.value)
		if e.key == restKey {
			rest = m
			continue
		}
		for _, i := range d.selectStates(e.line, c, e.key) {
			given[i], rates[i] = true, m
		}
	}
	for i := range rates {
		if !given[i] {
			rates[i] = rest
		}
		if rates[i] == 0 {
			d.problem(node.Line, "mentioned: %s is missing; rest stands for all others", c.States[i].ID)
			return
		}
	}
	c.Mentioned = rates
}

// InView says whether who speaks of a region of the body has had the character before their eyes.
func (c *Character) InView(region string) bool {
	return region == c.Region || slices.Contains(c.Beside, region)
}

// checkBeside says which regions beside a character no character has.
func (l *loader) checkBeside(d document) {
	regions := l.tables.Regions()
	for i := range l.tables.Characters {
		c := &l.tables.Characters[i]
		for _, region := range c.Beside {
			if region == c.Region || !slices.Contains(regions, region) {
				d.in(c.ID).problem(c.line, "beside: %q is no other region of the body%s", region, didYouMean(region, regions))
			}
		}
	}
}
