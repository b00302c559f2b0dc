package diagnosis

import (
	"cmp"
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"go.yaml.in/yaml/v4"
)

// tableText is a YAML file line by line, each with its line break, so that lines can be replaced and all others stay.
type tableText []string

// lineBreaks are what the YAML decoder counts as the end of a line, beside a carriage return with a line feed.
const lineBreaks = "\n\r\u0085\u2028\u2029"

func splitTable(content string) tableText {
	var t tableText
	for len(content) > 0 {
		end := len(content)
		if at := strings.IndexAny(content, lineBreaks); at >= 0 {
			_, size := utf8.DecodeRuneInString(content[at:])
			end = at + size
			if strings.HasPrefix(content[at:], "\r\n") {
				end = at + 2
			}
		}
		t = append(t, content[:end])
		content = content[end:]
	}
	return t
}

// change replaces lines: `removed` lines after the first `after` ones make way for others.
type change struct {
	after, removed int
	with           []string
}

// with returns the text with changes made, of which none overlap; those at one place in the order given.
func (t tableText) with(changes []change) string {
	slices.SortStableFunc(changes, func(a, b change) int { return cmp.Compare(a.after, b.after) })
	var out strings.Builder
	done, ends := 0, true
	write := func(lines []string) {
		for _, line := range lines {
			if !ends {
				out.WriteString(t.lineBreak())
			}
			out.WriteString(line)
			ends = strings.ContainsAny(line, lineBreaks)
		}
	}
	for _, c := range changes {
		write(t[done:max(done, c.after)])
		write(c.with)
		done = max(done, c.after+c.removed)
	}
	write(t[done:])
	return out.String()
}

// lineBreak is the one that the file uses.
func (t tableText) lineBreak() string {
	if len(t) > 0 && strings.HasSuffix(t[0], "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// line is a new line.
func (t tableText) line(indent int, text string) string {
	return strings.Repeat(" ", indent) + text + t.lineBreak()
}

// cell are the lines of a new cell.
func (t tableText) cell(indent int, id string, fields []cellField) []string {
	lines := []string{t.line(indent, id+":")}
	for _, f := range fields {
		if f.value != "" {
			lines = append(lines, t.line(indent+2, f.name+": "+f.value))
		}
	}
	return lines
}

// end is the number of lines before the end of the document, which a line of three dots marks.
func (t tableText) end() int {
	for i, line := range t {
		if rest, ok := strings.CutPrefix(line, "..."); ok && strings.TrimLeftFunc(rest, unicode.IsSpace) != rest {
			return i
		}
	}
	return len(t)
}

// section is a key of a block mapping with its value, and the last line of the value: the comments and blank lines
// after it belong to what follows.
type section struct {
	key, value *yaml.Node
	last       int
}

// sections returns a block mapping in file order. limit is the last line that can belong to it.
func (t tableText) sections(mapping *yaml.Node, limit int) []section {
	var list []section
	for i := 0; mapping.Kind == yaml.MappingNode && i+1 < len(mapping.Content); i += 2 {
		s := section{key: mapping.Content[i], value: mapping.Content[i+1], last: limit}
		if i+2 < len(mapping.Content) {
			s.last = mapping.Content[i+2].Line - 1
		}
		least := max(s.key.Line, t.lastOf(s.value))
		for s.last > least && remark(t[s.last-1]) {
			s.last--
		}
		s.last = max(s.last, least)
		list = append(list, s)
	}
	return list
}

func named(sections []section, key string) *section {
	for i := range sections {
		if sections[i].key.Value == key {
			return &sections[i]
		}
	}
	return nil
}

// remark says whether a line is blank or holds only a comment, where it is in no text.
func remark(line string) bool {
	line = strings.TrimSpace(line)
	return line == "" || line[0] == '#'
}

// lastOf is the last line of the texts in a node, as far as it cannot be told from what follows: in quotes and in
// blocks a line can look like a comment.
func (t tableText) lastOf(node *yaml.Node) int {
	last := node.Line
	switch {
	case node.Kind != yaml.ScalarNode:
	case node.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle) != 0:
		last = t.closingQuote(node)
	case node.Style&(yaml.LiteralStyle|yaml.FoldedStyle) != 0:
		last = t.blockEnd(node)
	}
	for _, child := range node.Content {
		last = max(last, t.lastOf(child))
	}
	return last
}

func (t tableText) closingQuote(node *yaml.Node) int {
	quote := '"'
	if node.Style&yaml.SingleQuotedStyle != 0 {
		quote = '\''
	}
	open, escaped := false, false
	rest := []rune(t[node.Line-1])[node.Column-1:]
	for n := node.Line; ; n++ {
		for i := 0; i < len(rest); i++ {
			switch {
			case escaped:
				escaped = false
			case open && quote == '"' && rest[i] == '\\':
				escaped = true
			case rest[i] != quote:
			case open && quote == '\'' && i+1 < len(rest) && rest[i+1] == quote:
				i++
			case open:
				return n
			default:
				open = true
			}
		}
		if n == len(t) {
			return n
		}
		escaped = false
		rest = []rune(t[n])
	}
}

var indentIndicator = regexp.MustCompile(`[|>][-+]?([1-9])`)

// blockEnd is the last line of a literal or folded text: the lines indented at least as far as its first.
func (t tableText) blockEnd(node *yaml.Node) int {
	indent, last := 0, node.Line
	if digit := indentIndicator.FindStringSubmatch(string([]rune(t[node.Line-1])[node.Column-1:])); digit != nil {
		indent = indentOf(t[node.Line-1]) + int(digit[1][0]-'0')
	}
	for n := node.Line; n < len(t); n++ {
		if strings.TrimSpace(t[n]) == "" {
			continue
		}
		if indent == 0 {
			indent = max(1, indentOf(t[n]))
		}
		if indentOf(t[n]) < indent {
			break
		}
		last = n + 1
	}
	return last
}

func indentOf(line string) int { return len(line) - len(strings.TrimLeft(line, " ")) }

// cellField is a line of a mapping: its text, "" to leave it out, and whether the present one says the same already.
type cellField struct {
	name, value string
	same        bool
}

// setFields changes the fields of a block mapping that differ, in their places; a new one follows the field that it is
// listed after. Comments stay.
func (t tableText) setFields(mapping *yaml.Node, limit int, fields []cellField) []change {
	sections := t.sections(mapping, limit)
	if len(sections) == 0 {
		return nil
	}
	indent, after := mapping.Column-1, sections[0].key.Line-1
	var changes []change
	for _, f := range fields {
		s := named(sections, f.name)
		switch {
		case s != nil:
			after = s.last
			if !f.same {
				changes = append(changes, change{s.key.Line - 1, s.last - s.key.Line + 1, t.field(*s, indent, f)})
			}
		case !f.same && f.value != "":
			changes = append(changes, change{after, 0, []string{t.line(indent, f.name+": "+f.value)}})
		}
	}
	return changes
}

// field writes a field anew with the comments that it had: one at the end of its line stays there.
func (t tableText) field(s section, indent int, f cellField) []string {
	comments := t.comments(s, indent)
	if f.value == "" {
		return comments
	}
	text := f.name + ": " + f.value
	if len(comments) == 1 && s.last == s.key.Line {
		return []string{t.line(indent, text+" "+strings.TrimSpace(comments[0]))}
	}
	return append(comments, t.line(indent, text))
}

// comments are those within a section, each on a line.
func (t tableText) comments(s section, indent int) []string {
	var lines []string
	for n := s.key.Line + 1; n <= s.last; n++ {
		if strings.HasPrefix(strings.TrimSpace(t[n-1]), "#") && !t.inText(s.value, n) {
			lines = append(lines, t[n-1])
		}
	}
	for _, comment := range append(lineComments(s.key), lineComments(s.value)...) {
		lines = append(lines, t.line(indent, comment))
	}
	return lines
}

// inText says whether a line after the first of a text belongs to it.
func (t tableText) inText(node *yaml.Node, line int) bool {
	if node.Kind == yaml.ScalarNode {
		return node.Line < line && line <= t.lastOf(node)
	}
	return slices.ContainsFunc(node.Content, func(child *yaml.Node) bool { return t.inText(child, line) })
}

// lineComments are the comments at the ends of the lines of a node.
func lineComments(node *yaml.Node) []string {
	var list []string
	if node.LineComment != "" {
		list = strings.Split(node.LineComment, "\n")
	}
	for _, child := range node.Content {
		list = append(list, lineComments(child)...)
	}
	return list
}

// cutEmpty returns the line of an empty mapping without its braces, and false where they are not both on it.
func (t tableText) cutEmpty(node *yaml.Node) (line string, ok bool) {
	text := []rune(t[node.Line-1])
	braces := emptyBraces.FindString(string(text[node.Column-1:]))
	if braces == "" {
		return "", false
	}
	return strings.TrimRight(string(text[:node.Column-1]), " ") + string(text[node.Column-1:])[len(braces):], true
}

var emptyBraces = regexp.MustCompile(`^\{ *\}`)

// plainWord is what means itself without quotes, in braces too.
var plainWord = regexp.MustCompile(`^[A-Za-z0-9.][A-Za-z0-9._+-]*$`)

// word writes an id, a frequency word or a number.
func word(s string) string {
	if plainWord.MatchString(s) {
		return s
	}
	return strconv.Quote(s)
}

func wordOrNone(s string) string {
	if s == "" {
		return ""
	}
	return word(s)
}

// quoted writes a text in double quotes, on one line; nothing for no text. Every escape that Go uses for valid UTF-8 is
// one of YAML's too (YAML 1.2.2, section 5.7).
func quoted(s string) string {
	if s == "" {
		return ""
	}
	return strconv.Quote(s)
}

// parseTable reads a YAML file as Load does; the error is the first problem.
func parseTable(file, content string) (*yaml.Node, error) {
	var problems []Problem
	root, _ := document{file: file, problems: &problems}.open(FromContents(map[string]string{file: content}))
	if len(problems) > 0 {
		return nil, errors.New(problems[0].String())
	}
	return root, nil
}

// child is the value of a key, nil where there is none.
func child(node *yaml.Node, key string) *yaml.Node {
	for i := 0; node != nil && node.Kind == yaml.MappingNode && i+1 < len(node.Content); i += 2 {
		if node.Content[i].Value == key {
			return node.Content[i+1]
		}
	}
	return nil
}

// valueOf is the trimmed text of a key, "" where there is none.
func valueOf(node *yaml.Node, key string) string {
	value := child(node, key)
	if value == nil || value.Kind != yaml.ScalarNode {
		return ""
	}
	return strings.TrimSpace(value.Value)
}

// without is a mapping with some keys left out.
func without(mapping *yaml.Node, keys ...string) *yaml.Node {
	rest := *mapping
	rest.Content = nil
	for i := 0; i+1 < len(mapping.Content); i += 2 {
		if !slices.Contains(keys, mapping.Content[i].Value) {
			rest.Content = append(rest.Content, mapping.Content[i], mapping.Content[i+1])
		}
	}
	return &rest
}

// sameNode says whether two nodes hold the same, wherever they stand and however they are written.
func sameNode(a, b *yaml.Node) bool {
	return a.Kind == b.Kind && a.ShortTag() == b.ShortTag() && strings.TrimSpace(a.Value) == strings.TrimSpace(b.Value) &&
		slices.EqualFunc(a.Content, b.Content, sameNode)
}
