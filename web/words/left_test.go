package words

import (
	"fmt"
	"go/ast"
	"html"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	templ "github.com/a-h/templ/parser/v2"
	"github.com/a-h/templ/parser/v2/visitor"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// untranslated are texts that are the same in every language: names, units, signs of the trade.
var untranslated = []string{"Revidit", "mm", "UTC", "CSV", "det.", "conf.", "leg.", "px"}

// spoken are the attributes that people read or hear.
var spoken = regexp.MustCompile(`^(title|alt|placeholder|label|aria-label|aria-description|aria-roledescription|data-label|data-empty|data-words)$`)

var letters = regexp.MustCompile(`\p{L}{2,}`)

// isWords says whether a text is to be read by people, and not the same in every language.
func isWords(s string) bool {
	for _, word := range strings.Fields(html.UnescapeString(s)) {
		if letters.MatchString(word) && !slices.Contains(untranslated, strings.Trim(word, "()·,:;")) {
			return true
		}
	}
	return false
}

// leftInTempl are the words that stand in a .templ file.
func leftInTempl(t *testing.T, path string) []string {
	file, err := templ.Parse(path)
	require.NoError(t, err, path)
	var left []string
	note := func(where templ.Range, s string) {
		if isWords(s) {
			left = append(left, fmt.Sprintf("%s:%d: %q", filepath.Base(path), where.From.Line+1, s))
		}
	}
	v := visitor.New()
	v.Text = func(n *templ.Text) error { note(n.Range, n.Value); return nil }
	v.ConstantAttribute = func(n *templ.ConstantAttribute) error {
		if spoken.MatchString(n.Key.String()) {
			note(n.Range, n.Value)
		}
		return nil
	}
	require.NoError(t, file.Visit(v))
	return left
}

// sentence is what a literal in Go looks like that people read: two words with a space between them, or one that begins like a sentence.
var sentence = regexp.MustCompile(`\p{L}{2,}[,:;]? \p{L}{2,}|^[A-Z][a-z]{2,}$`)

// silent are functions whose literals nobody reads on a page: errors, which have codes of their own, HTML of templ, queries.
var silent = regexp.MustCompile(`^(review\.(Invalidf|Errorf)|templruntime\.\w+|templ\.\w+|fmt\.Errorf|errors\.New|regexp\.MustCompile|panic|newProblem|slog\.\w+|s\.Log\.\w+|s\.security|words\.\w+|c\.(Header|Data)|\w*[pP]roblems\.Addf)$`)

// leftInGo are the words that stand in literals of a Go file.
func leftInGo(path string, file *ast.File) []string {
	var left []string
	var look func(n ast.Node) bool
	look = func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.CallExpr:
			if !silent.MatchString(called(n)) {
				return true
			}
			for _, arg := range n.Args {
				if call, ok := arg.(*ast.CallExpr); ok {
					ast.Inspect(call, look)
				}
			}
			return false
		case *ast.CompositeLit: // classes of an element
			list, ok := n.Type.(*ast.ArrayType)
			if !ok {
				return true
			}
			of, ok := list.Elt.(*ast.Ident)
			return !ok || of.Name != "any"
		case *ast.ImportSpec, *ast.Field: // tags of fields
			return false
		case *ast.BasicLit:
			if s, ok := text(n); ok && sentence.MatchString(s) && isWords(s) {
				left = append(left, fmt.Sprintf("%s: %q", filepath.Base(path), s))
			}
		}
		return true
	}
	ast.Inspect(file, look)
	return left
}

func called(n *ast.CallExpr) string {
	switch f := n.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		if of, ok := f.X.(*ast.Ident); ok {
			return of.Name + "." + f.Sel.Name
		}
		if of, ok := f.X.(*ast.SelectorExpr); ok {
			if first, ok := of.X.(*ast.Ident); ok {
				return first.Name + "." + of.Sel.Name + "." + f.Sel.Name
			}
		}
	}
	return ""
}

// nounOf is the name of the page that a source belongs to.
func nounOf(path string) string {
	base := strings.TrimSuffix(strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)), "_templ")
	return strings.TrimPrefix(base, "page_")
}

// TestNoWordsAreLeftInCode: what people read on pages that are converted stands in the files of texts.
func TestNoWordsAreLeftInCode(t *testing.T) {
	used := usesOf(t)
	templates, err := filepath.Glob(filepath.Join(webRoot, "pages", "*.templ"))
	require.NoError(t, err)
	require.NotEmpty(t, templates)
	for _, path := range templates {
		if converted(used, nounOf(path)) {
			assert.Empty(t, leftInTempl(t, path), path)
		}
	}
	for path, file := range sources(t) {
		if ofPage(path) && converted(used, nounOf(path)) {
			assert.Empty(t, leftInGo(path, file), path)
		}
	}
}

// ofPage says whether a source of package web or of its pages says anything on pages.
func ofPage(path string) bool {
	return strings.HasPrefix(filepath.Base(path), "page_") || filepath.Base(filepath.Dir(path)) == "pages"
}

func TestTheScanFindsWords(t *testing.T) {
	for _, words := range []string{"Log out", "Photo 1 shows", "Save", "&nbsp;Sex: "} {
		require.True(t, isWords(words), words)
	}
	for _, none := range []string{"·", "12 mm", "Revidit", "&nbsp;", "(UTC)", "(", "a"} {
		require.False(t, isWords(none), none)
	}
	for _, words := range []string{"has looked again", "Save", "%d of them"} {
		require.Regexp(t, sentence, words)
	}
	for _, none := range []string{"photos[", "choose-view", "/submissions?mine=yes", "f-%s"} {
		require.NotRegexp(t, sentence, none)
	}
}
