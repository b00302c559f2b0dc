package main

import (
	"context"
	"fmt"
	"log/slog"
	"time"

	"revidit/review"
)

// itself is the program where it acts on its own account: no person, so that nobody is said to have done it.
var itself = review.Actor{Person: "program", Name: "Revidit itself", Role: review.RoleCurator}

// refitLook is how often a server looks whether a refit is due.
const refitLook = time.Hour

type refitCommand struct {
	clubFlags
	As    string `help:"Login of the curator under whom it is recorded." required:"" placeholder:"LOGIN"`
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
			made, err := club.service.Refit(ctx, actor, group)
			if err != nil {
				return err
			}
			fmt.Fprintf(io.out, "%s: version %d, %d %s by %d %s.\n", group, made.Version, made.Items,
				plural(made.Items, "character", "characters"), len(made.People), plural(len(made.People), "person", "people"))
			for _, w := range made.Warnings {
				fmt.Fprintf(io.out, "  mind: %s\n", w)
			}
		}
		if !looked {
			return fmt.Errorf("there is no group %q of tables; nothing was changed. Run revidit tables list to see what there is", c.Group)
		}
		return nil
	})
}

// keepRefitted refits what is due now and every hour until ctx ends. A failure is logged, and tried again an hour later.
func (h *house) keepRefitted(ctx context.Context, log *slog.Logger) {
	tick := time.NewTicker(refitLook)
	defer tick.Stop()
	for {
		h.refitDue(ctx, log)
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

func (h *house) refitDue(ctx context.Context, log *slog.Logger) {
	done, err := h.service.RefitDue(ctx, itself)
	for _, group := range done {
		log.Info("refit", "group", group)
	}
	if err != nil && ctx.Err() == nil {
		log.Error("refit: what is known of people stays as it was", "error", err)
	}
}

// whileRefitting does something while the server keeps what is known of people up to date, and ends with it.
func (h *house) whileRefitting(ctx context.Context, log *slog.Logger, do func() error) error {
	ctx, stop := context.WithCancel(ctx)
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		h.keepRefitted(ctx, log)
	}()
	defer func() {
		stop()
		<-ended
	}()
	return do()
}

// logged tells the log what went wrong after an act was stored.
func logged(log *slog.Logger) func(error) {
	return func(err error) { log.Error("after an act that is stored", "error", err) }
}
