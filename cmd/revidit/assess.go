package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
	"revidit/web/pages"
)

const (
	maxLine = 1 << 20 // bytes of one line
	maxNext = 8       // characters to look at next in one answer
)

// assessLine is one specimen of the input.
type assessLine struct {
	id     json.RawMessage // a string or a number, echoed as given
	family string
	stated []judgement.Stated
	asked  bool // the observations answer questions; else they were told freely
}

// evidence of the line: what was told freely tells by what it leaves out, too.
func (l *assessLine) evidence() judgement.Evidence {
	e := judgement.Evidence{Family: l.family, Stated: l.stated}
	if l.asked || len(l.stated) == 0 {
		return e
	}
	var list []string
	for _, s := range l.stated {
		list = append(list, s.Character)
	}
	e.Free = []judgement.FreeList{{Mentioned: list}}
	return e
}

// assessed is one answer of the output.
type assessed struct {
	ID             json.RawMessage      `json:"id"`
	Family         string               `json:"family"`
	Confidence     float64              `json:"confidence"`
	Ranking        []judgement.Ranked   `json:"ranking"`
	Contradictions []assessedFlag       `json:"contradictions"`
	Next           []assessedNext       `json:"next"`
	Forms          []judgement.Likeness `json:"forms"`
	Warnings       []string             `json:"warnings"`
}

type assessedFlag struct {
	Kind      judgement.ContradictionKind `json:"kind"`
	Character string                      `json:"character"`
	State     string                      `json:"state"`
	Family    string                      `json:"family"`
	Reason    string                      `json:"reason"`
	Source    string                      `json:"source"`
	Resolve   string                      `json:"resolve"`
}

type assessedNext struct {
	Character string  `json:"character"`
	Bits      float64 `json:"bits"`
	Effort    float64 `json:"effort"`
	// Group and Expect are those of questions of a wider group: whether it belongs to these tables at all.
	Group  string `json:"group,omitempty"`
	Expect string `json:"expect,omitempty"`
}

type assessError struct {
	ID    json.RawMessage `json:"id"`
	Error string          `json:"error"`
}

// runAssess reads specimens as JSON lines and writes one JSON line each. A line that cannot be read gives an error line
// and the run goes on; bad counts them. err is a failure to read or write.
func runAssess(in io.Reader, out io.Writer, judge *judgement.Judge) (bad int, err error) {
	reader := bufio.NewReaderSize(in, 64<<10)
	encoder := json.NewEncoder(out)
	encoder.SetEscapeHTML(false)
	site := pages.Site{Program: true, IDs: true, Books: []pages.Book{pages.BookOf(judge.Tables())}}
	if wider := judge.Wider(); wider != nil {
		site.Books = append(site.Books, pages.BookOf(wider))
	}
	for {
		line, tooLong, readErr := readLine(reader)
		if readErr != nil && readErr != io.EOF {
			return bad, fmt.Errorf("read the specimens: %w", readErr)
		}
		if tooLong || len(bytes.TrimSpace(line)) > 0 {
			answer, ok := assessOne(line, tooLong, judge, site)
			if !ok {
				bad++
			}
			if err := encoder.Encode(answer); err != nil {
				return bad, fmt.Errorf("write the assessments: %w", err)
			}
		}
		if readErr == io.EOF {
			return bad, nil
		}
	}
}

// readLine returns the next line without holding more than maxLine of it; err is io.EOF with the last one.
func readLine(reader *bufio.Reader) (line []byte, tooLong bool, err error) {
	for {
		part, err := reader.ReadSlice('\n')
		if len(line)+len(part) > maxLine {
			tooLong = true
		} else {
			line = append(line, part...)
		}
		if err != bufio.ErrBufferFull {
			return line, tooLong, err
		}
	}
}

func assessOne(text []byte, tooLong bool, judge *judgement.Judge, site pages.Site) (answer any, ok bool) {
	if tooLong {
		return assessError{ID: json.RawMessage("null"), Error: fmt.Sprintf("the line is longer than %d bytes", maxLine)}, false
	}
	line, err := parseLine(text, judge)
	if err != nil {
		return assessError{ID: line.id, Error: err.Error()}, false
	}
	a := pages.InWords(context.Background(), site, judge.Assess(line.evidence()), "")
	out := assessed{ID: line.id, Family: a.Family, Confidence: a.Confidence, Ranking: a.Ranking,
		Contradictions: []assessedFlag{}, Next: []assessedNext{}, Forms: []judgement.Likeness{}, Warnings: a.Warnings}
	for _, c := range a.Contradictions {
		out.Contradictions = append(out.Contradictions, assessedFlag{c.Kind, c.Character, c.State, c.Family, c.Reason, c.Source, c.Resolve})
	}
	for _, n := range a.Next[:min(len(a.Next), maxNext)] {
		out.Next = append(out.Next, assessedNext{n.Character, n.Bits, n.Effort, n.Group, n.Expect})
	}
	out.Forms = append(out.Forms, a.Forms...)
	return out, true
}

// parseLine reads token by token, because the plain decoder lets the last of two equal keys win silently. After an
// error the line still has its id where one can be found.
func parseLine(text []byte, judge *judgement.Judge) (line assessLine, err error) {
	line.id = json.RawMessage("null")
	var known struct {
		ID json.RawMessage `json:"id"`
	}
	if json.Unmarshal(text, &known) == nil && checkID(known.ID) == nil && known.ID != nil {
		line.id = known.ID
	}
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.UseNumber()
	err = parseObject(decoder, "the line", func(key string) error {
		switch key {
		case "id":
			var id json.RawMessage
			if err := decoder.Decode(&id); err != nil {
				return notJSON(err)
			}
			return checkID(id)
		case "family":
			return parseFamily(decoder, &line, judge.Tables())
		case "observations":
			return parseObservations(decoder, &line, judge)
		case "list":
			return parseList(decoder, &line)
		}
		return fmt.Errorf("unknown field %q; allowed are id, family, observations and list", key)
	})
	if err == nil && decoder.More() {
		err = errors.New("there is more on the line after the end of the object")
	}
	return line, err
}

func notJSON(err error) error {
	// Go 1.27 tells a cut-off object by a syntax error with these words, Go 1.26 by one of the two others.
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) || err.Error() == "unexpected end of JSON input" {
		return errors.New("not JSON: the line ends too early")
	}
	return fmt.Errorf("not JSON: %w", err)
}

// parseObject reads an object and calls field after each key, to read its value.
func parseObject(decoder *json.Decoder, what string, field func(key string) error) error {
	open, err := decoder.Token()
	if err != nil {
		return notJSON(err)
	}
	if open != json.Delim('{') {
		return fmt.Errorf("%s must be a JSON object", what)
	}
	seen := map[string]bool{}
	for decoder.More() {
		token, err := decoder.Token()
		if err != nil {
			return notJSON(err)
		}
		key, ok := token.(string)
		if !ok {
			return fmt.Errorf("not JSON: %v where a name was expected", token)
		}
		if seen[key] {
			return fmt.Errorf("%s: %q is given twice", what, key)
		}
		seen[key] = true
		if err := field(key); err != nil {
			return err
		}
	}
	if _, err := decoder.Token(); err != nil {
		return notJSON(err)
	}
	return nil
}

func checkID(id json.RawMessage) error {
	text := bytes.TrimSpace(id)
	if len(text) == 0 || text[0] == '"' || text[0] == '-' || text[0] >= '0' && text[0] <= '9' || string(text) == "null" {
		return nil
	}
	return errors.New("id must be a string or a number")
}

func parseFamily(decoder *json.Decoder, line *assessLine, tables *diagnosis.Tables) error {
	var value any
	if err := decoder.Decode(&value); err != nil {
		return notJSON(err)
	}
	if value == nil {
		return nil
	}
	name, ok := value.(string)
	if !ok {
		return errors.New("family must be a string")
	}
	if _, _, known := tables.Resolve(name); name != "" && !known {
		return fmt.Errorf("family: there is no %q in the tables; %s", name, allowedNames(tables, name))
	}
	line.family = name
	return nil
}

// parseList reads how the observations arose.
func parseList(decoder *json.Decoder, line *assessLine) error {
	var value any
	if err := decoder.Decode(&value); err != nil {
		return notJSON(err)
	}
	switch value {
	case "free", nil:
		return nil
	case "asked":
		line.asked = true
		return nil
	}
	return errors.New("list must be free (told as it struck the eye) or asked (answers to questions); left out, it is free")
}

// allowedNames are the nearest ones to a mistyped name, or all where none is near.
func allowedNames(tables *diagnosis.Tables, name string) string {
	if near := tables.DidYouMean(name); near != "" {
		return "allowed are nothing, an old name and every " + tables.Group.Rank + near
	}
	var names []string
	for _, f := range tables.Families {
		names = append(names, f.Name)
	}
	return "allowed are nothing, an old name, " + strings.Join(names, ", ")
}

func parseObservations(decoder *json.Decoder, line *assessLine, judge *judgement.Judge) error {
	return parseObject(decoder, "observations", func(character string) error {
		var value any
		if err := decoder.Decode(&value); err != nil {
			return notJSON(err)
		}
		if _, known := judge.Tables().Character(character); !known {
			return fmt.Errorf("observations: there is no character %q; allowed are %s", character, strings.Join(characterIDs(judge.Tables()), ", "))
		}
		state, err := stateOf(judge.Tables(), character, value)
		if err != nil {
			return err
		}
		if err := judge.CheckState(character, state); err != nil {
			return fmt.Errorf("observations: %w", err)
		}
		line.stated = append(line.stated, judgement.Stated{Character: character, State: state})
		return nil
	})
}

func characterIDs(tables *diagnosis.Tables) []string {
	ids := make([]string, len(tables.Characters))
	for i, c := range tables.Characters {
		ids[i] = c.ID
	}
	slices.Sort(ids)
	return ids
}

// stateOf is a state as text: 5, 5.0 and "5" are the same count.
func stateOf(tables *diagnosis.Tables, character string, value any) (string, error) {
	switch v := value.(type) {
	case string:
		return v, nil
	case json.Number:
		c, _ := tables.Character(character)
		if c.Kind == diagnosis.KindStates {
			ids := make([]string, len(c.States))
			for i, s := range c.States {
				ids[i] = s.ID
			}
			return "", fmt.Errorf("observations: %s takes a state, not the number %s; allowed are %s", character, v, strings.Join(ids, ", "))
		}
		if n, err := v.Float64(); err == nil {
			return strconv.FormatFloat(n, 'f', -1, 64), nil
		}
		return v.String(), nil
	}
	return "", fmt.Errorf("observations: %s must be a state or a number", character)
}

type assessCommand struct {
	tablesFlag
	Group string `help:"Group of tables to assess against; empty: that of the first --tables, or the beetles." placeholder:"ID"`
}

// judge is that of the chosen group.
func (c *assessCommand) judge() (*judgement.Judge, error) {
	library, err := c.library()
	if err != nil {
		return nil, err
	}
	group := c.Group
	if group == "" {
		group = library.First()
		if named, err := c.named(); err == nil && len(named) > 0 {
			group = named[0].Group.ID
		}
	}
	judge := library.BuiltIn(group)
	if judge == nil {
		return nil, fmt.Errorf("there is no group %q of tables; --tables DIR adds one", group)
	}
	return judge, nil
}

// Run assesses line by line, and ends with code 1 when a line could not be read.
func (c *assessCommand) Run(io console) error {
	judge, err := c.judge()
	if err != nil {
		return err
	}
	out := bufio.NewWriter(io.out)
	bad, err := runAssess(io.in, out, judge)
	if flushed := out.Flush(); err == nil {
		err = flushed
	}
	if err != nil {
		return err
	}
	if bad > 0 {
		fmt.Fprintf(io.err, "revidit: %d %s could not be assessed; the errors stand in the output\n", bad, plural(bad, "line", "lines"))
		return exitError{1}
	}
	return nil
}
