package diagnosis

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"
	"go.yaml.in/yaml/v4/plugin/loaderlimits"
)

// document reads one YAML file strictly. It works on nodes and not on decoded values because every problem must have
// its line and because `yes`, `no` and `5` are ids here, which are taken as written.
type document struct {
	file     string
	context  string // what is being read, put before messages
	problems *[]Problem
}

// in returns the same document with messages that begin with context.
func (d document) in(context string) document {
	d.context = context + ": "
	return d
}

func (d document) problem(line int, format string, args ...any) {
	if len(*d.problems) == maxProblems {
		return
	}
	*d.problems = append(*d.problems, Problem{File: d.file, Line: line, Message: d.context + fmt.Sprintf(format, args...)})
}

// open parses a file that must hold one YAML document, and returns its root and contents, or nil with a problem.
func (d document) open(fsys fs.FS) (*yaml.Node, []byte) {
	content, err := fs.ReadFile(fsys, d.file)
	if errors.Is(err, fs.ErrNotExist) {
		d.problem(0, "the file is missing; FORMAT.md says what it holds")
		return nil, nil
	}
	if err != nil {
		d.problem(0, "the file cannot be read: %v", err)
		return nil, nil
	}
	if words := tooMuch(content); words != "" {
		d.problem(0, "%s", words)
		return nil, content
	}
	var documents []yaml.Node
	limits := yaml.WithPlugin(loaderlimits.New(loaderlimits.DepthValue(maxDepth)))
	if err := yaml.Load(content, &documents, yaml.WithAllDocuments(), limits); err != nil {
		line, message := explainYAML(err)
		d.problem(line, "this is not valid YAML: %s; check indentation, colons and quotes here and just above", message)
		return nil, content
	}
	if len(documents) == 0 || len(documents[0].Content) == 0 {
		d.problem(1, "the file is empty; FORMAT.md says what it holds")
		return nil, content
	}
	if len(documents) > 1 {
		d.problem(documents[1].Line, "a second YAML document begins here; a file holds one, so remove the line ---")
		return nil, content
	}
	root := documents[0].Content[0]
	if root.Kind != yaml.MappingNode {
		d.problem(root.Line, "the file must be a mapping (`key: value`), not %s", kindName(root))
		return nil, content
	}
	if !d.plain(root) {
		return nil, content
	}
	return root, content
}

// plain reports anchors and aliases: a cell must be readable where it stands.
func (d document) plain(node *yaml.Node) bool {
	if node.Anchor != "" || node.Kind == yaml.AliasNode {
		d.problem(node.Line, "anchors (&) and aliases (*) are not used in the tables; write the value out")
		return false
	}
	for _, child := range node.Content {
		if !d.plain(child) {
			return false
		}
	}
	return true
}

func explainYAML(err error) (line int, message string) {
	var list *yaml.LoadErrors
	if errors.As(err, &list) && len(list.Errors) > 0 {
		err = list.Errors[0]
	}
	var one *yaml.LoadError
	if errors.As(err, &one) {
		return one.Mark.Line, strings.TrimPrefix(one.Message, "yaml: ")
	}
	return 0, err.Error()
}

// entry is a key of a mapping with its value.
type entry struct {
	key   string
	line  int
	value *yaml.Node
}

// entries returns a mapping in file order; a repeated key is a problem and only its first value is returned.
func (d document) entries(node *yaml.Node) []entry {
	if node.Kind != yaml.MappingNode {
		d.problem(node.Line, "must be a mapping (`key: value`), not %s", kindName(node))
		return nil
	}
	var list []entry
	seen := make(map[string]bool, len(node.Content)/2)
	for i := 0; i+1 < len(node.Content); i += 2 {
		key := node.Content[i]
		if key.Kind != yaml.ScalarNode {
			d.problem(key.Line, "a key must be plain text, not %s", kindName(key))
			continue
		}
		if seen[key.Value] {
			d.problem(key.Line, "%q is given twice; keep one", key.Value)
			continue
		}
		seen[key.Value] = true
		list = append(list, entry{key.Value, key.Line, node.Content[i+1]})
	}
	return list
}

// field is a key that a mapping may have, and how its value is read.
type field struct {
	name     string
	required bool
	read     func(*yaml.Node)
}

func required(name string, read func(*yaml.Node)) field { return field{name, true, read} }
func optional(name string, read func(*yaml.Node)) field { return field{name, false, read} }

// fields reads a mapping with exactly the fields given, those required at least.
func (d document) fields(node *yaml.Node, fields ...field) {
	given := d.entries(node)
	if node.Kind != yaml.MappingNode {
		return
	}
	names := make([]string, len(fields))
	for i, f := range fields {
		names[i] = f.name
	}
	for _, e := range given {
		i := slices.Index(names, e.key)
		if i < 0 {
			d.problem(e.line, "unknown field %q%s; known are %s", e.key, didYouMean(e.key, names), strings.Join(names, ", "))
			continue
		}
		fields[i].read(e.value)
	}
	for _, f := range fields {
		if f.required && !slices.ContainsFunc(given, func(e entry) bool { return e.key == f.name }) {
			d.problem(node.Line, "the field %q is missing", f.name)
		}
	}
}

// items returns the elements of a list.
func (d document) items(node *yaml.Node) []*yaml.Node {
	if node.Kind != yaml.SequenceNode {
		d.problem(node.Line, "must be a list, not %s", kindName(node))
		return nil
	}
	return node.Content
}

// text reads words for people.
func (d document) text(into *string) func(*yaml.Node) {
	return func(node *yaml.Node) {
		switch tag := node.ShortTag(); {
		case node.Kind != yaml.ScalarNode:
			d.problem(node.Line, "must be text, not %s", kindName(node))
		case tag != "!!str":
			d.problem(node.Line, "must be text, not %s; put it in quotes if it is meant as text", kindName(node))
		case strings.TrimSpace(node.Value) == "":
			d.problem(node.Line, "must not be empty; leave the field out or fill it in")
		default:
			*into = strings.TrimSpace(node.Value)
		}
	}
}

// name reads an id or word of a fixed vocabulary as written, so that 5 and yes need no quotes; "" after a problem.
func (d document) name(node *yaml.Node) string {
	if node.Kind != yaml.ScalarNode || node.Value == "" {
		d.problem(node.Line, "must be a single word, not %s", kindName(node))
		return ""
	}
	return node.Value
}

func (d document) nameInto(into *string) func(*yaml.Node) {
	return func(node *yaml.Node) { *into = d.name(node) }
}

var idPattern = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// id reads an id that is defined here: lower case with hyphens.
func (d document) id(into *string) func(*yaml.Node) {
	return func(node *yaml.Node) {
		name := d.name(node)
		if name != "" && !idPattern.MatchString(name) {
			d.problem(node.Line, "the id %q must be lower case letters, digits and single hyphens", name)
			return
		}
		*into = name
	}
}

// names reads a list of ids, each once.
func (d document) names(into *[]string) func(*yaml.Node) {
	return func(node *yaml.Node) {
		for _, item := range d.items(node) {
			name := d.name(item)
			if name != "" && slices.Contains(*into, name) {
				d.problem(item.Line, "%q is listed twice; keep one", name)
				continue
			}
			if name != "" {
				*into = append(*into, name)
			}
		}
		if node.Kind == yaml.SequenceNode && len(node.Content) == 0 {
			d.problem(node.Line, "the list is empty")
		}
	}
}

// texts reads a list of sentences.
func (d document) texts(into *[]string) func(*yaml.Node) {
	return func(node *yaml.Node) {
		for _, item := range d.items(node) {
			var text string
			d.text(&text)(item)
			*into = append(*into, text)
		}
	}
}

// number reads a finite number; false after a problem.
func (d document) number(into *float64) func(*yaml.Node) bool {
	return func(node *yaml.Node) bool {
		x, ok := parseNumber(node)
		if !ok {
			d.problem(node.Line, "must be a number, not %s", kindName(node))
			return false
		}
		*into = x
		return true
	}
}

// positive reads a number above 0.
func (d document) positive(into *float64) func(*yaml.Node) {
	return func(node *yaml.Node) {
		if x, ok := parseNumber(node); ok && x > 0 {
			*into = x
			return
		}
		d.problem(node.Line, "must be a number above 0, not %s", kindName(node))
	}
}

func parseNumber(node *yaml.Node) (float64, bool) {
	if tag := node.ShortTag(); node.Kind != yaml.ScalarNode || tag != "!!int" && tag != "!!float" {
		return 0, false
	}
	x, err := strconv.ParseFloat(node.Value, 64)
	return x, err == nil && !math.IsNaN(x) && !math.IsInf(x, 0)
}

// count reads a whole number of at least 1.
func (d document) count(into *int) func(*yaml.Node) {
	return func(node *yaml.Node) {
		n, err := strconv.Atoi(node.Value)
		if node.Kind != yaml.ScalarNode || err != nil || n < 1 {
			d.problem(node.Line, "must be a whole number of at least 1, not %s", kindName(node))
			return
		}
		*into = n
	}
}

func (d document) truth(into *bool) func(*yaml.Node) {
	return func(node *yaml.Node) {
		if node.Kind != yaml.ScalarNode || node.Value != "true" && node.Value != "false" {
			d.problem(node.Line, "must be true or false, not %s", kindName(node))
			return
		}
		*into = node.Value == "true"
	}
}

// kindName says what a node is, for "must be a list, not ...".
func kindName(node *yaml.Node) string {
	switch {
	case node.Kind == yaml.MappingNode:
		return "a mapping"
	case node.Kind == yaml.SequenceNode:
		return "a list"
	case node.ShortTag() == "!!null":
		return "nothing"
	case node.ShortTag() == "!!int" || node.ShortTag() == "!!float":
		return "the number " + node.Value
	case node.ShortTag() == "!!bool":
		return "the truth value " + node.Value
	case node.ShortTag() == "!!timestamp":
		return "the date " + node.Value
	default:
		return fmt.Sprintf("%q", node.Value)
	}
}
