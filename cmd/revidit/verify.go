package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"revidit/review/proof"
)

type verifyCommand struct {
	File       string   `arg:"" help:"Export, proof of an event or proof of growth. It is read, and nothing else: no database, no network." type:"existingfile"`
	Key        []string `help:"Public key of the club (NAME+HASH+KEY), or a file with it; may be given more than once." required:"" placeholder:"KEY"`
	Checkpoint []string `help:"File of a checkpoint that was kept elsewhere: the history must hold it, too." type:"existingfile" placeholder:"FILE"`
	Leaves     string   `help:"List of leaves that was kept elsewhere: the first event that differs is named." type:"existingfile" placeholder:"FILE"`
}

// mostProof bounds what is read of a proof.
const mostProof = 512 << 20

// Run says what holds, and exits with 1 where something is not what was signed.
func (c *verifyCommand) Run(_ context.Context, on console) error {
	keys, err := readKeys(c.Key)
	if err != nil {
		return err
	}
	kept, err := keptCheckpoints(keys, c.Checkpoint)
	if err != nil {
		return err
	}
	file, err := os.Open(c.File)
	if err != nil {
		return err
	}
	defer file.Close()
	head := make([]byte, 64)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return err
	}
	whole := io.MultiReader(strings.NewReader(string(head[:n])), file)
	switch begins := string(head[:n]); {
	case proof.IsInclusion(begins):
		return c.inclusion(on, keys, whole)
	case proof.IsGrowth(begins):
		return c.growth(on, keys, kept, whole)
	}
	return c.export(on, keys, kept, whole)
}

// readKeys reads keys, or the files that hold them.
func readKeys(given []string) (proof.Keys, error) {
	keys := make([]string, len(given))
	for i, key := range given {
		keys[i] = key
		if text, err := os.ReadFile(key); err == nil {
			keys[i] = string(text)
		}
	}
	return proof.ReadKeys(keys...)
}

func keptCheckpoints(keys proof.Keys, files []string) (kept []proof.Checkpoint, err error) {
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		c, err := keys.Open(string(text))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		kept = append(kept, c)
	}
	return kept, nil
}

func (c *verifyCommand) inclusion(on console, keys proof.Keys, from io.Reader) error {
	text, err := io.ReadAll(io.LimitReader(from, mostProof))
	if err != nil {
		return err
	}
	leaf, checkpoint, err := keys.CheckInclusion(string(text))
	if err != nil {
		return c.broken(on, err)
	}
	fmt.Fprintf(on.out, "Event %d of %s, %s by %s (%s) at %s, stands at position %d of the %d events of the checkpoint.\n",
		leaf.Seq, leaf.Stream, leaf.Kind, leaf.Actor, leaf.Role, leaf.At.Format("2006-01-02 15:04:05.000000 UTC"), leaf.Position, checkpoint.Size)
	fmt.Fprintf(on.out, "%s\n", leaf.Data)
	return nil
}

func (c *verifyCommand) growth(on console, keys proof.Keys, kept []proof.Checkpoint, from io.Reader) error {
	if len(kept) != 1 {
		return errors.New("this is a proof that a history only grew: name the checkpoint from which on with --checkpoint")
	}
	text, err := io.ReadAll(io.LimitReader(from, mostProof))
	if err != nil {
		return err
	}
	now, err := keys.CheckGrowth(string(text), kept[0])
	if err != nil {
		return c.broken(on, err)
	}
	fmt.Fprintf(on.out, "The history of %d events begins with the %d events of the former checkpoint, unaltered.\n", now.Size, kept[0].Size)
	return nil
}

// broken says what does not hold.
func (c *verifyCommand) broken(on console, err error) error {
	if !errors.Is(err, proof.ErrAltered) {
		return err
	}
	fmt.Fprintf(on.out, "%s does not hold: %v.\n", c.File, err)
	return exitError{1}
}

func (c *verifyCommand) export(on console, keys proof.Keys, kept []proof.Checkpoint, from io.Reader) error {
	check := proof.Check{Keys: keys, Kept: kept}
	if c.Leaves != "" {
		list, err := os.Open(c.Leaves)
		if err != nil {
			return err
		}
		defer list.Close()
		if check.Leaves, err = keys.ReadLeaves(list); err != nil {
			return err
		}
	}
	report, err := check.Verify(from)
	if err != nil {
		return err
	}
	return tellReport(on, report)
}

// tellReport puts into words what was found, and is an error of exit code 1 where something is wrong.
func tellReport(on console, report proof.Report) error {
	if newest := report.Newest(); newest != nil {
		fmt.Fprintf(on.out, "%d %s hold: events 1 to %d are what was signed.\n", len(report.Holds), plural(len(report.Holds), "checkpoint", "checkpoints"), newest.Size)
	}
	if report.Unknown > 0 {
		fmt.Fprintf(on.out, "%d %s signed by another key and were passed over.\n", report.Unknown, plural(report.Unknown, "checkpoint is", "checkpoints are"))
	}
	if report.Fault == nil {
		fmt.Fprintf(on.out, "All %d events are what was signed.\n", report.Events)
		return nil
	}
	fmt.Fprintln(on.out, faultWords(*report.Fault))
	return exitError{1}
}

// faultWords say what is wrong.
func faultWords(f proof.Fault) string {
	stretch := fmt.Sprintf("%d to %d", f.Position, f.Until)
	if f.Position == f.Until {
		stretch = fmt.Sprint(f.Position)
	}
	switch f.Kind {
	case proof.FaultAltered:
		return fmt.Sprintf("The event at position %d was altered%s. It is the first that differs.", f.Position, nowSays(f.Event))
	case proof.FaultAdded:
		return fmt.Sprintf("At position %d %d %s added%s. It is the first difference.", f.Position, f.Count, plural(int(f.Count), "event was", "events were"), nowSays(f.Event))
	case proof.FaultRemoved:
		return fmt.Sprintf("The %s at position %s %s removed. It is the first difference.", plural(int(f.Count), "event", "events"), stretch, plural(int(f.Count), "was", "were"))
	case proof.FaultUnsigned:
		return fmt.Sprintf("No checkpoint covers the events from position %d on: of %d %s nothing can be said.", f.Position, f.Count, plural(int(f.Count), "event", "events"))
	case proof.FaultSignature:
		return fmt.Sprintf("The checkpoint behind position %d is not what was signed.", f.Until)
	}
	return fmt.Sprintf("Between positions %s something was altered, added or removed: the checkpoint of %d events does not hold, and the file has %d there. "+
		"A list of leaves that was kept elsewhere (--leaves) would tell which.", stretch, f.Signed, f.Count)
}

func nowSays(leaf *proof.Leaf) string {
	if leaf == nil {
		return ""
	}
	return fmt.Sprintf("; the file has event %d of %q there, %q by %q", leaf.Seq, leaf.Stream, leaf.Kind, leaf.Actor)
}
