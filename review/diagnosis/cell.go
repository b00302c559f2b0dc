package diagnosis

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"
)

// frequencyWords are the weights of the words in a cell (FORMAT.md), from most to least. They are a convention of
// this project and not taken from a publication: about 6 : 1 for usually against sometimes, 50 : 1 for always against
// rarely.
var frequencyWords = []struct {
	word   string
	weight float64
}{{"always", 100}, {"usually", 75}, {"often", 40}, {"sometimes", 12}, {"rarely", 2}, {"never", 0}}

const (
	restKey = "rest"
	// sumTolerance is how far numbers may be off a sum of 1: a third may be written 0.333333.
	sumTolerance = 1e-5
)

// citing is the part of a cell that names its source, with the family's defaults filled in.
type citing struct {
	Citation
	ownSource, ownPlace, ownBasis bool
}

// readCell reads what a family or form shows in one character; nil after a problem that leaves no cell.
func (l *loader) readCell(d document, e entry, family Citation) *Cell {
	d = d.in(d.context + e.key)
	c, ok := l.tables.Character(e.key)
	if !ok {
		if l.charactersRead {
			d.problem(e.line, "unknown character%s", didYouMean(e.key, l.characterIDs()))
		}
		return nil
	}
	cell := &Cell{Character: c.ID, File: d.file, Line: e.line}
	cite := citing{Citation: family}
	var hasStates, hasLength bool
	d.fields(e.value,
		optional("states", func(n *yaml.Node) { hasStates = true; d.readStates(n, c, cell) }),
		optional("length", func(n *yaml.Node) { hasLength = true; d.readLength(n, c, cell) }),
		optional("source", func(n *yaml.Node) { cite.ownSource = true; cite.Source = d.name(n) }),
		optional("place", func(n *yaml.Node) { cite.ownPlace = true; d.text(&cite.Place)(n) }),
		optional("basis", func(n *yaml.Node) { cite.ownBasis = true; cite.Basis = d.basis(n) }),
		optional("note", d.text(&cell.Note)),
	)
	if e.value.Kind != yaml.MappingNode {
		return nil
	}
	if c.Kind == KindLength && (!hasLength || hasStates) {
		d.problem(e.line, "needs `length: {min: , usual: [ , ], max: }` and no states")
	}
	if c.Kind != KindLength && (!hasStates || hasLength) {
		d.problem(e.line, "needs `states: {...}` and no length")
	}
	l.checkCitation(d, e.line, cite)
	if cite.Basis == BasisInPart && cell.Note == "" {
		d.problem(e.line, "was read in part, so its note must say which part")
	}
	cell.Citation = cite.Citation
	return cell
}

func (d document) basis(node *yaml.Node) Basis {
	basis := Basis(d.name(node))
	if basis != "" && !slices.Contains(Bases, basis) {
		d.problem(node.Line, "unknown basis %q; use read, read-in-part or memory", basis)
	}
	return basis
}

// checkCitation checks that a cell says where its content stands. A place belongs to its work, so a cell cannot take
// another work and keep the family's place.
func (l *loader) checkCitation(d document, line int, c citing) {
	if c.Source == "" {
		d.problem(line, "has no source; name one in the cell or for the whole family")
		return
	}
	l.checkSource(d, line, c.Source)
	if c.Place == "" {
		d.problem(line, "has no place; name the chapter, section or page of %s, in the cell or for the whole family", c.Source)
		return
	}
	if c.ownSource && !c.ownPlace {
		d.problem(line, "names its own source %s, so it must name its own place in it", c.Source)
	}
	if c.ownBasis && c.Basis.WasRead() && !c.ownPlace {
		d.problem(line, "was read, so it must name the place where it was read")
	}
	if c.Basis == "" {
		d.problem(line, "has no basis; say read, read-in-part or memory, in the cell or for the whole family")
	}
}

func (l *loader) checkSource(d document, line int, id string) {
	if _, ok := l.tables.sourceIndex[id]; ok || !l.sourcesRead {
		return
	}
	known := make([]string, len(l.tables.Sources))
	for i, s := range l.tables.Sources {
		known[i] = s.ID
	}
	d.problem(line, "unknown source %q%s; add it to sources.yaml", id, didYouMean(id, known))
}

// readStates compiles the frequencies of a cell to probabilities.
func (d document) readStates(node *yaml.Node, c *Character, cell *Cell) {
	if c.Kind == KindLength {
		return
	}
	given := d.entries(node)
	if len(given) == 0 {
		if node.Kind == yaml.MappingNode {
			d.problem(node.Line, "no state is given")
		}
		return
	}
	numeric, ok := d.isNumeric(given)
	if !ok {
		return
	}
	f := frequencies{document: d, character: c, line: node.Line, numeric: numeric,
		weights: make([]float64, len(c.States)), words: make([]string, len(c.States))}
	for _, e := range given {
		f.add(e)
	}
	if f.failed {
		return
	}
	f.share()
	if f.failed {
		return
	}
	cell.P, cell.Words = f.weights, f.words
}

// isNumeric says whether a cell uses numbers; it must not mix them with words.
func (d document) isNumeric(given []entry) (numeric, ok bool) {
	_, numeric = parseNumber(given[0].value)
	for _, e := range given[1:] {
		if _, isNumber := parseNumber(e.value); isNumber != numeric {
			d.problem(e.value.Line, "%s: words and numbers are mixed in one cell; use one or the other", e.key)
			return false, false
		}
	}
	return numeric, true
}

// frequencies collects the weights of a cell's states. A word or number stands for a key as a whole: it is shared
// among the numbers of a range, and that of rest among all states that no key names.
type frequencies struct {
	document
	character *Character
	line      int
	numeric   bool
	weights   []float64
	words     []string // "" where no key named the state
	rest      *entry
	always    int // keys that say always
	failed    bool
}

func (f *frequencies) fail(line int, format string, args ...any) {
	f.failed = true
	f.problem(line, format, args...)
}

func (f *frequencies) add(e entry) {
	weight, ok := f.weight(e)
	if !ok {
		return
	}
	if e.key == restKey {
		f.rest = &e
		return
	}
	if e.value.Value == "always" {
		f.always++
	}
	indices := f.selectStates(e.line, f.character, e.key)
	if indices == nil {
		f.failed = true
		return
	}
	for _, i := range indices {
		if f.words[i] != "" {
			f.fail(e.line, "%q covers %s, which another entry gives already", e.key, f.character.States[i].ID)
			return
		}
		f.weights[i] = weight / float64(len(indices))
		f.words[i] = e.value.Value
	}
}

// weight reads the frequency of one key: a word, or a number where the cell uses numbers.
func (f *frequencies) weight(e entry) (float64, bool) {
	if f.numeric {
		x, _ := parseNumber(e.value)
		if x < 0 || x > 1 {
			f.fail(e.value.Line, "%s: the number %s must lie between 0 and 1", e.key, e.value.Value)
			return 0, false
		}
		return x, true
	}
	words := make([]string, len(frequencyWords))
	for i, w := range frequencyWords {
		if e.value.Kind == yaml.ScalarNode && e.value.Value == w.word {
			return w.weight, true
		}
		words[i] = w.word
	}
	f.fail(e.value.Line, "%s: unknown frequency %s%s; known are %s or numbers from 0 to 1",
		e.key, kindName(e.value), didYouMean(e.value.Value, words), strings.Join(words, ", "))
	return 0, false
}

// share gives rest its states and normalises.
func (f *frequencies) share() {
	var open []int
	for i, word := range f.words {
		if word == "" {
			open = append(open, i)
		}
	}
	f.shareRest(open)
	if f.always > 1 {
		f.fail(f.line, "%d entries say always, but only one can; use usually, often or a range", f.always)
	}
	if f.failed {
		return
	}
	sum := 0.0
	for _, w := range f.weights {
		sum += w
	}
	if f.numeric && math.Abs(sum-1) > sumTolerance {
		f.fail(f.line, "the numbers sum to %s and not to 1", strconv.FormatFloat(sum, 'g', 4, 64))
		return
	}
	if sum == 0 {
		f.fail(f.line, "every state is never; leave the character out if it is not known")
		return
	}
	for i := range f.weights {
		f.weights[i] /= sum
	}
}

func (f *frequencies) shareRest(open []int) {
	if f.rest == nil {
		if len(open) > 0 && f.always == 0 {
			f.fail(f.line, "rest is missing: say how often the states that are not listed occur (%s)", f.name(open))
			return
		}
		for _, i := range open {
			f.words[i] = "never"
		}
		return
	}
	weight, _ := f.weight(*f.rest)
	if len(open) == 0 && weight > 0 {
		f.fail(f.rest.line, "rest has nothing left, because every state is listed; remove it")
		return
	}
	for _, i := range open {
		f.weights[i] = weight / float64(len(open))
		f.words[i] = f.rest.value.Value
	}
}

// name lists the first few states of those given, for a message.
func (f *frequencies) name(indices []int) string {
	var ids []string
	for _, i := range indices[:min(len(indices), 4)] {
		ids = append(ids, f.character.States[i].ID)
	}
	if len(indices) > len(ids) {
		ids = append(ids, "...")
	}
	return strings.Join(ids, ", ")
}

// readLength reads {min, usual: [5th, 95th percentile], max} in millimetres.
func (d document) readLength(node *yaml.Node, c *Character, cell *Cell) {
	if c.Kind != KindLength {
		return
	}
	var length Length
	var usual []float64
	before := len(*d.problems)
	d.fields(node,
		required("min", d.positive(&length.Min)),
		required("usual", func(n *yaml.Node) {
			for _, item := range d.items(n) {
				var x float64
				d.positive(&x)(item)
				usual = append(usual, x)
			}
		}),
		required("max", d.positive(&length.Max)),
	)
	if len(*d.problems) > before {
		return
	}
	if len(usual) != 2 {
		d.problem(node.Line, "a length is written {min: 1.5, usual: [5, 25], max: 75}, in millimetres")
		return
	}
	length.Usual = [2]float64{usual[0], usual[1]}
	if length.Min > usual[0] || usual[0] >= usual[1] || usual[1] > length.Max {
		d.problem(node.Line, "the lengths are out of order: min <= usual (first < second) <= max")
		return
	}
	if length.Min < c.Min || length.Max > c.Max {
		d.problem(node.Line, "the lengths must lie within %g to %g mm, which characters.yaml allows", c.Min, c.Max)
		return
	}
	cell.Length = length
}
