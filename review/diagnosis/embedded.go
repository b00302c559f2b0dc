package diagnosis

import (
	"embed"
	"io/fs"
	"strings"
	"sync"
)

//go:embed data
var data embed.FS

// Files is the folder of the beetle tables that are built into the program.
func Files() fs.FS {
	folder, err := fs.Sub(data, "data/coleoptera")
	if err != nil {
		// fs.Sub refuses only a malformed path, and this one is a constant.
		panic(err)
	}
	return folder
}

// Embedded loads the beetle tables that are built into the program, as Load does.
func Embedded() (*Tables, []Problem) { return Load(Files()) }

// Default returns the beetle tables built into the program, loaded once. It panics with the problems where there are
// any: a build that ships broken tables must not start.
func Default() *Tables { return loadOnce() }

var loadOnce = sync.OnceValue(func() *Tables {
	tables, problems := Embedded()
	if len(problems) == 0 {
		return tables
	}
	lines := make([]string, len(problems))
	for i, p := range problems {
		lines[i] = p.String()
	}
	panic("the built-in diagnosis tables are broken:\n" + strings.Join(lines, "\n"))
})
