package main

import (
	"bufio"
	"fmt"
	"io/fs"
	"os"
	"slices"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
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

type assessCommand struct {
	tablesFlag
	Group string `help:"Group of tables to assess against; empty: that of the first --tables, or the beetles." placeholder:"ID"`
}

// judge is that of the chosen group.
func (c *assessCommand) judge() (*judgement.Judge, error) {
	library, err := c.library()
	if err != nil {
		return nil, err
	}
	group := c.Group
	if group == "" {
		group = library.First()
		if named, err := c.named(); err == nil && len(named) > 0 {
			group = named[0].Group.ID
		}
	}
	judge := library.BuiltIn(group)
	if judge == nil {
		return nil, fmt.Errorf("there is no group %q of tables; --tables DIR adds one", group)
	}
	return judge, nil
}

// Run assesses line by line, and ends with code 1 when a line could not be read.
func (c *assessCommand) Run(io console) error {
	judge, err := c.judge()
	if err != nil {
		return err
	}
	out := bufio.NewWriter(io.out)
	bad, err := runAssess(io.in, out, judge)
	if flushed := out.Flush(); err == nil {
		err = flushed
	}
	if err != nil {
		return err
	}
	if bad > 0 {
		fmt.Fprintf(io.err, "revidit: %d %s could not be assessed; the errors stand in the output\n", bad, plural(bad, "line", "lines"))
		return exitError{1}
	}
	return nil
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}
