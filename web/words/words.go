// Package words holds what people read, in the languages that Revidit speaks: English, which is complete, and German.
//
// Each page has a pair of files, NAME.en.yaml and NAME.de.yaml; `common` holds what many of them say. A key KEY of the file
// NAME is the text of the id NAME.KEY, or a mapping of its plural forms one and other. Texts hold places for values,
// {{.Name}}, and those that Rich shows hold tags. The language travels in the context (In), and so does the zone of times.
package words

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"

	"github.com/nicksnyder/go-i18n/v2/i18n"
	"golang.org/x/text/language"
)

// Languages are those that there are texts in; the first is that of whoever asks for none of them.
var Languages = []language.Tag{language.English, language.German}

// OwnName is what a language calls itself.
func OwnName(tag language.Tag) string { return ownNames[tag] }

var ownNames = map[language.Tag]string{language.English: "English", language.German: "Deutsch"}

type languageKey struct{}

// In is a context in which everything is said in a language; one that there are no texts in leaves the context as it is.
func In(ctx context.Context, tag language.Tag) context.Context {
	for _, known := range Languages {
		if known == tag {
			return context.WithValue(ctx, languageKey{}, tag)
		}
	}
	return ctx
}

// Tag is the language of a context.
func Tag(ctx context.Context) language.Tag {
	if tag, ok := ctx.Value(languageKey{}).(language.Tag); ok {
		return tag
	}
	return Languages[0]
}

var matcher = language.NewMatcher(Languages)

// Match is the language of the first of some wishes that asks for one of those that there are: language tags, or lists of them as
// Accept-Language has them (RFC 9110 section 12.5.4).
func Match(wishes ...string) language.Tag {
	_, i := language.MatchStrings(matcher, wishes...)
	return Languages[i]
}

// Of is the language that a stored tag names; ok is false where there are no texts in it.
func Of(stored string) (tag language.Tag, ok bool) {
	for _, known := range Languages {
		if known.String() == stored {
			return known, true
		}
	}
	return Languages[0], false
}

// T is the text of an id. args are names of places in it and their values, by turns.
func T(ctx context.Context, id string, args ...any) string { return say(ctx, id, nil, args) }

// N is the text of an id in the plural form of a count, which stands in the place {{.Count}}.
func N(ctx context.Context, id string, count int, args ...any) string {
	return say(ctx, id, count, append([]any{"Count", Number(ctx, float64(count))}, args...))
}

// Has says whether there is a text of an id: for codes that may be older or newer than the texts.
func Has(id string) bool { return texts.has(id) }

// Raw are the texts of a file by their keys, with the places in them, for scripts that put in the values themselves.
func Raw(ctx context.Context, name string) map[string]string {
	found := map[string]string{}
	for id, m := range texts.messages[Tag(ctx)] {
		if key, ok := strings.CutPrefix(id, name+"."); ok {
			found[key] = m.Other
		}
	}
	return found
}

func say(ctx context.Context, id string, count any, args []any) string {
	tag := Tag(ctx)
	if len(args) == 0 {
		if text, ok := texts.plain[tag][id]; ok {
			return text
		}
	}
	values, err := named(args)
	if err != nil {
		return fault(id, id, err)
	}
	text, err := texts.localizers[tag].Localize(&i18n.LocalizeConfig{MessageID: id, TemplateData: values, PluralCount: count, TemplateParser: strict})
	if err != nil {
		if text == "" {
			text = id
		}
		return fault(id, text, err)
	}
	return text
}

func named(args []any) (map[string]any, error) {
	if len(args)%2 != 0 {
		return nil, errors.New("a name without a value")
	}
	values := map[string]any{}
	for i := 0; i < len(args); i += 2 {
		name, ok := args[i].(string)
		if !ok {
			return nil, fmt.Errorf("%v is no name of a place", args[i])
		}
		values[name] = args[i+1]
	}
	return values, nil
}

// faults are ids that something was wrong with, each logged once.
var faults sync.Map

// fault is what is said where a text is missing or does not take its values. Tests must not get past it; people do, and are told
// in English, or the id.
func fault(id, instead string, err error) string {
	if testing.Testing() {
		panic(fmt.Sprintf("words: %s: %v", id, err))
	}
	if _, known := faults.LoadOrStore(id, true); !known {
		slog.Error("words", "id", id, "error", err.Error())
	}
	return instead
}
