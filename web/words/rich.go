package words

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"slices"

	"github.com/a-h/templ"
)

// Parts say what the tags of a text become, by their names: links round some of its words, and what is put where <name/> stands.
type Parts map[string]Part

// Part is what one tag becomes.
type Part struct {
	open, shut string          // HTML round the words of the tag
	put        templ.Component // instead of <name/>
}

// Link makes a link of the words of a tag. An address that is none becomes a harmless one (templ.URL).
func Link(address string) Part {
	return Part{open: `<a href="` + templ.EscapeString(string(templ.URL(address))) + `">`, shut: "</a>"}
}

// Put puts a component where <name/> stands.
func Put(c templ.Component) Part { return Part{put: c} }

// plainTags need no word in Parts: they become themselves.
var plainTags = []string{"b", "code", "em", "i", "kbd", "q", "small", "strong"}

var tagForm = regexp.MustCompile(`<(/?)([a-z]+)(/?)>`)

// Rich is a text with tags as HTML. Values are escaped, so that no tag comes from them; texts of ours are checked by the tests of this
// package to hold nothing else that HTML would read.
func Rich(id string, parts Parts, args ...any) templ.Component {
	return rich(id, parts, args, func(ctx context.Context, escaped []any) string { return T(ctx, id, escaped...) })
}

// RichN is Rich in the plural form of a count.
func RichN(id string, count int, parts Parts, args ...any) templ.Component {
	return rich(id, parts, args, func(ctx context.Context, escaped []any) string { return N(ctx, id, count, escaped...) })
}

func rich(id string, parts Parts, args []any, text func(context.Context, []any) string) templ.Component {
	escaped := slices.Clone(args)
	for i := 1; i < len(escaped); i += 2 {
		escaped[i] = templ.EscapeString(fmt.Sprint(escaped[i]))
	}
	return templ.ComponentFunc(func(ctx context.Context, w io.Writer) error {
		return renderTagged(ctx, w, id, text(ctx, escaped), parts)
	})
}

// renderTagged writes a text whose values are escaped, with its tags replaced.
func renderTagged(ctx context.Context, w io.Writer, id, text string, parts Parts) error {
	from := 0
	for _, at := range tagForm.FindAllStringSubmatchIndex(text, -1) {
		if _, err := io.WriteString(w, text[from:at[0]]); err != nil {
			return err
		}
		from = at[1]
		shut, name, alone := at[2] < at[3], text[at[4]:at[5]], at[6] < at[7]
		part, known := parts[name]
		switch {
		case known && alone && part.put != nil:
			if err := part.put.Render(ctx, w); err != nil {
				return err
			}
			continue
		case !known && !alone && slices.Contains(plainTags, name):
			part = Part{open: "<" + name + ">", shut: "</" + name + ">"}
		case !known || alone || part.put != nil:
			fault(id, "", fmt.Errorf("nothing is said of <%s>", name))
			continue
		}
		html := part.open
		if shut {
			html = part.shut
		}
		if _, err := io.WriteString(w, html); err != nil {
			return err
		}
	}
	_, err := io.WriteString(w, text[from:])
	return err
}
