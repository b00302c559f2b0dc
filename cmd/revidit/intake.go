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
	"revidit/review/service"
	"revidit/web/words"
)

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
	file, size, err := opened(name)
	if err != nil {
		return err
	}
	defer file.Close()
	in, err := plan(ctx, i.actor, service.IntakeFile{Name: filepath.Base(name), From: file, Size: size})
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

// opened is a file to read, and how many bytes it has.
func opened(name string) (file *os.File, size int64, err error) {
	if file, err = os.Open(name); err != nil {
		return nil, 0, err
	}
	about, err := file.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, file.Close())
	}
	return file, about.Size(), nil
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

type intakeUndo struct {
	asCurator
	Intake string `arg:"" help:"Id of the intake."`
	Reason string `help:"Why." required:"" placeholder:"TEXT"`
}

// Run takes back.
func (c *intakeUndo) Run(ctx context.Context, on console) error {
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
