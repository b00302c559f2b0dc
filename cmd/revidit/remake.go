package main

import (
	"context"
	"fmt"

	"revidit/models"
	"revidit/review"
	"revidit/review/service"
)

type remakeCommand struct {
	clubFlags
	Submissions []string `arg:"" optional:"" help:"Ids of submissions; without any, all."`
}

// Run makes assessments of the past again and says which come out otherwise than they were stored.
func (c *remakeCommand) Run(ctx context.Context, io console) error {
	return c.with(ctx, func(club club) error {
		var t remakeTally
		each := func(id string) error {
			made, err := club.service.Remake(ctx, id)
			if err == nil {
				t.add(io, id, made)
			}
			return err
		}
		if err := c.each(ctx, club, each); err != nil {
			return err
		}
		fmt.Fprintf(io.out, "assessments=%d again=%d kept=%d differ=%d\n", t.again+t.kept+t.differ, t.again, t.kept, t.differ)
		if t.differ > 0 {
			return fmt.Errorf("%d %s of the past otherwise than stored. Nothing was changed: pages show what was stored and say so. Look with revidit verify whether the history is what was signed, and whether this is the program that made it",
				t.differ, plural(t.differ, "assessment comes out", "assessments come out"))
		}
		return nil
	})
}

// each calls visit for the submissions asked for.
func (c *remakeCommand) each(ctx context.Context, club club, visit func(id string) error) error {
	if len(c.Submissions) > 0 {
		for _, id := range c.Submissions {
			if err := visit(id); err != nil {
				return err
			}
		}
		return nil
	}
	return eachSubmission(ctx, club.db, visit)
}

// eachSubmission calls visit for all submissions.
func eachSubmission(ctx context.Context, db *models.DB, visit func(id string) error) error {
	page := service.Page{Size: 200}
	for {
		lines, next, err := db.FindSubmissions(ctx, service.SubmissionFilter{}, page)
		if err != nil {
			return err
		}
		for _, l := range lines {
			if err := visit(l.ID); err != nil {
				return err
			}
		}
		if page.Cursor = next; next == "" {
			return nil
		}
	}
}

type remakeTally struct{ again, kept, differ int }

func (t *remakeTally) add(io console, id string, made []review.Remade) {
	for _, m := range made {
		switch {
		case m.Again:
			t.again++
		case m.Why == review.StoredDiffers:
			t.differ++
			fmt.Fprintf(io.out, "%s at position %d: comes out otherwise than it was stored\n", id, m.Position)
		default:
			t.kept++
		}
	}
}
