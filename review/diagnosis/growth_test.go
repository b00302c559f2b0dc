package diagnosis

import (
	"fmt"
	"io/fs"
	"regexp"
	"strings"
	"testing"
	"time"
)

// oldNamesBlock is left out of copies, because an old name leads to one family.
var oldNamesBlock = regexp.MustCompile(`(?m)^old_names:.*\n(?:[ #].*\n)*`)

// copied is the beetle tables with each family times over, under new names.
func copied(b *testing.B, times int) (folder fs.FS, families int) {
	b.Helper()
	files, err := Contents(Files(Beetles))
	if err != nil {
		b.Fatal(err)
	}
	all := map[string]string{}
	for name, text := range files {
		all[name] = text
		family, ok := strings.CutPrefix(name, familiesFolder+"/")
		if !ok {
			continue
		}
		families++
		family = strings.TrimSuffix(family, ".yaml")
		text = oldNamesBlock.ReplaceAllString(text, "")
		for i := 2; i <= times; i++ {
			again := fmt.Sprintf("%sNo%d", family, i)
			all[familiesFolder+"/"+again+".yaml"] = strings.Replace(text, "family: "+family+"\n", "family: "+again+"\n", 1)
		}
	}
	return FromContents(all), families * times
}

// BenchmarkLoadGrowth loads and lints the beetle tables and ten copies of them in memory. The metric "times" is the
// ratio of the two; ten would be proportional to the number of families.
func BenchmarkLoadGrowth(b *testing.B) {
	one, n := copied(b, 1)
	ten, tenN := copied(b, 10)
	if tenN != 10*n {
		b.Fatalf("%d families are not ten times %d", tenN, n)
	}
	var short, long time.Duration
	for b.Loop() {
		short += loadAndLint(b, one, n)
		long += loadAndLint(b, ten, tenN)
	}
	b.ReportMetric(float64(n), "families")
	b.ReportMetric(short.Seconds()*1000/float64(b.N), "ms/load")
	b.ReportMetric(long.Seconds()*1000/float64(b.N), "ms/tenfold-load")
	b.ReportMetric(float64(long)/float64(short), "times")
}

func loadAndLint(b *testing.B, folder fs.FS, families int) time.Duration {
	b.Helper()
	start := time.Now()
	tables, problems := Load(folder)
	if len(problems) > 0 {
		b.Fatal(problems[0])
	}
	found := tables.Lint()
	taken := time.Since(start)
	if len(tables.Families) != families || len(found) > 0 {
		b.Fatalf("%d families with %d problems", len(tables.Families), len(found))
	}
	return taken
}
