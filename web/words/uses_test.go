package words

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// webRoot is package web, seen from here.
const webRoot = ".."

// uses are the ids that code names: whole ones, the beginnings of those that it puts together ("common.status-" + …), and the names of
// places that are filled where a text is asked for.
type uses struct {
	whole, begun map[string]bool
	args         map[string][][]string
}

// names are the files of texts, without their endings.
func names() map[string]bool {
	found := map[string]bool{}
	for id := range texts.messages[Languages[0]] {
		name, _, _ := strings.Cut(id, ".")
		found[name] = true
	}
	return found
}

var idForm = regexp.MustCompile(`^([a-z_]+)\.([a-z0-9-]+)$`)

// sources are the Go files of web that are no tests, but for this package.
func sources(t *testing.T) map[string]*ast.File {
	t.Helper()
	found := map[string]*ast.File{}
	err := filepath.WalkDir(webRoot, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || filepath.Dir(path) == filepath.Join(webRoot, "words") {
			return err
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		found[path] = file
		return err
	})
	require.NoError(t, err)
	require.Greater(t, len(found), 50)
	return found
}

func text(e ast.Expr) (string, bool) {
	lit, ok := e.(*ast.BasicLit)
	if !ok || lit.Kind != token.STRING {
		return "", false
	}
	value, err := strconv.Unquote(lit.Value)
	return value, err == nil
}

func usesOf(t *testing.T) uses {
	found, known := uses{map[string]bool{}, map[string]bool{}, map[string][][]string{}}, names()
	for _, file := range sources(t) {
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.BasicLit:
				id, ok := text(n)
				parts := idForm.FindStringSubmatch(id)
				switch {
				case !ok || parts == nil || !known[parts[1]] || isFile(id):
				case strings.HasSuffix(id, "-"):
					found.begun[id] = true
				default:
					found.whole[id] = true
				}
			case *ast.CallExpr:
				found.call(n)
			}
			return true
		})
	}
	scripts, err := filepath.Glob(filepath.Join(webRoot, "static", "*.js"))
	require.NoError(t, err)
	for _, path := range scripts {
		content, err := os.ReadFile(path)
		require.NoError(t, err)
		for _, m := range regexp.MustCompile(`\bphrase\("([a-z0-9-]+)"`).FindAllStringSubmatch(string(content), -1) {
			found.whole["script."+m[1]] = true
		}
	}
	return found
}

// isFile says whether a literal that looks like an id is the name of a file or a module.
func isFile(literal string) bool {
	return slices.Contains([]string{".css", ".js", ".go", ".csv", ".json", ".templ"}, filepath.Ext(literal))
}

// firstArgs says behind which argument of a function of this package the names and values of places begin.
var firstArgs = map[string]int{"T": 2, "N": 3, "Rich": 2, "RichN": 3}

// call notes the names of the places that a call with a whole id fills.
func (u uses) call(n *ast.CallExpr) {
	function, ok := n.Fun.(*ast.SelectorExpr)
	if !ok {
		return
	}
	of, ok := function.X.(*ast.Ident)
	first, ours := firstArgs[function.Sel.Name]
	if !ok || of.Name != "words" || !ours || n.Ellipsis.IsValid() {
		return
	}
	at := 1
	if strings.HasPrefix(function.Sel.Name, "Rich") {
		at = 0
	}
	id, ok := text(n.Args[at])
	if !ok || !idForm.MatchString(id) {
		return
	}
	filled := []string{}
	for i := first; i < len(n.Args); i += 2 {
		name, _ := text(n.Args[i])
		filled = append(filled, name)
	}
	if strings.HasSuffix(function.Sel.Name, "N") {
		filled = append(filled, "Count")
	}
	u.args[id] = append(u.args[id], filled)
}

func TestEveryIdThatCodeNamesHasATextAndItsValues(t *testing.T) {
	used := usesOf(t)
	for id, calls := range used.args {
		m, ok := texts.messages[Languages[0]][id]
		if !assert.True(t, ok, "%s has no text", id) {
			continue
		}
		places, _, plural := shape(m)
		for _, filled := range calls {
			counts := slices.Contains(filled, "Count")
			filled = slices.DeleteFunc(filled, func(name string) bool { return name == "Count" && !slices.Contains(places, "Count") })
			assert.ElementsMatch(t, places, filled, "%s: places and values", id)
			assert.True(t, counts || !plural, "%s has plural forms, and needs a count", id)
		}
	}
}

// converted says whether the sources of a page take their words from its file; one that does not yet may have texts written in advance.
func converted(used uses, name string) bool {
	for id := range used.whole {
		if strings.HasPrefix(id, name+".") {
			return true
		}
	}
	return false
}

func TestNoTextIsUnused(t *testing.T) {
	used := usesOf(t)
	for id := range texts.messages[Languages[0]] {
		name, _, _ := strings.Cut(id, ".")
		if _, ok := used.whole[id]; ok || !converted(used, name) {
			continue
		}
		begun := false
		for beginning := range used.begun {
			begun = begun || strings.HasPrefix(id, beginning)
		}
		assert.True(t, begun, "%s is said nowhere", id)
	}
}
