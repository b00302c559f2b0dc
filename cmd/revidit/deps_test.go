package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const (
	gin      = "github.com/gin-gonic/gin"
	gorm     = "gorm.io/gorm"
	sqlAt    = "database/sql"
	netHTTP  = "net/http"
	river    = "github.com/riverqueue/river"
	confined = "revidit/review/confidence"

	judgementAt = "revidit/review/judgement"
	auditAt     = "revidit/review/audit"
	serviceAt   = "revidit/review/service"
	keyAt       = "revidit/review/key"
	labelAt     = "revidit/review/label"
	fpdf        = "codeberg.org/go-pdf/fpdf"
	barcode     = "github.com/boombuler/barcode/datamatrix"
)

// never says which package (or, with a trailing "/...", which tree) must not import what, and why. Direct rules hold
// for the package's own import lines, the others through other packages as well.
var never = []struct {
	importer string
	imported []string
	direct   bool
	because  string
}{
	{"revidit/review/...", []string{gin, gorm, sqlAt}, false, "rules stay pure: they know no storage and no web"},
	{"revidit/review", []string{netHTTP, auditAt, serviceAt, "context", "crypto/rand"}, false, "the record is values: nothing is loaded, drawn or stored there"},
	{judgementAt, []string{netHTTP, "revidit/review", auditAt, serviceAt, "context"}, false, "what the characters say depends on no workflow"},
	{keyAt, []string{netHTTP, "revidit/review", auditAt, serviceAt, "context", keyAt + "/builder", keyAt + "/trial"}, false, "a key is couplets, whoever made them"},
	{keyAt + "/builder", []string{netHTTP, "revidit/review", auditAt, serviceAt, "context", keyAt + "/trial"}, false, "what makes a key is not what tries it"},
	{keyAt + "/trial", []string{netHTTP, "revidit/review", judgementAt, auditAt, serviceAt, "context", keyAt + "/builder"}, false, "a trial reads what is printed, and no number of the builder"},
	{"revidit/review/darwincore", []string{netHTTP, auditAt, serviceAt, "revidit/web", "revidit/models"}, false, "which term gets which value is decided from values"},
	{"revidit/review/inventory", []string{netHTTP, auditAt, serviceAt, "context", "github.com/xuri/excelize/v2", "revidit/web", "revidit/models"}, false, "a table is bytes in, values out"},
	{"revidit/review/delimited", []string{netHTTP, "revidit/review", "context"}, false, "how text is cut depends on nothing that it tells"},
	{auditAt, []string{netHTTP, serviceAt, "context"}, false, "figures are computed from values"},
	{serviceAt, []string{netHTTP, "revidit/models", "revidit/web", "revidit/auth"}, true, "it reaches storage through its own interfaces alone"},
	{"revidit/review/diagnosis/...", []string{gin, gorm, sqlAt, netHTTP}, false, "tables stay pure"},
	{"revidit/review/confidence/...", []string{gin, gorm, sqlAt, netHTTP}, false, "numbers stay pure"},
	{"revidit/review/photo/...", []string{gin, gorm, sqlAt, netHTTP}, true, "a photo is bytes in, bytes out"},
	{"revidit/review/iiif", []string{netHTTP, "revidit/review", serviceAt, "context"}, false, "what a viewer asks for becomes numbers, and numbers become a description"},
	{labelAt, []string{netHTTP, auditAt, serviceAt, "context", fpdf, barcode}, false, "what a label says depends on no page format"},
	{labelAt + "/sheet", []string{netHTTP, auditAt, serviceAt, "context"}, true, "a sheet is values in, bytes out"},
	{"revidit/review", []string{labelAt, labelAt + "/sheet"}, false, "the record knows which label was printed, not how it looks"},
	{"revidit/models/...", []string{fpdf, barcode}, true, "storage draws nothing"},
	{"revidit/web", []string{fpdf, barcode}, true, "pages hand over what is drawn elsewhere: labels in review/label/sheet, keys in web/booklet"},
	{"revidit/web/pages/...", []string{fpdf, barcode}, true, "pages are HTML"},
	{"revidit/review/jobs/...", []string{"revidit/review", gin, gorm, sqlAt, netHTTP, river}, false, "a job is a name: what is to be done, not how"},
	{"revidit/review/...", []string{river}, false, "package models alone knows the job library"},
	{"revidit/web/...", []string{river}, true, "package models alone knows the job library"},
	{"revidit/auth", []string{gin, gorm}, false, "accounts are used from the command line and tests too"},
	{"revidit/models/...", []string{gin, "revidit/web"}, false, "storage knows no pages"},
	{"revidit/models/...", []string{netHTTP}, true, "storage knows no pages"},
	{"revidit/web/...", []string{gorm, sqlAt, "revidit/models"}, true, "pages cannot bypass the rules"},
	{"revidit/cmd/revidit/simulator/nature", []string{confined, judgementAt, "revidit/review"}, false,
		"what numbers are tried on must be able to contradict them"},
	{"revidit/migrations/...", []string{"revidit/review", "revidit/models", "revidit/auth", "revidit/web"}, false,
		"old migrations must keep building"},
}

type listedPackage struct {
	ImportPath string
	Imports    []string
	Deps       []string
}

func TestNeverImports(t *testing.T) {
	packages := listPackages(t)
	for _, rule := range never {
		matched := false
		for _, p := range packages {
			if !covers(rule.importer, p.ImportPath) {
				continue
			}
			matched = true
			imports := p.Deps
			if rule.direct {
				imports = p.Imports
			}
			for _, forbidden := range rule.imported {
				require.NotContains(t, imports, forbidden, "%s must not import %s: %s", p.ImportPath, forbidden, rule.because)
			}
		}
		require.True(t, matched, "no package matches %s", rule.importer)
	}
}

// TestConfidenceStandsAlone: review/confidence must be checkable alone, so it may use the standard library and gonum.
func TestConfidenceStandsAlone(t *testing.T) {
	for _, p := range listPackages(t) {
		if p.ImportPath != confined {
			continue
		}
		for _, imported := range p.Deps {
			outside := strings.Contains(strings.Split(imported, "/")[0], ".") && !strings.HasPrefix(imported, "gonum.org/")
			require.False(t, outside || (strings.HasPrefix(imported, "revidit/") && imported != confined), "imports %s", imported)
		}
		return
	}
	t.Fatal("package not found")
}

func covers(pattern, path string) bool {
	tree, whole := strings.CutSuffix(pattern, "/...")
	return path == tree || whole && strings.HasPrefix(path, tree+"/")
}

func listPackages(t *testing.T) []listedPackage {
	t.Helper()
	out, err := exec.Command("go", "list", "-deps=false", "-json=ImportPath,Imports,Deps", "revidit/...").Output()
	require.NoError(t, err)
	var packages []listedPackage
	decoder := json.NewDecoder(strings.NewReader(string(out)))
	for {
		var p listedPackage
		err := decoder.Decode(&p)
		if errors.Is(err, io.EOF) {
			break
		}
		require.NoError(t, err)
		packages = append(packages, p)
	}
	require.True(t, slices.ContainsFunc(packages, func(p listedPackage) bool { return p.ImportPath == "revidit/review" }))
	return packages
}
