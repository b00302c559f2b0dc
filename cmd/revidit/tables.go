package main

import (
	"fmt"
	"io/fs"
	"os"
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/service"
)

// tablesFlag adds groups of diagnosis tables to the built-in ones, or takes the place of a built-in group.
type tablesFlag struct {
	Tables []string `help:"Folder of diagnosis tables: in place of the built-in ones of its group, or as a further group. May be given several times." type:"existingdir" sep:"none" placeholder:"DIR" env:"REVIDIT_TABLES"`
}

// folders are the folders that the flag names, or the built-in ones.
func (f tablesFlag) folders() []fs.FS {
	var folders []fs.FS
	for _, dir := range f.Tables {
		folders = append(folders, os.DirFS(dir))
	}
	if len(folders) > 0 {
		return folders
	}
	for _, name := range diagnosis.Folders() {
		folders = append(folders, diagnosis.Files(name))
	}
	return folders
}

// named loads the folders that the flag names. Broken tables are an error that names the first problem and the command that lists all.
func (f tablesFlag) named() ([]*diagnosis.Tables, error) {
	var all []*diagnosis.Tables
	for i, dir := range f.Tables {
		tables, problems := diagnosis.Load(os.DirFS(dir))
		if len(problems) > 0 {
			return nil, fmt.Errorf("the diagnosis tables in %s have %d problems, the first: %s. Run revidit tables check --tables %s to see all of them",
				f.Tables[i], len(problems), problems[0], dir)
		}
		all = append(all, tables)
	}
	return all, nil
}

// library holds the built-in groups, with those that the flag names in their place or after them.
func (f tablesFlag) library() (*service.Library, error) {
	named, err := f.named()
	if err != nil {
		return nil, err
	}
	all := slices.Clone(diagnosis.All())
	for _, t := range named {
		i := slices.IndexFunc(all, func(known *diagnosis.Tables) bool { return known.Group.ID == t.Group.ID })
		if i < 0 {
			all = append(all, t)
			continue
		}
		all[i] = t
	}
	return service.NewLibrary(all...), nil
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
