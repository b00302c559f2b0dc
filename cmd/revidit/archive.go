package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"revidit/review"
	"revidit/review/darwincore"
)

type archiveCommand struct {
	Export archiveExport `cmd:"" help:"Write a Darwin Core archive of the collection for others, places as coarse as the policy has it."`
	Import archiveImport `cmd:"" help:"Tell what an archive of somebody else would bring, and with --accept take it in."`
	Undo   intakeUndo    `cmd:"" help:"Take back what an intake has brought, as one act."`
	Check  archiveCheck  `cmd:"" help:"Read an archive, offline, and tell what is wrong with it by row and column."`
}

// asCurator names under whom something is done.
type asCurator struct {
	clubFlags
	As string `help:"Login of the curator under whom it is done." required:"" placeholder:"LOGIN"`
}

type archiveExport struct {
	asCurator
	File         string `arg:"" help:"File to write; one that is there is not replaced." type:"path"`
	Title        string `help:"Title of the whole." required:"" placeholder:"TEXT"`
	Organization string `help:"Who hands it over." required:"" placeholder:"NAME"`
	License      string `help:"Licence: cc0, cc-by or cc-by-nc." enum:"cc0,cc-by,cc-by-nc" required:"" placeholder:"NAME"`
	Contact      string `help:"E-mail address for questions." placeholder:"ADDRESS"`
	RightsHolder string `help:"Who holds the rights." placeholder:"NAME"`
	Institution  string `help:"Code of the institution." placeholder:"CODE"`
	Collection   string `help:"Code of the collection." placeholder:"CODE"`
	Collectors   bool   `help:"Name collectors."`
	Media        bool   `help:"Describe photos and their regions."`
	Unsettled    bool   `help:"Also specimens of which no name is settled."`
}

// licences are those of darwincore.Licences by their short names.
var licences = map[string]string{"cc0": darwincore.Licences[0], "cc-by": darwincore.Licences[1], "cc-by-nc": darwincore.Licences[2]}

// Run writes the archive.
func (c *archiveExport) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) (err error) {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		file, err := newFile(c.File)
		if err != nil {
			return err
		}
		defer func() {
			if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
				err = errors.Join(err, os.Remove(c.File))
			}
		}()
		o := darwincore.Options{Title: c.Title, Organization: c.Organization, License: licences[c.License], Contact: c.Contact, RightsHolder: c.RightsHolder,
			Institution: c.Institution, Collection: c.Collection, Collectors: c.Collectors, Media: c.Media, Unsettled: c.Unsettled}
		made, err := club.service.HandOver(ctx, actor, o, file, inThousands(newProgress(on, "Writing specimens, in thousands")))
		if err != nil {
			return err
		}
		fmt.Fprintf(on.out, "%s holds %d occurrences, %d identifications, %d rows of media.\n", c.File, made.Occurrences, made.Identifications, made.Media)
		for _, stream := range made.Unread {
			fmt.Fprintf(on.err, "%s cannot be read and is not in it; revidit rebuild makes it again.\n", stream)
		}
		if len(made.Unread) > 0 {
			return exitError{1}
		}
		return nil
	})
}

func inThousands(told func(done, all int)) func(done, all int) {
	return func(done, all int) { told(done/1000, all/1000) }
}

type archiveImport struct {
	asCurator
	File   string `arg:"" help:"Archive to read." type:"existingfile"`
	Accept bool   `help:"Take in what can be taken in. Without it nothing is stored but the plan, which a curator may accept on the page of the archive."`
}

// Run plans, tells, and takes in what is accepted.
func (c *archiveImport) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) error {
		i := intaking{club: club, on: on, undo: "revidit archive undo", page: "the page of the archive"}
		return i.run(ctx, c.asCurator, c.File, c.Accept, club.service.PlanArchive)
	})
}

type archiveCheck struct {
	File string `arg:"" help:"Archive to read." type:"existingfile"`
}

// Run reads the archive as an import does; it ends with 1 where anything is wrong.
func (c *archiveCheck) Run(ctx context.Context, on console) error {
	file, size, err := opened(c.File)
	if err != nil {
		return err
	}
	defer file.Close()
	archive, err := darwincore.Open(file, size, darwincore.DefaultLimits)
	if err != nil {
		return fmt.Errorf("%s is no Darwin Core archive that can be read: %w", c.File, err)
	}
	reading, err := archive.Read()
	if err != nil {
		return fmt.Errorf("%s is no Darwin Core archive that can be read: %w", c.File, err)
	}
	var told review.IntakeSummary
	err = reading.Each(func(in *review.Incoming) error {
		told.Count(in)
		for _, f := range in.Faults {
			tellFault(ctx, on.out, f)
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s cannot be read to its end: %w", c.File, err)
	}
	general := reading.Summary()
	for _, f := range general.Faults {
		tellFault(ctx, on.out, f)
	}
	told.Unread = general.Unread
	tellSummary(on.out, told)
	if told.Faulty+len(general.Faults) > 0 {
		return exitError{1}
	}
	return nil
}
