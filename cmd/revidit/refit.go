package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"

	"revidit/models"
	"revidit/review/jobs"
	"revidit/review/service"
	"revidit/web/pages"
)

type refitCommand struct {
	clubFlags
	As    string `help:"Login of a curator, who must be allowed to." required:"" placeholder:"LOGIN"`
	Group string `help:"Group of tables; empty: all." placeholder:"ID"`
}

// Run weighs all reports on what is closed together, and makes the next snapshot of how reliable people are.
func (c *refitCommand) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		actor, err := club.curator(ctx, c.As)
		if err != nil {
			return err
		}
		judges, err := club.service.Groups(ctx)
		if err != nil {
			return err
		}
		looked := false
		for _, j := range judges {
			group := j.Tables().Group.ID
			if c.Group != "" && c.Group != group {
				continue
			}
			looked = true
			if err := club.service.Do(ctx, jobs.Refit(group), nil); err != nil {
				return err
			}
			made, _, err := club.service.Reliability(ctx, actor, group)
			if err != nil {
				return err
			}
			people := max(len(made.People), made.Unnamed)
			fmt.Fprintf(io.out, "%s: version %d, %d %s by %d %s.\n", group, made.Version, made.Items,
				plural(made.Items, "character", "characters"), people, plural(people, "person", "people"))
			for _, w := range made.Warnings {
				fmt.Fprintf(io.out, "  mind: %s\n", pages.WarningInFull(ctx, w))
			}
		}
		if !looked {
			return fmt.Errorf("there is no group %q of tables; nothing was changed. Run revidit tables list to see what there is", c.Group)
		}
		return nil
	})
}

// whileWorking does something while this process does jobs and numbers events, too, and ends with it. Both begin when work is
// called: a service that cannot listen changes nothing.
func whileWorking(ctx context.Context, db *models.DB, service *service.Service, log *slog.Logger, do func(work func()) error) error {
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	var numbering sync.WaitGroup
	begun := false
	err := do(func() {
		begun = true
		go func() { ended <- db.RunJobs(ctx, service, models.JobOptions{Log: log}) }()
		numbering.Go(func() { db.RunSequencer(ctx, log) })
	})
	stop()
	numbering.Wait()
	if !begun {
		return err
	}
	return errors.Join(err, <-ended)
}
