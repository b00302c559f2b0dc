package main

import (
	"context"
	"errors"
	"fmt"
	"os"

	"revidit/review/proof"
)

type proveCommand struct {
	Event  proveEvent  `cmd:"" help:"Prove that the event at a position stands in the history."`
	Growth proveGrowth `cmd:"" help:"Prove that the history only added to what it was at a former checkpoint."`
}

type proveEvent struct {
	clubFlags
	Position int64 `arg:"" help:"Position of the event among all, from 1."`
}

// Run prints a proof that revidit verify checks.
func (c *proveEvent) Run(ctx context.Context, on console) error {
	return c.with(ctx, func(club club) error {
		if err := club.signNow(ctx); err != nil {
			return err
		}
		text, err := club.service.ProvePosition(ctx, c.Position)
		if err == nil {
			_, err = fmt.Fprint(on.out, text)
		}
		return err
	})
}

type proveGrowth struct {
	clubFlags
	Checkpoint string `arg:"" help:"File of the former checkpoint." type:"existingfile"`
}

// Run prints a proof that revidit verify checks together with the former checkpoint.
func (c *proveGrowth) Run(ctx context.Context, on console) error {
	text, err := os.ReadFile(c.Checkpoint)
	if err != nil {
		return err
	}
	return c.with(ctx, func(club club) error {
		if err := club.signNow(ctx); err != nil {
			return err
		}
		newest, err := club.db.NewestCheckpoint(ctx)
		if err != nil {
			return err
		}
		keys, err := proof.ReadKeys(newest.Key)
		if err != nil {
			return err
		}
		former, err := keys.Open(string(text))
		if errors.Is(err, proof.ErrOtherKey) {
			return fmt.Errorf("%s is not signed by this club's key", c.Checkpoint)
		}
		if err != nil {
			return fmt.Errorf("%s: %w", c.Checkpoint, err)
		}
		grown, err := club.service.ProveGrowth(ctx, former.Size)
		if err == nil {
			_, err = fmt.Fprint(on.out, grown)
		}
		return err
	})
}
