package main

import (
	"fmt"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
)

// newBar is a bar on a terminal, and nil elsewhere.
func newBar(io console, text string, all int) *progressbar.ProgressBar {
	file, ok := io.err.(*os.File)
	if !ok || !isTerminal(file) {
		return nil
	}
	return progressbar.NewOptions(all, progressbar.OptionSetWriter(io.err), progressbar.OptionSetDescription(text),
		progressbar.OptionShowCount(), progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
}

// newProgress shows a bar on a terminal and a line every ten steps elsewhere.
func newProgress(io console, text string) func(done, all int) {
	if bar := newBar(io, text, 0); bar != nil {
		return func(done, all int) {
			bar.ChangeMax(all)
			_ = bar.Set(done) // a bar that cannot be drawn is no reason to stop
		}
	}
	return func(done, all int) {
		if done%10 == 0 || done == all {
			fmt.Fprintf(io.err, "%s: %d of %d\n", text, done, all)
		}
	}
}

func isTerminal(file *os.File) bool {
	info, err := file.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}
