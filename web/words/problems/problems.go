// Package problems says errors in the language of who reads them, and gives each sentence its code.
//
// The formats that errors are made of stand in English where they are made. problems.en.yaml gives each its code, which stays where
// words change; problems.de.yaml says it in German. What stands in their places is said as it is, but for phrases.de.yaml: words of
// ours that stand in places of sentences, and sentences that others make.
package problems

import (
	"context"
	_ "embed"
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v4"
	"golang.org/x/text/language"

	"revidit/review"
	"revidit/web/words"
)

//go:embed problems.en.yaml
var english []byte

//go:embed problems.de.yaml
var german []byte

//go:embed phrases.de.yaml
var germanPhrases []byte

var (
	codes   = inverted(read(english)) // by format
	formats = map[language.Tag]map[string]string{language.German: read(german)}
	phrases = map[language.Tag][]phrase{language.German: phrasesOf(read(germanPhrases))}
	// sentences are phrases, and errors as a record holds them.
	sentences = map[language.Tag][]phrase{language.German: phrasesOf(asPhrases(read(english), read(german), read(germanPhrases)))}
)

// read panics where a file of the program is broken.
func read(file []byte) map[string]string {
	texts := map[string]string{}
	if err := yaml.Load(file, &texts); err != nil {
		panic(err)
	}
	return texts
}

func inverted(texts map[string]string) map[string]string {
	keys := make(map[string]string, len(texts))
	for key, text := range texts {
		keys[text] = key
	}
	return keys
}

// Code is that of a sentence; empty for one of whose making nothing is known, or that says only what somebody else says.
func Code(w *review.Wording) string {
	if w == nil {
		return ""
	}
	return codes[w.Format]
}

// Say is a message in the language of the context: English, where nobody has translated it.
func Say(ctx context.Context, message string, w *review.Wording) string {
	tag := words.Tag(ctx)
	if tag == language.English {
		return message
	}
	format, known := formats[tag][Code(w)]
	if !known {
		return said(phrases[tag], message)
	}
	args := make([]any, len(w.Args))
	for i, arg := range w.Args {
		args[i] = place(ctx, arg)
	}
	return fmt.Sprintf(format, args...)
}

// In is an error in the language of the context, with its codes.
func In(ctx context.Context, e *review.Error) *review.Error {
	in := &review.Error{Kind: e.Kind, Message: Say(ctx, e.Message, e.Wording()), Look: e.Look}
	in.Fields = Fields(ctx, e.Fields)
	return in
}

// Fields are field problems in the language of the context, with their codes.
func Fields(ctx context.Context, fields []review.FieldProblem) []review.FieldProblem {
	in := make([]review.FieldProblem, len(fields))
	for i, f := range fields {
		code := f.Code
		if code == "" {
			code = Code(f.Wording())
		}
		in[i] = review.FieldProblem{Field: f.Field, Message: Say(ctx, f.Message, f.Wording()), Code: code}
	}
	return in
}

// place is what stands in a place of a sentence.
func place(ctx context.Context, arg any) any {
	switch arg := arg.(type) {
	case review.Role:
		return words.T(ctx, "common.role-"+string(arg))
	case review.Status:
		return words.T(ctx, "common.status-"+string(arg))
	case string:
		return quoted(said(phrases[words.Tag(ctx)], arg))
	case error:
		return quoted(said(phrases[words.Tag(ctx)], arg.Error()))
	case fmt.Stringer:
		return quoted(arg.String())
	case float64:
		return decimal{ctx, arg}
	}
	return arg
}

// quoted is a text that %q puts between the quotes of German; what could not be seen is written as Go writes it.
type quoted string

// Format implements fmt.Formatter.
func (q quoted) Format(f fmt.State, verb rune) {
	if verb != 'q' {
		fmt.Fprintf(f, fmt.FormatString(f, verb), string(q))
		return
	}
	inner := strconv.Quote(string(q))
	fmt.Fprint(f, "„"+strings.ReplaceAll(inner[1:len(inner)-1], `\"`, `"`)+"“")
}

// decimal is a number that is written as the language does.
type decimal struct {
	ctx context.Context
	x   float64
}

// Format implements fmt.Formatter.
func (d decimal) Format(f fmt.State, verb rune) {
	text := fmt.Sprintf(fmt.FormatString(f, verb), d.x)
	fmt.Fprint(f, strings.Replace(text, ".", ",", 1))
}
