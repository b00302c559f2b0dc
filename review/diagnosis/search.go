package diagnosis

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
)

// Named is a taxon of the tables that a typed name may mean, and the name by which it does: its own, an old one or a common one.
type Named struct {
	Family *Family
	By     string
}

// mostNamed is how many names a search offers at most.
const mostNamed = 6

// Search looks a name up that somebody has typed: accepted, old or common, in any case, with single or many spaces, a common one
// in the singular or plural. sure says that the first is what was typed; otherwise all are near, the nearest first: names of which
// the typed words are a part, names that begin so, and slips of the finger.
func (t *Tables) Search(typed string) (found []Named, sure bool) {
	if f, _, ok := t.Resolve(typed); ok {
		return []Named{{f, typed}}, true
	}
	sought := folded(typed)
	if sought == "" || len(sought) > longestWord {
		return nil, false
	}
	type near struct {
		Named
		rank int
	}
	var all []near
	for _, n := range t.calledNames() {
		if rank, ok := nearness(sought, folded(n.By)); ok {
			all = append(all, near{n, rank})
		}
	}
	slices.SortStableFunc(all, func(a, b near) int { return cmp.Or(cmp.Compare(a.rank, b.rank), cmp.Compare(len(a.By), len(b.By))) })
	same := 0 // how many taxa are called just so
	for _, n := range all {
		if slices.ContainsFunc(found, func(f Named) bool { return f.Family == n.Family }) || len(found) == mostNamed {
			continue
		}
		found = append(found, n.Named)
		if n.rank == 0 {
			same++
		}
	}
	if same == 1 {
		return found[:1], true
	}
	return found, false
}

// calledNames are all names of all families: accepted ones first, then old, then common ones.
func (t *Tables) calledNames() []Named {
	var names []Named
	for _, name := range t.names() {
		if f, _, ok := t.Resolve(name); ok {
			names = append(names, Named{f, name})
		}
	}
	for i := range t.Families {
		for _, common := range commonNames(t.Families[i].Common) {
			names = append(names, Named{&t.Families[i], common})
		}
	}
	if t.english != nil { // who reads another language may know the English name
		for _, n := range t.english.calledNames() {
			if f, ok := t.Family(n.Family.Name); ok {
				names = append(names, Named{f, n.By})
			}
		}
	}
	return names
}

var between = regexp.MustCompile(`, | and | und `)

// commonNames are the single ones of a text such as "scarab beetles, chafers and dung beetles".
func commonNames(text string) []string {
	if text == "" {
		return nil
	}
	return between.Split(text, -1)
}

// folded is a name without what people write in several ways: case, hyphens, spaces, and the plural at the end.
func folded(name string) string {
	words := strings.Fields(strings.ToLower(strings.ReplaceAll(name, "-", " ")))
	if last := len(words) - 1; last >= 0 && len(words[last]) > 3 {
		words[last] = strings.TrimSuffix(words[last], "s")
	}
	return strings.Join(words, " ")
}

// nearness is how near a name is to what was typed, 0 for the same.
func nearness(sought, name string) (rank int, ok bool) {
	switch {
	case sought == name:
		return 0, true
	case len([]rune(sought)) >= 3 && slices.Contains(strings.Fields(name), sought) || strings.Contains(" "+name+" ", " "+sought+" ") && strings.Contains(sought, " "):
		return 1, true
	case len([]rune(sought)) >= 3 && strings.HasPrefix(name, sought):
		return 2, true
	}
	if slices.Contains(nearest(sought, []string{name}), name) {
		return 2 + editDistance(sought, name), true
	}
	return 0, false
}
