package diagnosis

import (
	"embed"
	"errors"
	"io/fs"
	"maps"
	"path"
	"regexp"
	"slices"
	"strings"
	"sync"

	"go.yaml.in/yaml/v4"
)

// The tables are written in English. What they say in another language stands apart, as pairs of texts: a text that changes, in a
// release of a club's own too, is said in English until somebody has translated it again, and never wrongly. For the groups that
// are built in these are words/GROUP.LANGUAGE.yaml and words/GROUP.PART.LANGUAGE.yaml beside this file, which are no part of a
// release; a folder may bring its own as words/LANGUAGE.yaml (FORMAT.md), which come first.

//go:embed words
var shippedWords embed.FS

const wordsFolder = "words"

// spoken are texts of tables in other languages: by language, then by the English text.
type spoken struct {
	given map[string]map[string]string // by the folder
	mutex sync.Mutex
	made  map[string]*Tables // by In
}

// In is the same tables with what they say in a language, a tag of BCP 47, in place of English; what nobody has translated stays
// English. Ids, names of taxa, citations and the hash are the same.
// In a language that nothing is known in they are the tables themselves.
func (t *Tables) In(tag string) *Tables {
	if t.spoken == nil || t.english != nil {
		return t
	}
	language, _, _ := strings.Cut(tag, "-")
	t.spoken.mutex.Lock()
	defer t.spoken.mutex.Unlock()
	if made, ok := t.spoken.made[language]; ok {
		return made
	}
	made := t
	if words := t.wordsIn(language); len(words) > 0 {
		made = t.inWords(language, words)
	}
	t.spoken.made[language] = made
	return made
}

// Language is the tag of the language that the tables speak.
func (t *Tables) Language() string {
	if t.english != nil {
		return t.language
	}
	return "en"
}

// Languages are the tags of those that something of the tables is translated into, in alphabetical order.
func (t *Tables) Languages() []string {
	var found []string
	if t.spoken != nil {
		for language := range t.spoken.given {
			found = append(found, language)
		}
	}
	for language := range shipped()[t.Group.ID] {
		if !slices.Contains(found, language) {
			found = append(found, language)
		}
	}
	slices.Sort(found)
	return found
}

// Word is an English text of the tables in their language; itself where nobody has translated it.
func (t *Tables) Word(english string) string {
	if word, ok := t.words[english]; ok {
		return word
	}
	return english
}

// Region is what a region of the body is called.
func (t *Tables) Region(id string) string { return t.Word(regionWord(id)) }

func regionWord(id string) string { return strings.ReplaceAll(id, "-", " ") }

// wordsIn are those of a language: of the group, and before them those of the folder.
func (t *Tables) wordsIn(language string) map[string]string {
	words := map[string]string{}
	maps.Copy(words, shipped()[t.Group.ID][language])
	maps.Copy(words, t.spoken.given[language])
	return words
}

// Untranslated are the English texts that a language lacks, in the order of the tables, each once.
func (t *Tables) Untranslated(language string) []string {
	words := t.wordsIn(language)
	var lacking []string
	for _, text := range t.saidInEnglish() {
		if _, ok := words[text]; !ok {
			lacking = append(lacking, text)
		}
	}
	return lacking
}

// Stale are texts that a shipped translation has and the tables have not (any more).
func (t *Tables) Stale(language string) []string {
	said := t.saidInEnglish()
	var stale []string
	for english := range shipped()[t.Group.ID][language] {
		if !slices.Contains(said, english) {
			stale = append(stale, english)
		}
	}
	slices.Sort(stale)
	return stale
}

// saidInEnglish are the texts of the tables, each once.
func (t *Tables) saidInEnglish() []string {
	seen := map[string]bool{"": true}
	var all []string
	for _, region := range t.Regions() {
		if word := regionWord(region); !seen[word] {
			seen[word] = true
			all = append(all, word)
		}
	}
	t.copied().eachText(func(text *string) {
		if !seen[*text] {
			seen[*text] = true
			all = append(all, *text)
		}
	})
	return all
}

func (t *Tables) inWords(language string, words map[string]string) *Tables {
	made := t.copied()
	made.english, made.language, made.words = t, language, words
	made.eachText(func(text *string) { *text = made.Word(*text) })
	return made
}

// copied is a copy of which no text stands in the original; cells that say nothing are shared.
func (t *Tables) copied() *Tables {
	made := *t
	g := &made.Group
	g.Cautions, g.Handling, g.Views = slices.Clone(g.Cautions), slices.Clone(g.Handling), slices.Clone(g.Views)
	made.Characters = slices.Clone(t.Characters)
	for i := range made.Characters {
		c := &made.Characters[i]
		c.States = slices.Clone(c.States)
	}
	made.Dependent, made.Incompatible, made.AtMost = slices.Clone(t.Dependent), slices.Clone(t.Incompatible), slices.Clone(t.AtMost)
	made.Plates, made.Parts, made.Terms, made.Faunas = slices.Clone(t.Plates), slices.Clone(t.Parts), slices.Clone(t.Terms), slices.Clone(t.Faunas)
	for i := range made.Faunas {
		made.Faunas[i].Families = slices.Clone(made.Faunas[i].Families)
	}
	made.Families = slices.Clone(t.Families)
	for i := range made.Families {
		f := &made.Families[i]
		f.Quarantine, f.OldNames, f.LookAlikes = slices.Clone(f.Quarantine), slices.Clone(f.OldNames), slices.Clone(f.LookAlikes)
		f.Inseparable, f.Forms = slices.Clone(f.Inseparable), slices.Clone(f.Forms)
		f.Cells = cellsCopied(f.Cells)
		for k := range f.Forms {
			f.Forms[k].Cells = cellsCopied(f.Forms[k].Cells)
		}
	}
	return &made
}

func cellsCopied(cells map[string]*Cell) map[string]*Cell {
	made := maps.Clone(cells)
	for character, cell := range made {
		if cell.Note != "" {
			copied := *cell
			made[character] = &copied
		}
	}
	return made
}

// eachText visits every text for people that is translated.
func (t *Tables) eachText(visit func(*string)) {
	g := &t.Group
	visit(&g.Title)
	visit(&g.Notes)
	visit(&g.Quarantine)
	each(g.Cautions, visit)
	each(g.Handling, visit)
	each(g.Views, func(v *View) { visit(&v.Label) })
	each(t.Characters, func(c *Character) { c.eachText(visit) })
	each(t.Dependent, func(d *Dependent) { visit(&d.Because) })
	each(t.Incompatible, func(i *Incompatible) { visit(&i.Because) })
	each(t.AtMost, func(a *AtMost) { visit(&a.Because) })
	each(t.Plates, func(p *Plate) { visit(&p.Title); visit(&p.Description) })
	each(t.Parts, func(p *Part) { visit(&p.Name); visit(&p.Term); visit(&p.Definition) })
	each(t.Terms, func(m *Term) { visit(&m.Term); visit(&m.Name); visit(&m.Definition) })
	each(t.Faunas, func(f *Fauna) { f.eachText(visit) })
	each(t.Families, func(f *Family) { f.eachText(visit) })
}

func each[T any](all []T, visit func(*T)) {
	for i := range all {
		visit(&all[i])
	}
}

func (c *Character) eachText(visit func(*string)) {
	visit(&c.Label)
	visit(&c.How)
	visit(&c.Needs)
	visit(&c.Silence)
	if c.Kind == KindStates { // those of a count are its numbers
		each(c.States, func(s *State) { visit(&s.Label); visit(&s.Hint) })
	}
}

func (f *Family) eachText(visit func(*string)) {
	visit(&f.Common)
	visit(&f.SpeciesSource)
	visit(&f.Caution)
	visit(&f.Dissecting)
	each(f.Quarantine, func(r *Reportable) { visit(&r.Common) })
	each(f.OldNames, func(o *OldName) { visit(&o.Remark) })
	each(f.LookAlikes, func(l *LookAlike) { visit(&l.Tell) })
	each(f.Inseparable, func(i *Inseparable) { visit(&i.Because); visit(&i.Needs) })
	eachNote(f.Cells, visit)
	each(f.Forms, func(f *Form) { visit(&f.Label); eachNote(f.Cells, visit) })
}

// eachNote visits what cells say of their sources, in the order of characters.
func eachNote(cells map[string]*Cell, visit func(*string)) {
	for _, character := range slices.Sorted(maps.Keys(cells)) {
		if cell := cells[character]; cell.Note != "" {
			visit(&cell.Note)
		}
	}
}

func (f *Fauna) eachText(visit func(*string)) {
	visit(&f.Label)
	visit(&f.Note)
	visit(&f.Licence)
	each(f.Families, func(l *FaunaLine) { visit(&l.Note) })
}

var languageName = regexp.MustCompile(`^[a-z]{2,3}$`)

// readWords reads the translations that a folder brings.
func (l *loader) readWords() {
	given := map[string]map[string]string{}
	for _, file := range l.wordFiles {
		d := l.document(file)
		language := strings.TrimSuffix(path.Base(file), ".yaml")
		if !languageName.MatchString(language) || language == "en" {
			d.problem(0, "words are named after their language, such as words/de.yaml, and English ones stand in the tables themselves")
			continue
		}
		if root := l.open(d); root != nil {
			given[language] = d.pairs(root)
		}
	}
	l.tables.spoken = &spoken{given: given, made: map[string]*Tables{}}
}

// pairs reads `words: [{en: …, to: …}, …]`.
func (d document) pairs(root *yaml.Node) map[string]string {
	words := map[string]string{}
	d.fields(root, required("words", func(node *yaml.Node) {
		for _, item := range d.items(node) {
			var english, word string
			d.fields(item, required("en", d.text(&english)), required("to", d.text(&word)))
			if _, twice := words[english]; twice && english != "" {
				d.problem(item.Line, "%q is translated twice; keep one", english)
				continue
			}
			words[english] = word
		}
	}))
	return words
}

// shipped are the translations of the groups that are built in, by group and language. It panics where one cannot be read, as All does.
var shipped = sync.OnceValue(func() map[string]map[string]map[string]string {
	all, problems := readShipped(shippedWords)
	if len(problems) > 0 {
		panic("the built-in words are broken:\n" + lines(problems))
	}
	return all
})

func readShipped(files fs.FS) (map[string]map[string]map[string]string, []Problem) {
	all := map[string]map[string]map[string]string{}
	var problems []Problem
	entries, err := fs.ReadDir(files, wordsFolder)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		panic(err) // the folder is part of the program
	}
	for _, e := range entries {
		names := strings.Split(strings.TrimSuffix(e.Name(), ".yaml"), ".")
		group, language := names[0], names[len(names)-1]
		d := document{file: path.Join(wordsFolder, e.Name()), problems: &problems}
		root, _ := d.open(files)
		if root == nil {
			continue
		}
		if all[group] == nil {
			all[group] = map[string]map[string]string{}
		}
		if all[group][language] == nil {
			all[group][language] = map[string]string{}
		}
		maps.Copy(all[group][language], d.pairs(root))
	}
	return all, problems
}
