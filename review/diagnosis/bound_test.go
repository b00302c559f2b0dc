package diagnosis

import (
	"fmt"
	"runtime"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"
)

// TestHostileFilesAreNotParsed: each of these took up to gigabytes. What is allocated for the whole of one, until it is
// refused, stays below 48 MiB.
func TestHostileFilesAreNotParsed(t *testing.T) {
	const size = 466_000
	fill := func(s string) string { return strings.Repeat(s, size/len(s)) }
	for name, text := range map[string]string{
		"list":               "a:\n" + fill("- b\n"),
		"short list":         "a:\n" + strings.Repeat("-\n", 120_000),
		"flow":               "a: [" + strings.Repeat(",", 250_000) + "]",
		"deep":               "a: " + strings.Repeat("[", 20_000),
		"deep, block":        "a: " + strings.Repeat("- ", 20_000) + "b",
		"deep, a little":     "a: " + strings.Repeat("[", maxDepth+1) + strings.Repeat("]", maxDepth+1),
		"keys without end":   fill("? "),
		"unknown fields":     unknownFields(29_000 / 2),
		"aliases":            "a: &a [b]\n" + strings.Repeat("c: *a\n", 7000),
		"aliases of aliases": billionLaughs(),
		"long word":          strings.Repeat("x", 200_000) + ": y",
	} {
		t.Run(name, func(t *testing.T) {
			for _, file := range []string{groupFile, charactersFile, "families/Aidae.yaml"} {
				folder := validFiles(t)
				folder[file] = &fstest.MapFile{Data: []byte(text)}
				var before, after runtime.MemStats
				runtime.ReadMemStats(&before)
				_, problems := Load(folder)
				runtime.ReadMemStats(&after)
				require.NotEmpty(t, problems)
				require.LessOrEqual(t, len(problems), maxProblems)
				require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(48<<20), "%s", problems[0])
			}
		})
	}
}

func unknownFields(n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, "k%d: x\n", i)
	}
	return b.String()
}

// billionLaughs is the well-known document of lists of aliases: ten of ten of ten and so on, 10^9 when written out.
func billionLaughs() string {
	var b strings.Builder
	b.WriteString("l0: &l0 [x, x, x, x, x, x, x, x, x, x]\n")
	for i := 1; i < 9; i++ {
		fmt.Fprintf(&b, "l%d: &l%d [%s]\n", i, i, strings.TrimSuffix(strings.Repeat(fmt.Sprintf("*l%d, ", i-1), 10), ", "))
	}
	return b.String()
}

// TestAFolderHasBounds: none of its files is too large.
func TestAFolderHasBounds(t *testing.T) {
	many, large, dense := validFiles(t), validFiles(t), validFiles(t)
	for i := range MaxFiles {
		many[fmt.Sprintf("families/F%d.yaml", i)] = &fstest.MapFile{Data: []byte("x")}
	}
	for i := range MaxFolderBytes / MaxFileBytes {
		large[fmt.Sprintf("families/F%d.yaml", i)] = &fstest.MapFile{Data: []byte(strings.Repeat("x", MaxFileBytes))}
	}
	for i := range maxFolderSigns/maxSigns + 1 {
		dense[fmt.Sprintf("families/F%d.yaml", i)] = &fstest.MapFile{Data: []byte(strings.Repeat("-", maxSigns))}
	}
	for words, folder := range map[string]fstest.MapFS{"more than 2000 files": many, "more than 12 MiB": large, "more than 2000000 signs": dense} {
		_, problems := Load(folder)
		require.Len(t, problems, 1)
		require.Contains(t, problems[0].String(), words)
	}
}
