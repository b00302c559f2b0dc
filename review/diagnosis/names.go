package diagnosis

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Ranks is the plural of a group's rank: families of family.
func Ranks(rank string) string {
	switch {
	case rank == "genus":
		return "genera"
	case rank == "taxon":
		return "taxa"
	case rank == "species":
		return rank
	case strings.HasSuffix(rank, "y"):
		return strings.TrimSuffix(rank, "y") + "ies"
	}
	return rank + "s"
}

// NotAName says of a name that Resolve does not know that it is none of these tables', and which names are nearest: those
// that a slip of the finger turns into it, or that begin with it (carabid).
func (t *Tables) NotAName(name string) string {
	return fmt.Sprintf("%q is not %s %s of these tables, nor an old name of one%s", name, article(t.Group.Rank), t.Group.Rank, t.DidYouMean(name))
}

// DidYouMean returns " (did you mean A, B or C?)" for the names, accepted and old, nearest to a mistyped one, the nearest
// first and at most three, or "" where none is near.
func (t *Tables) DidYouMean(name string) string {
	found := nearest(name, t.names())
	for _, known := range t.names() {
		if !slices.Contains(found, known) && beginsWith(known, name) {
			found = append(found, known)
		}
	}
	return question(found[:min(len(found), mostNear)])
}

// mostNear is how many names are offered at most, so that an error stays a sentence.
const mostNear = 3

// shortestStem is how many letters a beginning must have to be one: fewer begin too many names. Common practice, no source.
const shortestStem = 4

func beginsWith(name, beginning string) bool {
	stem := strings.ToLower(strings.TrimSpace(beginning))
	return len([]rune(stem)) >= shortestStem && strings.HasPrefix(strings.ToLower(name), stem)
}

// names are all that Resolve knows, accepted ones first.
func (t *Tables) names() []string {
	names := make([]string, 0, len(t.Families)+len(t.oldNames))
	for i := range t.Families {
		names = append(names, t.Families[i].Name)
	}
	return append(names, slices.Sorted(maps.Keys(t.oldNames))...)
}

// didYouMean returns " (did you mean x?)" for the known word nearest to a mistyped one, or "" where none is near.
func didYouMean(word string, known []string) string {
	found := nearest(word, known)
	return question(found[:min(len(found), 1)])
}

// longestWord that may be a slip of the finger, in bytes: comparing takes time by the length of both words.
const longestWord = 100

// nearest are the known words that are a slip of the finger away from a mistyped one, the nearest first and equal ones
// in the order given.
func nearest(word string, known []string) []string {
	// Two letters may differ, in short words one: more is another word and not a slip of the finger. What all names of
	// families end in (ICZN, Article 29.2) makes none of them longer.
	most := 2
	if len([]rune(strings.TrimSuffix(word, "idae"))) < 5 {
		most = 1
	}
	if len(word) > longestWord {
		return nil
	}
	distance := map[string]int{}
	var found []string
	for _, candidate := range known {
		d := editDistance(strings.ToLower(word), strings.ToLower(candidate))
		if d <= most && candidate != word {
			distance[candidate] = d
			found = append(found, candidate)
		}
	}
	slices.SortStableFunc(found, func(a, b string) int { return cmp.Compare(distance[a], distance[b]) })
	return found
}

func question(words []string) string {
	if len(words) == 0 {
		return ""
	}
	last := len(words) - 1
	if last == 0 {
		return " (did you mean " + words[0] + "?)"
	}
	return " (did you mean " + strings.Join(words[:last], ", ") + " or " + words[last] + "?)"
}

func article(word string) string {
	if word != "" && strings.ContainsRune("aeiou", rune(word[0])) {
		return "an"
	}
	return "a"
}
