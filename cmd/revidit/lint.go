package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// tablesCheck is tables check, and lint.
type tablesCheck struct {
	tablesFlag
	Sources bool `help:"Print what the tables rest on and where they are thin."`
	Pairs   bool `help:"Print the pairs of families (or orders, …) that the characters do not tell apart, the worst first."`
	Largest int  `help:"With --pairs: only among so many families, those with the most species; 0 for all." default:"0" placeholder:"N"`
	Words   bool `help:"Print the texts that nobody has translated yet, by language."`
	Strict  bool `help:"With --pairs: end with code 1 where no family explains such a pair (inseparable, FORMAT.md)."`
}

// Validate refuses flags that would do nothing.
func (c *tablesCheck) Validate() error {
	switch {
	case c.Largest < 0:
		return errors.New("--largest: must be 0 or more")
	case !c.Pairs && (c.Strict || c.Largest > 0):
		return errors.New("--strict and --largest are about pairs: add --pairs")
	}
	return nil
}

// Run prints every problem, and what the flags ask for. It ends with code 1 where there is a problem, and with --strict
// where a pair is not explained.
func (c *tablesCheck) Run(io console) error {
	wrong := 0
	for _, folder := range c.folders() {
		tables, problems := runLint(folder, io.out)
		wrong += problems
		if tables == nil {
			continue // what cannot be loaded cannot be counted
		}
		if c.Sources {
			printCoverage(tables, io.out)
		}
		printLanguages(tables, c.Words, io.out)
		if c.Pairs {
			unexplained := printPairs(tables, c.Largest, io.out)
			if c.Strict {
				wrong += unexplained
			}
		}
	}
	if wrong > 0 {
		return exitError{1}
	}
	return nil
}

// runLint prints every problem of the tables in a folder, as file:line: message, and a summary. It returns the tables,
// nil where they cannot be loaded, and how many problems there are.
func runLint(fsys fs.FS, out io.Writer) (tables *diagnosis.Tables, problems int) {
	tables, found := diagnosis.Load(fsys)
	if tables != nil {
		found = append(found, tables.Lint()...)
	}
	for _, p := range found {
		fmt.Fprintln(out, p)
	}
	if len(found) > 0 {
		fmt.Fprintf(out, "%d %s\n", len(found), plural(len(found), "problem", "problems"))
		return tables, len(found)
	}
	fmt.Fprintf(out, "%s, release %s: %d %s, %d characters, no problem; hash %s\n",
		tables.Group.ID, tables.Group.Release, len(tables.Families), diagnosis.Ranks(tables.Group.Rank), len(tables.Characters), tables.Hash)
	return tables, 0
}

// printLanguages says of each language how much of the tables is said in English in it, and with all which texts those are.
func printLanguages(t *diagnosis.Tables, all bool, out io.Writer) {
	for _, language := range t.Languages() {
		lacking := t.Untranslated(language)
		if len(lacking) == 0 {
			fmt.Fprintf(out, "%s: every text is translated\n", language)
			continue
		}
		fmt.Fprintf(out, "%s: %d %s in English, because nobody has translated them\n", language, len(lacking), plural(len(lacking), "text is said", "texts are said"))
		for _, text := range lacking {
			if all {
				fmt.Fprintf(out, "  %s\n", text)
			}
		}
	}
}

func printCoverage(t *diagnosis.Tables, out io.Writer) {
	c, ranks := t.Coverage(), diagnosis.Ranks(t.Group.Rank)
	fmt.Fprintln(out, readingWords(c.Reading))
	if c.Chief.Cells > 0 {
		fmt.Fprintf(out, "Of the %s with the most species, on antennae, elytra, tarsi and ventrites: %s\n", ranks, readingWords(c.Chief))
	}
	printCounts(out, "Cells by source", c.Sources)
	printCounts(out, fmt.Sprintf("%s with fewer than %d characters", capital(ranks), diagnosis.FewCharacters), c.ThinFamilies)
	printCounts(out, fmt.Sprintf("Characters known for fewer than %d %s", diagnosis.FewFamilies, ranks), c.ThinCharacters)
}

func readingWords(r diagnosis.Reading) string {
	return fmt.Sprintf("%d cells: %s read in the source, %s read there in part, %s cited from memory",
		r.Cells, percent(r.Read, r.Cells), percent(r.InPart, r.Cells), percent(r.Memory, r.Cells))
}

func capital(word string) string {
	return strings.ToUpper(word[:1]) + word[1:]
}

func percent(n, of int) string {
	return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(max(of, 1)))
}

func printCounts(out io.Writer, title string, counts []diagnosis.Count) {
	if len(counts) == 0 {
		fmt.Fprintf(out, "%s: none\n", title)
		return
	}
	fmt.Fprintf(out, "%s:\n", title)
	for _, c := range counts {
		fmt.Fprintf(out, "%7d  %s\n", c.N, c.ID)
	}
}

// printPairs returns how many of the pairs no family explains.
func printPairs(t *diagnosis.Tables, largest int, out io.Writer) (unexplained int) {
	judge := review.NewJudge(t)
	pairs := judge.Pairs(largest)
	n := len(t.Families)
	if largest > 0 {
		n = min(n, largest)
	}
	for _, p := range pairs {
		if p.Explained == nil {
			unexplained++
		}
		fmt.Fprintln(out, pairLine(p))
	}
	if len(pairs) > 0 {
		fmt.Fprintf(out, "From above: what a member tells by %s in photos of the upper side\n", strings.Join(judge.UpperSide(), ", "))
	}
	fmt.Fprintf(out, "%d of %d pairs of %d %s stay below %.2f, %d of them without an explanation\n",
		len(pairs), n*(n-1)/2, n, diagnosis.Ranks(t.Group.Rank), judgement.SeparationLine, unexplained)
	return unexplained
}

func pairLine(p judgement.Pair) string {
	parts := []string{fmt.Sprintf("%s – %s %.3f ± %.3f, from above %.3f ± %.3f", p.A, p.B, p.Expected, p.Error, p.Above, p.AboveError)}
	var best, help []string
	for _, s := range p.Best {
		best = append(best, fmt.Sprintf("%s (%.2f bits)", s.Character, s.Bits))
	}
	if len(best) > 0 {
		parts = append(parts, "best single characters: "+strings.Join(best, ", "))
	}
	if p.Explained != nil {
		help = append(help, p.Explained.Needs+" (explained)")
	}
	for _, h := range p.Help {
		help = append(help, helpWords(h))
	}
	if len(help) == 0 {
		help = []string{"a further character"}
	}
	return strings.Join(append(parts, "would help most: "+strings.Join(help, ", ")), "; ")
}

func helpWords(h judgement.Help) string {
	if h.Family != "" {
		return fmt.Sprintf("%s coded for %s (%.2f bits)", h.Character, h.Family, h.Bits)
	}
	return fmt.Sprintf("sharper cells of %s (+%.2f bits)", h.Character, h.Bits)
}
