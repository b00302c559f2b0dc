package pages

import (
	"bytes"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/bidi"
)

// What people type may be written from right to left, or hold characters that turn the order of letters round (Unicode
// Standard Annex 9). None of it may reorder what stands beside it: a name must not turn the date behind it round. So
// typed marks where such a text begins and ends, and Isolate makes elements of the marks, where a page is whole.

// Marks of the beginning and the end of a typed text: characters that stand for nothing in any text (noncharacters), and
// never leave this program.
const (
	typedBegin = "\uFDD0"
	typedEnd   = "\uFDD1"
)

// Isolates of plain text, for where no element may stand.
const (
	firstStrongIsolate = "\u2068"
	popIsolate         = "\u2069"
)

// shownControls are the characters that turn the order round, as they are shown instead.
var shownControls = func() []string {
	var pairs []string
	for _, r := range "\u202A\u202B\u202C\u202D\u202E\u2066\u2067\u2068\u2069" {
		pairs = append(pairs, string(r), fmt.Sprintf("[U+%04X]", r))
	}
	return pairs
}()

var (
	shown    = replacing("", "")
	elements = replacing("<bdi>", "</bdi>")
	isolates = replacing(firstStrongIsolate, popIsolate)
	unmarked = strings.NewReplacer(typedBegin, "", typedEnd, "")
)

// replacing shows what turns the order round, and puts other marks in place of those of a typed text.
func replacing(begin, end string) *strings.Replacer {
	return strings.NewReplacer(append(slices.Clone(shownControls), typedBegin, begin, typedEnd, end)...)
}

// typed is a text that somebody has typed, for a place in a page. One that cannot reorder anything stays as it is.
func typed(text string) string {
	if !reorders(text) {
		return text
	}
	return typedBegin + shown.Replace(text) + typedEnd
}

func reorders(text string) bool {
	for i := 0; i < len(text); i++ {
		if text[i] >= utf8.RuneSelf {
			return strings.ContainsFunc(text[i:], fromRight) || strings.Contains(text, typedBegin) || strings.Contains(text, typedEnd)
		}
	}
	return false
}

// fromRight says whether a letter is written from right to left, or turns the order round.
func fromRight(r rune) bool {
	const first = 0x590 // below are no such letters (Unicode, block Hebrew)
	if r < first {
		return false
	}
	properties, _ := bidi.LookupRune(r)
	switch properties.Class() {
	case bidi.R, bidi.AL, bidi.AN, bidi.Control, bidi.LRO, bidi.RLO, bidi.LRE, bidi.RLE, bidi.PDF, bidi.LRI, bidi.RLI, bidi.FSI, bidi.PDI:
		return true
	}
	return false
}

// PlainText is a text for a letter or a terminal: what somebody typed is isolated by characters, since there are no elements.
func PlainText(text string) string { return isolates.Replace(text) }

// tag is a tag of a page of ours, in which quotes are never left open, and its name.
var (
	tag        = regexp.MustCompile(`<(/?[a-zA-Z!][a-zA-Z0-9-]*)(?:"[^"]*"|[^">])*>`)
	fieldValue = regexp.MustCompile(` value="[^"]*"`)
)

// Isolate keeps what was typed apart from the rest of a page, the same for a part of one. What a field holds stays as it
// was typed: fields are apart by themselves.
func Isolate(page []byte) []byte {
	text := string(page)
	if !reorders(text) {
		return page
	}
	var out bytes.Buffer
	inside := "" // of an element that holds no other
	for at := 0; at < len(text); {
		next := tag.FindStringSubmatchIndex(text[at:])
		if next == nil {
			next = []int{len(text) - at, len(text) - at, len(text) - at, len(text) - at}
		}
		out.WriteString(isolatedText(text[at:at+next[0]], inside))
		out.WriteString(isolatedTag(text[at+next[0] : at+next[1]]))
		inside = elementAfter(inside, text[at+next[2]:at+next[3]])
		at += next[1]
	}
	return out.Bytes()
}

func elementAfter(inside, name string) string {
	switch name {
	case "title", "option", "textarea":
		return name
	case "/title", "/option", "/textarea":
		return ""
	}
	return inside
}

// isolatedText is the text between two tags.
func isolatedText(text, inside string) string {
	switch inside {
	case "textarea":
		return unmarked.Replace(text)
	case "title", "option":
		return isolates.Replace(text)
	}
	return elements.Replace(markRuns(text))
}

func isolatedTag(tag string) string {
	var out strings.Builder
	for tag != "" {
		value := fieldValue.FindStringIndex(tag)
		if value == nil {
			value = []int{len(tag), len(tag)}
		}
		out.WriteString(isolates.Replace(tag[:value[0]]))
		out.WriteString(unmarked.Replace(tag[value[0]:value[1]]))
		tag = tag[value[1]:]
	}
	return out.String()
}

// markRuns marks what is written from right to left and is not marked yet, such as a name in the words of an error. Marks
// do not stand within one another, since typed leaves out those of a part.
func markRuns(text string) string {
	if !reorders(text) {
		return text
	}
	var out strings.Builder
	for text != "" {
		before, rest, found := strings.Cut(text, typedBegin)
		out.WriteString(marked(unmarked.Replace(before)))
		if !found {
			break
		}
		inner, after, _ := strings.Cut(rest, typedEnd)
		out.WriteString(typedBegin + inner + typedEnd)
		text = after
	}
	return out.String()
}

// marked marks each run of a text without marks: from its first letter to its last one before letters of the other
// direction follow.
func marked(text string) string {
	var out strings.Builder
	done, begin, end := 0, -1, -1
	finish := func() {
		if begin >= 0 {
			out.WriteString(text[done:begin] + typedBegin + text[begin:end] + typedEnd)
			done, begin = end, -1
		}
	}
	for i, r := range text {
		if fromRight(r) {
			if begin < 0 {
				begin = i
			}
			end = i + utf8.RuneLen(r)
		} else if isLeft(r) {
			finish()
		}
	}
	finish()
	return out.String() + text[done:]
}

func isLeft(r rune) bool {
	properties, _ := bidi.LookupRune(r)
	return properties.Class() == bidi.L
}
