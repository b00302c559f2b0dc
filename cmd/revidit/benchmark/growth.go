package benchmark

import (
	"fmt"
	"path"
	"regexp"
	"slices"
	"strings"

	"revidit/review/diagnosis"
)

// oldNames is left out of copies, because an old name leads to one family.
var oldNames = regexp.MustCompile(`(?m)^old_names:.*\n(?:[ #].*\n)*`)

// neighbours is what families say of others, which may have been left out.
var neighbours = regexp.MustCompile(`(?m)^(?:lookalikes|inseparable):.*\n(?:[ #].*\n)*`)

// Largest are the tables with the families alone that have most species, as many as are asked for; those that have the
// fewest are left out, with what the others say of them.
func Largest(tables *diagnosis.Tables, families int) (*diagnosis.Tables, error) {
	files, err := diagnosis.Contents(tables.Folder())
	if err != nil {
		return nil, fmt.Errorf("read the tables: %w", err)
	}
	bySize := slices.Clone(tables.Families)
	slices.SortStableFunc(bySize, func(a, b diagnosis.Family) int { return b.Species - a.Species })
	for _, f := range bySize[:min(families, len(bySize))] {
		name := path.Join("families", f.Name+".yaml")
		files[name] = neighbours.ReplaceAllString(files[name], "")
	}
	for _, f := range bySize[min(families, len(bySize)):] {
		delete(files, path.Join("families", f.Name+".yaml"))
	}
	smaller, problems := diagnosis.Load(diagnosis.FromContents(files))
	if len(problems) > 0 {
		return nil, fmt.Errorf("the tables of the %d largest families have %d problems, the first: %s", families, len(problems), problems[0])
	}
	return smaller, nil
}

// Multiplied are the tables with each family the given number of times, under new names.
func Multiplied(tables *diagnosis.Tables, times int) (*diagnosis.Tables, error) {
	files, err := diagnosis.Contents(tables.Folder())
	if err != nil {
		return nil, fmt.Errorf("read the tables: %w", err)
	}
	for _, f := range tables.Families {
		name := path.Join("families", f.Name+".yaml")
		text := oldNames.ReplaceAllString(files[name], "")
		for i := 2; i <= times; i++ {
			again := fmt.Sprintf("%sNo%d", f.Name, i)
			files[path.Join("families", again+".yaml")] = strings.Replace(text, "family: "+f.Name+"\n", "family: "+again+"\n", 1)
		}
	}
	grown, problems := diagnosis.Load(diagnosis.FromContents(files))
	if len(problems) > 0 {
		return nil, fmt.Errorf("the tables with every family %d times have %d problems, the first: %s", times, len(problems), problems[0])
	}
	return grown, nil
}
