package main

import (
	"context"
	"fmt"

	"revidit/review/jobs"
	"revidit/review/service"
)

type reassessCommand struct {
	clubFlags
	As    string `help:"Login of the curator under whom it is recorded." required:"" placeholder:"LOGIN"`
	Group string `help:"Group of tables; empty: all." placeholder:"ID"`
}

// Run assesses what waits for reviewers and was assessed with other tables than those in force.
func (c *reassessCommand) Run(ctx context.Context, io console) error {
	return c.clubFlags.with(ctx, func(club club) error {
		if _, err := club.curator(ctx, c.As); err != nil {
			return err
		}
		judges, err := club.service.Groups(ctx)
		if err != nil {
			return err
		}
		looked := false
		for _, j := range judges {
			group := j.Tables().Group
			if c.Group != "" && c.Group != group.ID {
				continue
			}
			looked = true
			done := 0
			count := func(step service.JobStep) { done += len(step.Batch.Submissions) }
			if err := club.service.Do(ctx, jobs.Reassess(group.ID, j.Tables().Hash), count); err != nil {
				return err
			}
			fmt.Fprintf(io.out, "%s, release %s: %d %s assessed anew.\n", group.ID, group.Release, done, plural(done, "submission", "submissions"))
		}
		if !looked {
			return fmt.Errorf("there is no group %q of tables; nothing was changed. Run revidit tables list to see what there is", c.Group)
		}
		return nil
	})
}
