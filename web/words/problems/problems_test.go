package problems

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/language"

	"revidit/review"
	"revidit/web/words"
)

// root is the module, seen from here.
const root = "../../.."

// makers are the functions that make a sentence for people, with the place of its format among their arguments.
var makers = map[string]int{"Errorf": 1, "Addf": 1, "Invalidf": 1, "Fault": 2, "newProblem": 1, "problemf": 1, "find": 1}

// through say what somebody else says.
var through = []string{"%s", "%s%s", "%s: %s", "%s."}

// source are the literal texts of the program, and those of them that are formats of sentences.
func source(t *testing.T) (literals map[string]bool, formats map[string]string) {
	t.Helper()
	literals, formats = map[string]bool{}, map[string]string{}
	for _, room := range []string{"review", "auth", "models", "web"} {
		err := filepath.WalkDir(filepath.Join(root, room), func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || strings.Contains(path, "modelstest") {
				return err
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
			if err != nil {
				return err
			}
			ast.Inspect(file, func(n ast.Node) bool {
				if text, ok := literal(n); ok {
					literals[text] = true
				}
				if format, ok := formatOf(n); ok {
					formats[format] = path
				}
				return true
			})
			return nil
		})
		require.NoError(t, err)
	}
	return literals, formats
}

func literal(n ast.Node) (string, bool) {
	if sum, ok := n.(*ast.BinaryExpr); ok {
		left, first := literal(sum.X)
		right, second := literal(sum.Y)
		return left + right, first && second
	}
	lit, ok := n.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	text, err := strconv.Unquote(lit.Value)
	return text, err == nil
}

func formatOf(n ast.Node) (string, bool) {
	call, ok := n.(*ast.CallExpr)
	if !ok {
		return "", false
	}
	fun := call.Fun
	if generic, ok := fun.(*ast.IndexExpr); ok {
		fun = generic.X
	}
	name := ""
	switch fun := fun.(type) {
	case *ast.Ident:
		name = fun.Name
	case *ast.SelectorExpr:
		if of, ok := fun.X.(*ast.Ident); ok && of.Name == "fmt" {
			return "", false
		}
		name = fun.Sel.Name
	}
	at, ok := makers[name]
	if !ok || len(call.Args) <= at {
		return "", false
	}
	return literal(call.Args[at])
}

func TestEverySentenceHasACode(t *testing.T) {
	literals, formats := source(t)
	require.Greater(t, len(formats), 250)
	for format, path := range formats {
		if !slices.Contains(through, format) {
			assert.NotEmpty(t, codes[format], "%s: add %q to problems.en.yaml and problems.de.yaml", path, format)
		}
	}
	for format, code := range codes {
		assert.True(t, literals[format], "%s: nothing says %q any more", code, format)
	}
}

var verb = regexp.MustCompile(`%(?:\[(\d+)\])?([#+.0-9]*[a-z])`)

// verbs are those of a format by their numbers.
func verbs(format string) map[int]string {
	found := map[int]string{}
	n := 0
	for _, v := range verb.FindAllStringSubmatch(format, -1) {
		n++
		if v[1] != "" {
			n, _ = strconv.Atoi(v[1])
		}
		found[n] = v[2]
	}
	return found
}

func TestGermanSaysEverySentenceWithItsPlaces(t *testing.T) {
	german := formats[language.German]
	require.Len(t, german, len(codes))
	for format, code := range codes {
		said, ok := german[code]
		if assert.True(t, ok, code) {
			assert.Equal(t, verbs(format), verbs(said), "%s: %q", code, said)
		}
		assert.Regexp(t, `^[a-z0-9]+(-[a-z0-9]+)*$`, code)
	}
}

func TestErrorsInGerman(t *testing.T) {
	ctx := words.In(t.Context(), language.German)
	say := func(err error) *review.Error {
		var e *review.Error
		require.ErrorAs(t, err, &e)
		return In(ctx, e)
	}
	e := say(review.Invalidf("observations[0].character", "%q is not a character of these tables", "nose\u202e"))
	require.Equal(t, "Nichts wurde gespeichert: Bitte verbessern Sie, was gekennzeichnet ist, und senden Sie es noch einmal.", e.Message)
	require.Equal(t, `„nose\u202e“ ist kein Merkmal dieser Tabellen`, e.Fields[0].Message)
	require.Equal(t, Code(&review.Wording{Format: "%q is not a character of these tables"}), e.Fields[0].Code)
	require.NotEmpty(t, e.Fields[0].Code)

	member := review.Actor{Person: "p", Role: review.RoleMember}
	require.Equal(t, "Mit der Rolle „Mitglied“ dürfen Sie das hier nicht: die Regeln festlegen. Nichts wurde geändert; die Kuration kann Rollen ändern.",
		say(review.Forbidden(member, review.ActSetPolicy, "")).Message)
	require.Equal(t, "die Anteile müssen zusammen 1 ergeben und ergeben 0,9",
		say(review.Invalidf("shares", "the shares must sum to 1, and sum to %.4g", 0.9)).Fields[0].Message)
	require.Equal(t, "„Carabus“ ist kein Name dieser Tabellen und kein alter Name (meinten Sie Carabidae?)",
		say(review.Invalidf("family", "%s", `"Carabus" is not a family of these tables, nor an old name of one (did you mean Carabidae?)`)).Fields[0].Message)
	require.Equal(t, "what nobody has translated stays", say(review.Errorf(review.KindConflict, "what nobody has translated stays")).Message)
}

// What was said anew since, such as without the line of a file, is not what the format would say.
func TestAMessageThatWasChangedStays(t *testing.T) {
	p := review.FieldProblem{}
	var known review.Problems
	known.Addf("a", "must be filled in")
	p = known[0]
	require.NotNil(t, p.Wording())
	p.Message = "something else"
	require.Nil(t, p.Wording())
}

func TestEnglishStaysAsItIs(t *testing.T) {
	var known review.Problems
	known.Addf("a", "must be filled in")
	in := Fields(t.Context(), known)
	require.Equal(t, "must be filled in", in[0].Message)
	require.NotEmpty(t, in[0].Code)
}

// Sentences as jobs store them, errors among them.
func TestPhrasesInGerman(t *testing.T) {
	ctx := words.In(t.Context(), language.German)
	for english, german := range map[string]string{
		"There is no event at position 7. It will be tried again by itself.": "An der Stelle 7 steht kein Ereignis. Es wird von selbst noch einmal versucht.",
		"\"nose\" is not a character of these tables":                        "„nose“ ist kein Merkmal dieser Tabellen",
		"The file is empty. Nothing of it was stored; everything else you entered is kept. Choose the photo again; if it stays empty, copy it from the camera once more.": "Die Datei ist leer. Nichts davon wurde gespeichert; alles andere, was Sie eingegeben haben, ist aufgehoben. Wählen Sie das Foto noch einmal; bleibt sie leer, kopieren Sie es noch einmal von der Kamera.",
		"what a person wrote": "what a person wrote",
	} {
		require.Equal(t, german, Phrase(ctx, english))
		require.Equal(t, english, Phrase(t.Context(), english))
	}
}
