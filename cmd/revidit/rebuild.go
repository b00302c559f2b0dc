package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"revidit/models"
)

type rebuildCommand struct{ placeFlags }

// Run makes all rows again from the events, and says what differed. It works in one transaction, so that it is whole or not
// at all; whoever would write waits for it, and is not made to: a server must be stopped before.
func (c *rebuildCommand) Run(ctx context.Context, io console) error {
	return c.withDB(ctx, func(db *models.DB) error {
		served, err := db.AtWork(ctx, time.Now())
		if err != nil {
			return err
		}
		if served {
			return errors.New("a server is running on this database, and everybody would wait for the rebuild; nothing was changed. " +
				"Stop it first. After one that was killed, wait half a minute")
		}
		found, err := db.RebuildCompared(ctx)
		if err != nil {
			return err
		}
		differed := 0
		for _, d := range found {
			fmt.Fprintf(io.out, "%-18s %7d %-4s %s\n", d.Table, d.Rows, plural(d.Rows, "row", "rows"), differenceWords(d))
			if !d.None() {
				differed++
			}
		}
		if differed == 0 {
			fmt.Fprintln(io.out, "Every row is what the events make it.")
			return nil
		}
		fmt.Fprintln(io.out, "All rows are now what the events make them.")
		return nil
	})
}

// namedOfEach is how many keys are named of each difference.
const namedOfEach = 5

func differenceWords(d models.Difference) string {
	var words []string
	for _, part := range []struct {
		what string
		keys []string
	}{{"changed", d.Changed}, {"added", d.Added}, {"removed", d.Removed}} {
		if n := len(part.keys); n > 0 {
			text := fmt.Sprintf("%d %s: %s", n, part.what, strings.Join(part.keys[:min(n, namedOfEach)], ", "))
			if n > namedOfEach {
				text += ", …"
			}
			words = append(words, text)
		}
	}
	if len(words) == 0 {
		return "as they were"
	}
	return strings.Join(words, "; ")
}
