package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"revidit/cmd/revidit/collection"
	"revidit/cmd/revidit/stopwatch"
	"revidit/models"
	"revidit/review/jobs"
	"revidit/review/proof"
	"revidit/review/service"
)

type benchVerify struct {
	Rows   int `help:"Submissions of the made-up collection." default:"10000" placeholder:"N"`
	Rounds int `help:"Times that the export is verified, in turns with sha256sum." default:"5" placeholder:"N"`
}

// Validate checks the numbers.
func (c *benchVerify) Validate() error {
	if c.Rows < 1 || c.Rounds < 1 {
		return errors.New("--rows and --rounds must be above 0; nothing was measured")
	}
	return nil
}

// Run fills a database, exports its history, and has sha256sum read the same file.
func (c *benchVerify) Run(ctx context.Context, on console) (err error) {
	if _, err := exec.LookPath("sha256sum"); err != nil {
		return errors.New("bench verify compares with sha256sum, which is not here; nothing was measured")
	}
	folder, err := os.MkdirTemp("", "revidit-verify-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	file := filepath.Join(folder, "history.jsonl")
	keys, events, err := c.export(ctx, on, folder, file)
	if err != nil {
		return err
	}
	info, err := os.Stat(file)
	if err != nil {
		return err
	}
	fmt.Fprintf(on.out, "%s, %s/%s, %d cores; medians of %d rounds in turns, the file in memory.\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), c.Rounds)
	var ours, theirs []time.Duration
	for range c.Rounds {
		took, err := verifyOnce(keys, file)
		if err != nil {
			return err
		}
		ours = append(ours, took)
		began := time.Now()
		if said, err := exec.CommandContext(ctx, "sha256sum", file).CombinedOutput(); err != nil {
			return fmt.Errorf("sha256sum: %w: %s", err, said)
		}
		theirs = append(theirs, time.Since(began))
	}
	verified, summed := stopwatch.Median(ours), stopwatch.Median(theirs)
	fmt.Fprintf(on.out, "  %d events, %.1f MB: verify %.3f s, sha256sum %.3f s\n", events, float64(info.Size())/1e6, verified.Seconds(), summed.Seconds())
	fmt.Fprintf(on.out, "\nevents=%d ratio=%.2f\n", events, verified.Seconds()/summed.Seconds())
	return nil
}

// export makes the file, and tells how long the tree took to grow.
func (c *benchVerify) export(ctx context.Context, on console, folder, file string) (keys proof.Keys, events int64, err error) {
	moulds, err := collection.Live(ctx, 1, fewestLives, func(int, int) {})
	if err != nil {
		return keys, 0, err
	}
	db, err := models.Open(ctx, filepath.Join(folder, "revidit.sqlite"))
	if err != nil {
		return keys, 0, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	if err := db.Migrate(ctx); err != nil {
		return keys, 0, err
	}
	if err := db.Fill(ctx, moulds.Of(c.Rows, 1, time.Now(), "").Fillings(func(int, int) {})); err != nil {
		return keys, 0, err
	}
	private, err := proof.NewKey("bench")
	if err != nil {
		return keys, 0, err
	}
	signer, err := proof.NewSigner(private)
	if err != nil {
		return keys, 0, err
	}
	library, err := tablesFlag{}.library()
	if err != nil {
		return keys, 0, err
	}
	began := time.Now()
	if err := service.NewService(db, nil, library, service.Options{Signer: signer}).Do(ctx, jobs.Proof(), nil); err != nil {
		return keys, 0, err
	}
	grown := time.Since(began)
	if keys, err = proof.ReadKeys(signer.Public()); err != nil {
		return keys, 0, err
	}
	to, err := newFile(file)
	if err != nil {
		return keys, 0, err
	}
	newest, err := service.ExportLog(ctx, db, to, nil, func(int, int) {})
	fmt.Fprintf(on.out, "The tree of %d events grew in %.2f s.\n", newest.Size, grown.Seconds())
	return keys, newest.Size, errors.Join(err, to.Close())
}

func verifyOnce(keys proof.Keys, file string) (time.Duration, error) {
	began := time.Now()
	from, err := os.Open(file)
	if err != nil {
		return 0, err
	}
	defer from.Close()
	report, err := proof.Check{Keys: keys}.Verify(from)
	if err == nil && report.Fault != nil {
		err = errors.New(faultWords(*report.Fault))
	}
	return time.Since(began), err
}
