package main

import (
	"context"
	"fmt"
	"os"

	"golang.org/x/text/language"

	"revidit/review/service"
	"revidit/web/booklet"
	"revidit/web/words"
)

type keyCommand struct {
	tablesFlag
	Group     string   `help:"Group of tables; empty: the first." placeholder:"ID"`
	Region    string   `help:"Fauna of the tables whose families the key leads to, or world for all; empty: the first fauna." placeholder:"ID"`
	Family    []string `help:"Only this family. May be given several times." placeholder:"NAME"`
	Expert    bool     `help:"Made for people who read as experts do; without it for beginners."`
	Preparing bool     `help:"With characters for which a specimen has to be softened, opened, wetted or had alive."`
	Sheet     string   `help:"a4: two pages on a side, in the order of a booklet to fold; a5: page by page." enum:"a4,a5" default:"a4"`
	Language  string   `help:"Language of the key." enum:"en,de" default:"en"`
	Out       string   `help:"New file for the PDF." required:"" type:"path" placeholder:"FILE"`
}

// Run makes a key, tries it, and writes it as PDF. It needs no club.
func (c *keyCommand) Run(ctx context.Context, on console) error {
	library, err := c.library()
	if err != nil {
		return err
	}
	group := c.Group
	if group == "" {
		group = library.First()
	}
	judge := library.BuiltIn(group)
	if judge == nil {
		return fmt.Errorf("there is no group %q of tables; nothing was written", group)
	}
	tables := judge.Tables()
	choice := service.KeyChoice{Group: group, Region: c.Region, Families: c.Family, Expert: c.Expert, Preparing: c.Preparing}
	if choice.Region == "" {
		choice.Region = service.KeyRegions(tables)[0]
	}
	made, err := service.MakeKey(tables, choice, nil)
	if err != nil {
		return err
	}
	tag := language.MustParse(c.Language)
	file, err := booklet.Write(words.In(ctx, tag), tables.In(c.Language), made, booklet.Sheet(c.Sheet))
	if err != nil {
		return err
	}
	to, err := os.OpenFile(c.Out, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	if _, err := to.Write(file); err != nil {
		_ = to.Close()
		return err
	}
	if err := to.Close(); err != nil {
		return err
	}
	fmt.Fprintf(on.out, "%s: %d couplets to %d families, release %s (%s); right endings: a beginner %.2f, an expert %.2f, a plain key %.2f.\n", c.Out, len(made.Couplets),
		len(made.Families), made.Release, made.Hash[:shownHash], made.Beginner.Right, made.Expert.Right, made.Greedy.Right)
	return nil
}
