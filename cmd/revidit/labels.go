package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"golang.org/x/text/language"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
	"revidit/web/words"
)

type labelsCommand struct {
	asCurator
	Number   []string `arg:"" help:"Catalogue numbers of specimens, or their ids." placeholder:"NUMBER"`
	Set      string   `help:"locality, slips (of determinations) or catalogue." enum:"locality,slips,catalogue" required:"" placeholder:"SET"`
	Size     string   `help:"Width and height in millimetres, as 18x7; empty: the club's usual one." placeholder:"SIZE"`
	Paper    string   `help:"Paper of the sheet." enum:"a4,letter" default:"a4"`
	Copies   int      `help:"Pieces of each label." default:"1" placeholder:"N"`
	Again    bool     `help:"Also labels that were printed before."`
	Out      string   `help:"New file for the PDF; without it nothing is printed, and nothing noted." type:"path" placeholder:"FILE"`
	Language string   `help:"Language of what stands above the labels." enum:"en,de" default:"en"`
}

// Validate checks the numbers.
func (c *labelsCommand) Validate() error {
	if c.Copies < 1 || c.Copies > review.MostCopies {
		return fmt.Errorf("--copies must be 1 to %d; nothing was printed", review.MostCopies)
	}
	return nil
}

// Run tells what each label says, and prints.
func (c *labelsCommand) Run(ctx context.Context, on console) error {
	ctx = words.In(ctx, language.MustParse(c.Language))
	return c.with(ctx, func(club club) error {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		specimens, err := c.specimens(ctx, club)
		if err != nil {
			return err
		}
		plan, err := club.service.PlanLabels(ctx, actor, service.LabelAsk{Set: service.LabelSet(c.Set), Specimens: specimens, SheetForm: c.form()})
		if err != nil {
			return err
		}
		order := review.SheetOrder{SheetForm: c.form()}
		for _, l := range plan.Labels {
			if c.tell(ctx, on, l) {
				order.Labels = append(order.Labels, review.WantedLabel{PinLabel: l.PinLabel, Copies: c.Copies, Printed: l.Nth - 1})
			}
		}
		for _, out := range plan.LeftOut {
			fmt.Fprintf(on.err, "%s: no label, %s.\n", strings.TrimSpace(out.Number+" "+out.Specimen), words.T(ctx, "labels.out-"+string(out.Why)))
		}
		if c.Out == "" {
			return nil
		}
		if len(order.Labels) == 0 {
			return errors.New("there is no label to print; nothing was written")
		}
		return c.print(ctx, on, club, actor, order)
	})
}

func (c *labelsCommand) form() review.SheetForm {
	return review.SheetForm{Size: c.Size, Paper: c.Paper}
}

// specimens are the ids of what was named; what is no catalogue number is taken for an id.
func (c *labelsCommand) specimens(ctx context.Context, club club) ([]string, error) {
	known, err := club.db.KnownNumbers(ctx, c.Number)
	if err != nil {
		return nil, err
	}
	byNumber := map[string]string{}
	for number, id := range known {
		byNumber[strings.ToLower(number)] = id
	}
	ids := make([]string, len(c.Number))
	for i, number := range c.Number {
		ids[i] = number
		if id, ok := byNumber[strings.ToLower(number)]; ok {
			ids[i] = id
		}
	}
	return ids, nil
}

// tell says what a label says, what of it is shortened and whether it was printed; true where it is to be printed.
func (c *labelsCommand) tell(ctx context.Context, on console, l service.PlannedLabel) bool {
	fmt.Fprintf(on.out, "%s:\n", l.Number)
	for _, line := range l.Label.Lines {
		fmt.Fprintf(on.out, "    %s\n", line)
	}
	for _, s := range l.Label.Shortened {
		fmt.Fprintf(on.out, "  %s\n", pages.PlainText(pages.ShortenedWords(ctx, s)))
	}
	if l.Last == nil {
		return true
	}
	told := "--again prints it once more"
	if c.Again {
		told = "it is wanted once more"
	}
	fmt.Fprintf(on.out, "  printed before, last on %s: %s.\n", words.Date(ctx, l.Last.At), told)
	return c.Again
}

// print notes that labels are printed and writes their sheet. The file is made first: what is noted has a place to go.
func (c *labelsCommand) print(ctx context.Context, on console, club club, actor review.Actor, order review.SheetOrder) (err error) {
	file, err := newFile(c.Out)
	if err != nil {
		return err
	}
	defer func() {
		if err = errors.Join(err, file.Close()); err != nil {
			err = errors.Join(err, os.Remove(c.Out))
		}
	}()
	made, err := club.service.PrintLabels(ctx, actor, order)
	if err != nil {
		return err
	}
	view, err := club.service.Sheet(ctx, actor, made.ID)
	if err != nil {
		return err
	}
	pdf, err := club.service.SheetFile(ctx, actor, made.ID, pages.SheetWords(ctx, view))
	if err != nil {
		return err
	}
	if _, err := file.Write(pdf); err != nil {
		return fmt.Errorf("the sheet is noted as printed, and %s could not be written; open sheet %s on its page: %w", c.Out, made.ID, err)
	}
	fmt.Fprintf(on.out, "%s holds %d pieces of %d labels, sheet %s.\n", c.Out, view.Pieces, len(view.Labels), made.ID)
	return file.Sync()
}
