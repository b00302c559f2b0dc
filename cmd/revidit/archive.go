package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"revidit/review"
	"revidit/review/darwincore"
	"revidit/review/service"
	"revidit/web/words"
)

type archiveCommand struct {
	Export archiveExport `cmd:"" help:"Write a Darwin Core archive of the collection for others, places as coarse as the policy has it."`
	Import archiveImport `cmd:"" help:"Tell what an archive of somebody else would bring, and with --accept take it in."`
	Undo   archiveUndo   `cmd:"" help:"Take back what an intake has brought, as one act."`
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

// intaking plans a file, tells what it would bring, and takes in what is accepted.
type intaking struct {
	club  club
	on    console
	undo  string // command that takes back
	page  string // where a plan can be accepted
	actor review.Actor
}

func (i intaking) run(ctx context.Context, as asCurator, name string, accept bool, plan func(context.Context, review.Actor, service.IntakeFile) (review.Intake, error)) (err error) {
	if i.actor, err = i.club.curator(ctx, as.As); err != nil {
		return err
	}
	file, err := os.Open(name)
	if err != nil {
		return err
	}
	defer file.Close()
	about, err := file.Stat()
	if err != nil {
		return err
	}
	in, err := plan(ctx, i.actor, service.IntakeFile{Name: filepath.Base(name), From: file, Size: about.Size()})
	if err != nil {
		return err
	}
	if err := i.tell(ctx, in); err != nil {
		return err
	}
	if !accept {
		fmt.Fprintf(i.on.out, "Nothing was taken in. Accept it with --accept, or on %s: intake %s.\n", i.page, in.ID)
		return nil
	}
	job, err := i.club.service.AcceptIntake(ctx, i.actor, in.ID, in.Plan)
	if err != nil {
		return err
	}
	progress := newProgress(i.on, "Taking in")
	if err := i.club.service.Do(ctx, job, func(step service.JobStep) { progress(step.Done, step.Total) }); err != nil {
		return err
	}
	fmt.Fprintf(i.on.out, "%d specimens were taken in. Take them back with: %s %s\n", in.Told.Takes(), i.undo, in.ID)
	return nil
}

func (i intaking) tell(ctx context.Context, in review.Intake) error {
	tellSummary(i.on.out, in.Told)
	for after := 0; ; {
		v, err := i.club.service.Intake(ctx, i.actor, in.ID, true, after)
		if err != nil {
			return err
		}
		for _, row := range v.Rows {
			for _, f := range row.Incoming.Faults {
				tellFault(ctx, i.on.out, f)
			}
		}
		if after = v.Next; after == 0 {
			break
		}
	}
	for _, f := range in.Told.Faults {
		tellFault(ctx, i.on.out, f)
	}
	return nil
}

func tellSummary(out io.Writer, told review.IntakeSummary) {
	fmt.Fprintf(out, "%d rows; %d can be taken in, with %d determinations, %d photos described and %d regions. Of %d rows something is told.\n", told.Rows, told.Takes(), told.Slips,
		told.Described, told.Regions, told.Faulty)
	for _, u := range told.Unplaced {
		column := u.Column
		if column == "" {
			column = "(a column that is not described)"
		}
		fmt.Fprintf(out, "  kept word for word: %s of %s, %d %s\n", column, u.File, u.Values, plural(u.Values, "value", "values"))
	}
	for _, name := range told.Unread {
		fmt.Fprintf(out, "  not read: %s\n", name)
	}
}

func tellFault(ctx context.Context, out io.Writer, f review.IntakeFault) {
	at := f.File
	if f.Row > 0 {
		at += fmt.Sprintf(" row %d", f.Row)
	}
	if f.Column != "" {
		at += ", " + f.Column
	}
	text := words.T(ctx, "archive.fault-"+string(f.Code))
	if f.Value != "" {
		text += ": " + f.Value
	}
	if f.Stored != "" && f.Stored != f.Value {
		text += " -> " + f.Stored
	}
	fmt.Fprintf(out, "  %s: %s\n", strings.TrimSpace(at), text)
}

type archiveUndo struct {
	asCurator
	Intake string `arg:"" help:"Id of the intake."`
	Reason string `help:"Why." required:"" placeholder:"TEXT"`
}

// Run takes back.
func (c *archiveUndo) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) error {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		job, err := club.service.UndoIntake(ctx, actor, c.Intake, c.Reason)
		if err != nil {
			return err
		}
		progress := newProgress(on, "Taking back")
		if err := club.service.Do(ctx, job, func(step service.JobStep) { progress(step.Done, step.Total) }); err != nil {
			return err
		}
		v, err := club.service.Intake(ctx, actor, c.Intake, true, 0)
		if err != nil {
			return err
		}
		fmt.Fprintf(on.out, "The intake was undone; %d %s left, since something was done with them.\n", v.Kept, plural(v.Kept, "specimen was", "specimens were"))
		return nil
	})
}

type archiveCheck struct {
	File string `arg:"" help:"Archive to read." type:"existingfile"`
}

// Run reads the archive as an import does; it ends with 1 where anything is wrong.
func (c *archiveCheck) Run(ctx context.Context, on console) error {
	file, err := os.Open(c.File)
	if err != nil {
		return err
	}
	defer file.Close()
	about, err := file.Stat()
	if err != nil {
		return err
	}
	archive, err := darwincore.Open(file, about.Size(), darwincore.DefaultLimits)
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
