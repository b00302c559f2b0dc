package label

import (
	"slices"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// piece is what a label tells of one field.
type piece struct {
	field Field
	runs  []Run
	glue  string // between it and the piece before on the same line
}

func (p piece) text() string { return Line(p.runs).String() }

// draft is a label before it is known what fits: each paragraph begins a new line.
type draft [][]piece

func (d draft) find(field Field) *piece {
	for _, paragraph := range d {
		for i := range paragraph {
			if paragraph[i].field == field {
				return &paragraph[i]
			}
		}
	}
	return nil
}

// without leaves a field out.
func (d draft) without(field Field) {
	for i := range d {
		d[i] = slices.DeleteFunc(d[i], func(p piece) bool { return p.field == field })
	}
}

// step shortens a draft and says what it has done; nothing where there is nothing to shorten.
type step func(d draft) []Shortening

// rewrite shortens what stands in some fields.
func rewrite(how How, shorter func(string) string, fields ...Field) step {
	return func(d draft) (done []Shortening) {
		for _, field := range fields {
			p := d.find(field)
			if p == nil {
				continue
			}
			full := p.text()
			for i := range p.runs {
				p.runs[i].Text = shorter(p.runs[i].Text)
			}
			if short := p.text(); short != full {
				done = append(done, Shortening{field, how, plain(full), plain(short)})
			}
		}
		return done
	}
}

// leaveOut drops a field.
func leaveOut(field Field) step {
	return func(d draft) []Shortening {
		p := d.find(field)
		if p == nil {
			return nil
		}
		full := p.text()
		d.without(field)
		return []Shortening{{field, LeftOut, plain(full), ""}}
	}
}

// plain is a text as people read it.
func plain(text string) string { return strings.ReplaceAll(text, hard, " ") }

// recipe is how the labels of a kind are shortened: gentle steps leave all of it readable in the usual size of type, others drop what
// can be found again, and cut names the fields that lose words at last, the longest first.
type recipe struct {
	gentle, drops []step
	cut           []Field
}

// set sets a draft so that it fits: as it is; abbreviated; in smaller type; without what can be found again by its number, one thing
// after the other; and at last cut.
func (s Setter) set(d draft, r recipe, left float64) Typeset {
	l := Typeset{Point: Point, Shortened: s.withoutStrangers(d)}
	width := s.Size.Width - left - marginSide
	fits := func() bool {
		l.Lines = s.wrap(d, width, l.Point)
		return len(l.Lines) <= s.lines(l.Point)
	}
	shorten := func(steps []step) bool {
		for _, shorter := range steps {
			done := shorter(d)
			l.Shortened = append(l.Shortened, done...)
			if len(done) > 0 && fits() {
				return true
			}
		}
		return false
	}
	if fits() || shorten(r.gentle) {
		return l
	}
	l.Point = SmallPoint
	l.Shortened = append(l.Shortened, Shortening{Field: Whole, How: SmallerType})
	if fits() || shorten(r.drops) {
		return l
	}
	s.cut(d, r.cut, &l, fits)
	return l
}

// cut takes words from the ends of fields, of the longest first, and notes each field once.
func (s Setter) cut(d draft, fields []Field, l *Typeset, fits func() bool) {
	full := map[Field]string{}
	for {
		p := longest(d, fields)
		if p == nil {
			break
		}
		if _, known := full[p.field]; !known {
			full[p.field] = p.text()
		}
		shortenEnd(p)
		if fits() {
			break
		}
	}
	for _, field := range fields {
		if before, ok := full[field]; ok {
			l.Shortened = append(l.Shortened, Shortening{field, Cut, plain(before), plain(d.find(field).text())})
		}
	}
	if most := s.lines(l.Point); len(l.Lines) > most { // fields that nothing is taken from fill the label alone
		var lost []string
		for _, line := range l.Lines[most:] {
			lost = append(lost, line.String())
		}
		l.Lines = l.Lines[:most]
		l.Shortened = append(l.Shortened, Shortening{Field: Whole, How: Cut, Full: strings.Join(lost, " ")})
	}
}

// shortest is what is left at least of a field that is cut, in letters.
const shortest = 4

func longest(d draft, fields []Field) *piece {
	var found *piece
	most := shortest
	for _, field := range fields {
		if p := d.find(field); p != nil && len([]rune(p.text())) > most {
			found, most = p, len([]rune(p.text()))
		}
	}
	return found
}

// shortenEnd takes the last word, or of a single word the last letter, and leaves an ellipsis.
func shortenEnd(p *piece) {
	p.runs = slices.Clone(p.runs)
	last := &p.runs[len(p.runs)-1]
	text := strings.TrimRight(strings.TrimSuffix(last.Text, "…"), " ,;")
	switch at := strings.LastIndexAny(text, " "+hard); {
	case at > 0:
		text = text[:at]
	case len(p.runs) > 1:
		p.runs = p.runs[:len(p.runs)-1]
		last = &p.runs[len(p.runs)-1]
		text = last.Text
	default:
		letters := []rune(text)
		text = string(letters[:max(len(letters)-1, 1)])
	}
	last.Text = strings.TrimRight(text, " ,;"+hard) + "…"
}

// withoutStrangers puts a question mark in place of letters that the type does not have, or that are not written from left to right,
// and says so.
func (s Setter) withoutStrangers(d draft) []Shortening {
	shown := func(r rune) rune {
		if r == ' ' || s.Metrics.Has(r) && !unicode.In(r, unicode.Hebrew, unicode.Arabic, unicode.Cc, unicode.Cf) {
			return r
		}
		return '?'
	}
	done := []Shortening{}
	for _, paragraph := range d {
		for i := range paragraph {
			full := paragraph[i].text()
			for j := range paragraph[i].runs {
				run := &paragraph[i].runs[j]
				run.Text = strings.Map(shown, norm.NFC.String(run.Text))
			}
			if short := paragraph[i].text(); short != norm.NFC.String(full) {
				done = append(done, Shortening{paragraph[i].field, Letters, plain(full), plain(short)})
			}
		}
	}
	return done
}

// word is what stands between two spaces, in however many faces.
type word []Run

// wrap breaks a draft into lines no wider than that.
func (s Setter) wrap(d draft, width, point float64) []Line {
	lines := []Line{}
	for _, paragraph := range d {
		var line Line
		for _, w := range words(paragraph) {
			longer := join(line, w)
			if len(line) == 0 || s.width(longer, point) <= width {
				line = longer
			} else {
				lines = append(lines, line)
				line = Line(w)
			}
			for s.width(line, point) > width { // one word alone
				head, tail := s.breakWord(line, width, point)
				if len(tail) == 0 {
					break
				}
				lines = append(lines, head)
				line = tail
			}
		}
		if len(line) > 0 {
			lines = append(lines, line)
		}
	}
	return lines
}

// words are those of a paragraph. The sign before a space belongs to the word before it.
func words(paragraph []piece) []word {
	var all []word
	fresh := true
	for i, p := range paragraph {
		if i > 0 {
			all, fresh = addText(all, p.glue, false, fresh)
		}
		for _, r := range p.runs {
			all, fresh = addText(all, r.Text, r.Italic, fresh)
		}
	}
	return all
}

// addText adds a text to words; fresh says whether the next letter begins a new one.
func addText(all []word, text string, italic, fresh bool) ([]word, bool) {
	for i, part := range strings.Split(text, " ") {
		fresh = fresh || i > 0
		if part == "" {
			continue
		}
		if fresh {
			all = append(all, word{{part, italic}})
		} else {
			all[len(all)-1] = appendRun(all[len(all)-1], Run{part, italic})
		}
		fresh = false
	}
	return all, fresh
}

func appendRun(runs []Run, r Run) []Run {
	if n := len(runs); n > 0 && runs[n-1].Italic == r.Italic {
		runs = slices.Clone(runs)
		runs[n-1].Text += r.Text
		return runs
	}
	return append(slices.Clone(runs), r)
}

// join adds a word to a line, with a space in the face of the line's end.
func join(line Line, w word) Line {
	if len(line) == 0 {
		return Line(slices.Clone(w))
	}
	longer := Line(appendRun(line, Run{" ", line[len(line)-1].Italic}))
	for _, r := range w {
		longer = appendRun(longer, r)
	}
	return longer
}

func (s Setter) width(line Line, point float64) float64 {
	sum := 0.0
	for _, r := range line {
		sum += s.Metrics.Width(r.Text, r.Italic, point)
	}
	return sum
}

// breakWord breaks a line of one word that is wider than a label, behind a hard space, a hyphen or a slash where there is one.
func (s Setter) breakWord(line Line, width, point float64) (head, tail Line) {
	text := []rune(line.String())
	fits, good := 0, 0
	for n := 1; n < len(text); n++ {
		if s.width(firstLetters(line, n), point) > width {
			break
		}
		if fits = n; strings.ContainsRune("-/_"+hard, text[n-1]) {
			good = n
		}
	}
	at := fits
	if good > 0 {
		at = good
	}
	at = max(at, 1)
	head, tail = firstLetters(line, at), lastLetters(line, at)
	head[len(head)-1].Text = strings.TrimRight(head[len(head)-1].Text, hard)
	return head, tail
}

func firstLetters(line Line, n int) Line {
	var head Line
	for _, r := range line {
		letters := []rune(r.Text)
		if n <= 0 {
			break
		}
		head = append(head, Run{string(letters[:min(n, len(letters))]), r.Italic})
		n -= len(letters)
	}
	return head
}

func lastLetters(line Line, n int) Line {
	var tail Line
	for _, r := range line {
		letters := []rune(r.Text)
		if n < len(letters) {
			tail = append(tail, Run{string(letters[max(n, 0):]), r.Italic})
		}
		n -= len(letters)
	}
	return tail
}
