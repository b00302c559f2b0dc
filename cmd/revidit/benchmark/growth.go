package benchmark

import (
	"fmt"
	"path"
	"regexp"
	"strings"

	"revidit/review/diagnosis"
)

// oldNames is left out of copies, because an old name leads to one family.
var oldNames = regexp.MustCompile(`(?m)^old_names:.*\n(?:[ #].*\n)*`)

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
