package diagnosis

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"io/fs"
	"path"
	"slices"
	"strings"

	"go.yaml.in/yaml/v4"
)

// loader reads one folder: problems are collected, never only the first.
type loader struct {
	fsys     fs.FS
	tables   *Tables
	problems []Problem
	contents map[string][]byte // by file name, of every file read, for the hash
	// charactersRead is false when characters.yaml could not be read: then cells are not checked against it, so that
	// one slip there does not bring a thousand problems.
	charactersRead, sourcesRead bool
	// partsRead is false when parts.yaml could not be read whole, for the same reason.
	partsRead bool
	// familyNames are known from file names, so that a family whose file has a problem can still be referred to.
	familyNames []string
	faunaNames  []string // by file name
	wordFiles   []string // of other languages
}

// Load reads the folder of one group (FORMAT.md) and checks it strictly. It returns the tables, or nil and every
// problem found (1000 at most), sorted by file and line. What exceeds the limits of a folder is not parsed at all. Files that do not end in .yaml and names that begin with a dot are left alone.
func Load(fsys fs.FS) (*Tables, []Problem) {
	l := newLoader(fsys)
	if !l.withinBounds() {
		sortProblems(l.problems)
		return nil, l.problems
	}
	l.findFiles()
	l.readGroup()
	l.readSources()
	l.readParts()
	l.readCharacters()
	l.readGlossary()
	l.readFamilies()
	l.readFaunas()
	l.readPictures()
	l.readWords()
	if len(l.problems) > 0 {
		sortProblems(l.problems)
		return nil, l.problems[:min(len(l.problems), maxProblems)]
	}
	l.tables.Hash = contentHash(l.contents)
	l.tables.folder = fsys
	return l.tables, nil
}

func newLoader(fsys fs.FS) *loader {
	return &loader{fsys: fsys, contents: map[string][]byte{}, tables: &Tables{
		characterIndex: map[string]int{},
		familyIndex:    map[string]int{},
		sourceIndex:    map[string]int{},
		oldNames:       map[string]oldNameRef{},
	}}
}

func (l *loader) document(file string) document {
	return document{file: file, problems: &l.problems}
}

// open parses a file and remembers its contents for the hash.
func (l *loader) open(d document) *yaml.Node {
	root, content := d.open(l.fsys)
	l.contents[d.file] = content
	return root
}

const (
	groupFile      = "group.yaml"
	charactersFile = "characters.yaml"
	sourcesFile    = "sources.yaml"
	familiesFolder = "families"
)

// findFiles lists the families and reports files that nothing reads: most likely a misspelt name.
func (l *loader) findFiles() {
	err := fs.WalkDir(l.fsys, ".", func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if name != "." && strings.HasPrefix(entry.Name(), ".") {
			if entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() || path.Ext(name) != ".yaml" && path.Ext(name) != ".yml" {
			return nil
		}
		l.findFile(name)
		return nil
	})
	if err != nil {
		l.document(".").problem(0, "the folder cannot be read: %v", err)
	}
	slices.Sort(l.familyNames)
	slices.Sort(l.faunaNames)
	if len(l.familyNames) == 0 {
		l.document(familiesFolder).problem(0, "there is no family; add families/NAME.yaml")
	}
}

func (l *loader) findFile(name string) {
	known := []string{groupFile, charactersFile, sourcesFile, partsFile, glossaryFile}
	if slices.Contains(known, name) {
		return
	}
	if path.Dir(name) == familiesFolder && path.Ext(name) == ".yaml" {
		l.familyNames = append(l.familyNames, strings.TrimSuffix(path.Base(name), ".yaml"))
		return
	}
	if path.Dir(name) == faunasFolder && path.Ext(name) == ".yaml" {
		l.faunaNames = append(l.faunaNames, strings.TrimSuffix(path.Base(name), ".yaml"))
		return
	}
	if path.Dir(name) == wordsFolder && path.Ext(name) == ".yaml" {
		l.wordFiles = append(l.wordFiles, name)
		return
	}
	l.document(name).problem(0, "nothing reads this file%s; families go to families/NAME.yaml, faunas to faunas/NAME.yaml", didYouMean(name, known))
}

// contentHash is the SHA-256, in lower-case hex, over all files that were read in the order of their names: for each
// the length of its name, its name, the length of its contents, its contents, with lengths as 8 bytes, big-endian.
// The lengths keep a byte from moving between a name and a content, or from one file to the next, unnoticed.
func contentHash(contents map[string][]byte) string {
	names := make([]string, 0, len(contents))
	for name := range contents {
		names = append(names, name)
	}
	slices.Sort(names)
	hash := sha256.New()
	write := func(b []byte) {
		var length [8]byte
		binary.BigEndian.PutUint64(length[:], uint64(len(b)))
		hash.Write(length[:])
		hash.Write(b)
	}
	for _, name := range names {
		write([]byte(name))
		write(contents[name])
	}
	return hex.EncodeToString(hash.Sum(nil))
}

// readSources reads sources.yaml.
func (l *loader) readSources() {
	d := l.document(sourcesFile)
	root := l.open(d)
	if root == nil {
		return
	}
	l.sourcesRead = true
	d.fields(root, required("sources", func(node *yaml.Node) {
		for _, item := range d.items(node) {
			l.readSource(d, item)
		}
	}))
}

func (l *loader) readSource(d document, node *yaml.Node) {
	var source Source
	d.fields(node, required("id", d.id(&source.ID)), required("citation", d.text(&source.Citation)))
	if source.ID == "" {
		return
	}
	if _, twice := l.tables.sourceIndex[source.ID]; twice {
		d.problem(node.Line, "the source %q is given twice; keep one", source.ID)
		return
	}
	l.tables.sourceIndex[source.ID] = len(l.tables.Sources)
	l.tables.Sources = append(l.tables.Sources, source)
}

// readGroup reads group.yaml.
func (l *loader) readGroup() {
	d := l.document(groupFile)
	root := l.open(d)
	if root == nil {
		return
	}
	g := &l.tables.Group
	d.fields(root,
		required("group", d.id(&g.ID)),
		required("title", d.text(&g.Title)),
		required("taxon", d.text(&g.Taxon)),
		required("rank", d.text(&g.Rank)),
		required("release", d.text(&g.Release)),
		optional("notes", d.text(&g.Notes)),
		required("better_fit_decibans", d.positive(&g.BetterFitDecibans)),
		required("cautions", d.texts(&g.Cautions)),
		optional("quarantine", d.text(&g.Quarantine)),
		optional("handling", d.texts(&g.Handling)),
		optional("within", d.id(&g.Within)),
		optional("turning", d.positive(&g.Turning)),
		optional("photo", d.positive(&g.Photo)),
		required("views", func(node *yaml.Node) {
			for _, item := range d.items(node) {
				l.readView(d, item)
			}
		}),
	)
}

func (l *loader) readView(d document, node *yaml.Node) {
	var v View
	d.fields(node,
		required("id", d.id(&v.ID)),
		required("label", d.text(&v.Label)),
		required("part", d.text(&v.Part)),
		required("orientation", d.text(&v.Orientation)),
	)
	if slices.ContainsFunc(l.tables.Group.Views, func(other View) bool { return v.ID != "" && other.ID == v.ID }) {
		d.problem(node.Line, "the view %q is given twice; keep one", v.ID)
		return
	}
	l.tables.Group.Views = append(l.tables.Group.Views, v)
}
