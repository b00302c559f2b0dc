package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"revidit/review"
	"revidit/review/diagnosis"
)

type tablesCommand struct {
	Check  tablesCheck  `cmd:"" help:"Check diagnosis tables and print every problem with file and line. For whoever edits them; needs no club."`
	List   tablesList   `cmd:"" help:"List the releases of every group: built in and published."`
	Export tablesExport `cmd:"" help:"Write the files of a release to a folder."`
	Import tablesImport `cmd:"" help:"Publish a folder of tables as the next release of its group."`
}

// edition is a release that can be exported.
type edition struct {
	group, version, hash string
	inForce              bool
	published            *review.Release // nil for one that is built in
	by                   string
}

// editions are all of every group: what was published, the latest first, and then what is built in.
func (c club) editions(ctx context.Context) ([]edition, error) {
	judges, err := c.service.Groups(ctx)
	if err != nil {
		return nil, err
	}
	var all []edition
	for _, j := range judges {
		present := j.Tables()
		releases, names, err := c.service.Releases(ctx, present.Group.ID)
		if err != nil {
			return nil, err
		}
		for _, r := range releases {
			all = append(all, edition{group: r.Group, version: r.Version, hash: r.Hash, inForce: r.Hash == present.Hash, published: &r, by: names[r.By]})
		}
		builtIn := c.library.BuiltIn(present.Group.ID).Tables()
		if !slices.ContainsFunc(releases, func(r review.Release) bool { return r.Hash == builtIn.Hash }) {
			all = append(all, edition{group: builtIn.Group.ID, version: builtIn.Group.Release, hash: builtIn.Hash, inForce: builtIn.Hash == present.Hash})
		}
	}
	return all, nil
}

// shownHash is how many hex digits of a hash are shown, and enough to name a release.
const shownHash = 12

func (e edition) named(release string) bool {
	if release == "" {
		return e.inForce
	}
	return e.version == release || len(release) >= shownHash && strings.HasPrefix(e.hash, strings.ToLower(release))
}

func (e edition) String() string {
	return fmt.Sprintf("%s, release %s (%s)", e.group, e.version, e.hash[:shownHash])
}

type tablesList struct{ clubFlags }

// Run lists the releases.
func (c *tablesList) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(club club) error {
		all, err := club.editions(ctx)
		if err != nil {
			return err
		}
		w := tabwriter.NewWriter(io.out, 0, 0, 2, ' ', 0)
		fmt.Fprintln(w, "GROUP\tRELEASE\tHASH\tIN FORCE\tFROM")
		for _, e := range all {
			inForce, from := "", "built in"
			if e.inForce {
				inForce = "yes"
			}
			if e.published != nil {
				from = fmt.Sprintf("published %s by %s", e.published.At.UTC().Format(time.DateOnly), e.by)
			}
			fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%s\n", e.group, e.version, e.hash[:shownHash], inForce, from)
		}
		return w.Flush()
	})
}

type tablesExport struct {
	clubFlags
	Group   string `help:"Group of tables; empty: the first." placeholder:"ID"`
	Release string `help:"Version, or at least twelve digits of the hash; empty: the one in force." placeholder:"HASH|VERSION"`
	Dir     string `arg:"" help:"New or empty folder." type:"path"`
}

// Run writes the files of one release.
func (c *tablesExport) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		found, err := c.find(ctx, club)
		if err != nil {
			return err
		}
		folder := club.library.BuiltIn(found.group).Tables().Folder()
		if found.published != nil {
			if folder, err = club.service.Folder(ctx, found.group, found.hash); err != nil {
				return err
			}
		}
		if err := diagnosis.Write(folder, c.Dir); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "%s is in %s.\n", found, c.Dir)
		return nil
	})
}

// find is the one release that the flags name.
func (c *tablesExport) find(ctx context.Context, club club) (edition, error) {
	group := c.Group
	if group == "" {
		group = club.library.First()
	}
	if club.library.BuiltIn(group) == nil {
		return edition{}, fmt.Errorf("there is no group %q of tables; nothing was written. Run revidit tables list to see what there is", group)
	}
	all, err := club.editions(ctx)
	if err != nil {
		return edition{}, err
	}
	var found []edition
	for _, e := range all {
		if e.group == group && e.named(c.Release) {
			found = append(found, e)
		}
	}
	switch len(found) {
	case 0:
		return edition{}, fmt.Errorf("%s has no release %q; nothing was written. Run revidit tables list to see what there is", group, c.Release)
	case 1:
		return found[0], nil
	}
	return edition{}, fmt.Errorf("%s has %d releases %q; nothing was written. Name one by its hash: %s and %s", group, len(found), c.Release, found[0].hash, found[1].hash)
}

type tablesImport struct {
	clubFlags
	As  string `help:"Login of the curator who publishes." required:"" placeholder:"LOGIN"`
	Dir string `arg:"" help:"Folder of tables, with a version of its own in group.yaml." type:"existingdir"`
}

// Run publishes the folder.
func (c *tablesImport) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		made, err := club.service.Import(ctx, actor, os.DirFS(c.Dir))
		if err != nil {
			return lineByLine(err)
		}
		fmt.Fprintf(io.out, "%s, release %s (%s), is published and in force.\n", made.Group, made.Version, made.Hash[:shownHash])
		return nil
	})
}

// lineByLine is an error with each of its problems on a line of its own, as revidit tables check prints them.
func lineByLine(err error) error {
	var known *review.Error
	if !errors.As(err, &known) || len(known.Fields) == 0 {
		return err
	}
	lines := []string{"nothing was published. Mend this and import it again:"}
	for _, f := range known.Fields {
		if f.Field == "edit" {
			lines = append(lines, f.Message)
			continue
		}
		lines = append(lines, f.Field+": "+f.Message)
	}
	return errors.New(strings.Join(lines, "\n"))
}
