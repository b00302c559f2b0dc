package diagnosis

import (
	"embed"
	"io/fs"
	"strings"
	"sync"
)

//go:embed data
var data embed.FS

// Beetles is the folder of the first group that is built into the program.
const Beetles = "coleoptera"

// Folders are the names of the folders of tables that are built into the program, in their order.
func Folders() []string {
	entries, err := data.ReadDir("data")
	if err != nil {
		panic(err) // the folder is part of the program
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	return names
}

// Files is one of Folders.
func Files(folder string) fs.FS {
	files, err := fs.Sub(data, "data/"+folder)
	if err != nil {
		// fs.Sub refuses only a malformed path, and these are constants.
		panic(err)
	}
	return files
}

// Embedded loads the beetle tables that are built into the program, as Load does.
func Embedded() (*Tables, []Problem) { return Load(Files(Beetles)) }

// Default returns the beetle tables built into the program, loaded once. It panics with the problems where there are
// any: a build that ships broken tables must not start.
func Default() *Tables { return All()[0] }

// All are the tables of every group built into the program, loaded once. It panics as Default does.
var All = sync.OnceValue(func() []*Tables {
	var all []*Tables
	for _, folder := range Folders() {
		tables, problems := Load(Files(folder))
		if len(problems) > 0 {
			panic("the built-in diagnosis tables are broken:\n" + lines(problems))
		}
		all = append(all, tables)
	}
	return all
})

func lines(problems []Problem) string {
	text := make([]string, len(problems))
	for i, p := range problems {
		text[i] = p.String()
	}
	return strings.Join(text, "\n")
}
