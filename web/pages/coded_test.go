package pages

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/photo"
)

// codesInSource are the codes that the record and its stores make, with the names of what they are about.
func codesInSource(t *testing.T) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	look := func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok || len(call.Args) == 0 {
			return true
		}
		name := ""
		switch f := call.Fun.(type) {
		case *ast.Ident:
			name = f.Name
		case *ast.SelectorExpr:
			name = f.Sel.Name
		}
		var texts []string
		for i, arg := range call.Args {
			if lit, ok := arg.(*ast.BasicLit); ok && lit.Kind == token.STRING && (i == 0 || i%2 == 1) {
				text, _ := strconv.Unquote(lit.Value)
				texts = append(texts, text)
			}
		}
		switch {
		case len(texts) == 0 || literalFirst(call) == nil:
		case name == "Code":
			found[texts[0]] = texts[1:]
		case name == "otherwise":
			found[texts[0]] = []string{"position", "stream"}
		}
		return true
	}
	for _, room := range []string{"review", "models"} {
		require.NoError(t, filepath.WalkDir(filepath.Join("..", "..", room), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err == nil {
				ast.Inspect(file, look)
			}
			return err
		}))
	}
	return found
}

// literalFirst is the first argument of a call where it is a literal, such as a code is.
func literalFirst(call *ast.CallExpr) *ast.BasicLit {
	lit, _ := call.Args[0].(*ast.BasicLit)
	return lit
}

// TestEveryCodeHasWords: in each language, and what it is about stands in them.
func TestEveryCodeHasWords(t *testing.T) {
	codes := codesInSource(t)
	require.Greater(t, len(codes), 20)
	for code, about := range codes {
		c := review.Coded{Code: code, About: map[string]string{}}
		for i, name := range about {
			c.About[name] = strconv.Itoa(701 + i) // a number is taken in every place
		}
		english, inGerman := Site{}.coded(t.Context(), c), Site{}.coded(german(t), c)
		assert.NotEqual(t, c.String(), english, "%s has no words", code)
		if code != "found-part" && code != "flag-state" { // they hold nothing but places
			assert.NotEqual(t, english, inGerman, code)
		}
		for name, value := range c.About {
			assert.Contains(t, english, value, "%s does not say its %s", code, name)
			assert.Contains(t, inGerman, value, "%s does not say its %s in German", code, name)
		}
	}
	for _, w := range []photo.Warning{photo.WarnMetadata, photo.WarnProfile, photo.WarnProfileCopy, photo.WarnPages, photo.WarnPictures, photo.WarnKeptAsJPEG.Of("HEIC")} {
		require.NotEqual(t, string(w), PhotoWarning(t.Context(), w))
		require.NotEqual(t, PhotoWarning(t.Context(), w), PhotoWarning(german(t), w))
	}
	require.Contains(t, PhotoWarning(t.Context(), photo.WarnKeptAsJPEG.Of("HEIC")), "a HEIC picture")
	for _, reason := range []string{review.ReasonTakenBack, review.ReasonDraftWithdrawn, review.ReasonDraftChanged} {
		require.NotEqual(t, reason, Given(t.Context(), reason))
		require.NotEqual(t, Given(t.Context(), reason), Given(german(t), reason))
	}
}

// TestWhatWasStoredBeforeCodesIsToldAsThem: sentences of before say, in every language, what their codes say now.
func TestWhatWasStoredBeforeCodesIsToldAsThem(t *testing.T) {
	for _, c := range []struct {
		beginning, stored string
		now               review.Coded
	}{
		{"sentence.doubt-", "the tables would have no family Aidae", review.Code("doubt-no-family", "family", "Aidae")},
		{"sentence.doubt-", "the confidence would fall from 0.951 to 0.920, below the policy's 0.950", review.Code("doubt-fall", "from", "0.951", "to", "0.920", "least", "0.950")},
		{"sentence.doubt-", "Buprestidae would lead", review.Code("doubt-lead", "hypothesis", "Buprestidae")},
		{"sentence.doubt-", "antenna-form would be excluded", review.Code("doubt-contradiction", "character", "antenna-form", "kind", "excluded")},
		{"sentence.flag-", "unusual: prosternal-process, click-spine", review.Code("flag-state", "kind", "unusual", "character", "prosternal-process", "state", "click-spine")},
		{"sentence.missing-", "it has not been assessed", review.Code("missing-not-assessed")},
		{"sentence.missing-", "2 more reviewers must agree with the name before they see what others say (1 agreed after that)", review.Code("missing-more", "count", "2", "after", "1")},
		{"coded.found-", "positions: wrong # of entries in index x", review.Code("found-part", "part", "positions", "words", "wrong # of entries in index x")},
		{"coded.found-", "the event at position 7 is gone", review.Code("found-gone", "position", "7")},
		{"coded.found-", "event 3 of submission/s1, at position 12, is not what was signed", review.Code("found-altered", "seq", "3", "stream", "submission/s1", "position", "12")},
		{"coded.found-", "the assessment at position 4, of submission/s, comes out otherwise than it was stored", review.Code("found-otherwise", "position", "4", "stream", "submission/s")},
		{"sentence.units-", "units have from 2 to 4 ratings, and Fleiss' kappa asks for one number: alpha takes its place", review.Code("units-fleiss", "least", "2", "most", "4")},
	} {
		stored, now := Site{}.AllCoded(t.Context(), nil, c.beginning, []string{c.stored}), Site{}.AllCoded(t.Context(), []review.Coded{c.now}, c.beginning, nil)
		require.Equal(t, stored, now)
		require.Equal(t, c.stored, now[0], "English says what it said")
		require.Equal(t, Site{}.AllCoded(german(t), nil, c.beginning, []string{c.stored}), Site{}.AllCoded(german(t), []review.Coded{c.now}, c.beginning, nil))
	}
	trigger := "triggers: the trigger events_refuse_update is missing or disabled, so that the database lets what is never changed be changed; revidit verify tells whether it was"
	require.Contains(t, Site{}.AllCoded(german(t), nil, "coded.found-", []string{trigger})[0], "der Trigger events_refuse_update fehlt")
	unmade := "the assessment at position 4, of submission/s, cannot be made again: There is no event at position 7."
	require.Contains(t, Site{}.AllCoded(german(t), nil, "coded.found-", []string{unmade})[0], "lässt sich nicht nachrechnen: An der Stelle 7 steht kein Ereignis.")
	require.Equal(t, "im Entwurf geändert", Given(german(t), "changed in the draft"))
	require.Equal(t, "Miscounted", Given(german(t), "Miscounted"), "what a person wrote stays")
	require.Equal(t, "later-code about=x", Site{}.coded(t.Context(), review.Code("later-code", "about", "x")))
	line := audit.AgreementLine{FleissNote: "units have from 2 to 4 ratings, and Fleiss' kappa asks for one number: alpha takes its place"}
	require.Contains(t, fleissWords(german(t), line), "Alpha tritt an seine Stelle")
}
