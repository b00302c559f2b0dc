package service

import (
	"context"
	"errors"
	"fmt"
	"io"

	"revidit/review"
	"revidit/review/proof"
)

// LogReader is what it takes to read the history as it is signed: that part of a Store.
type LogReader interface {
	LeavesAfter(ctx context.Context, position int64, most int) ([]proof.Leaf, error)
	Checkpoints(ctx context.Context, after int64, most int) ([]review.SignedCheckpoint, error)
	NewestCheckpoint(ctx context.Context) (review.SignedCheckpoint, error)
}

// ExportLog writes all events up to the newest checkpoint, with all checkpoints, and unless leaves is nil the list of the leaves
// there. told is how far it has come.
func ExportLog(ctx context.Context, from LogReader, to, leaves io.Writer, told func(done, all int)) (review.SignedCheckpoint, error) {
	newest, err := from.NewestCheckpoint(ctx)
	if err != nil {
		return newest, err
	}
	export, err := proof.NewExport(to, leaves, newest.Key)
	if err != nil {
		return newest, err
	}
	for at := int64(0); at < newest.Size; {
		checkpoints, err := from.Checkpoints(ctx, at, 1)
		if err != nil {
			return newest, err
		}
		if len(checkpoints) == 0 {
			return newest, fmt.Errorf("the checkpoint of %d events is gone", newest.Size)
		}
		if err := exportUntil(ctx, from, export, at, checkpoints[0].Size, func(done int64) { told(int(done), int(newest.Size)) }); err != nil {
			return newest, err
		}
		at = checkpoints[0].Size
		if err := export.Checkpoint(checkpoints[0].Signed); err != nil {
			return newest, err
		}
	}
	return newest, export.Close()
}

// exportUntil writes the events behind one position up to another. Where there are fewer it says nothing: whoever verifies the
// export is told.
func exportUntil(ctx context.Context, from LogReader, export *proof.Export, at, until int64, told func(done int64)) error {
	for at < until {
		leaves, err := from.LeavesAfter(ctx, at, int(min(leavesAtOnce, until-at)))
		if err != nil || len(leaves) == 0 {
			return err
		}
		for _, l := range leaves {
			if err := export.Event(l); err != nil {
				return err
			}
		}
		at = leaves[len(leaves)-1].Position
		told(at)
	}
	return nil
}

// VerifyLog reads all events and holds them against the checkpoints, as Check.Verify does with an export.
func VerifyLog(ctx context.Context, from LogReader, check proof.Check, told func(done, all int)) (proof.Report, error) {
	reader, writer := io.Pipe()
	exported := make(chan error, 1)
	go func() {
		_, err := ExportLog(ctx, from, writer, nil, told)
		_ = writer.CloseWithError(err) // always nil
		exported <- err
	}()
	report, err := check.Verify(reader)
	_ = reader.Close() // always nil; whoever still writes ends
	if failed := <-exported; failed != nil && !errors.Is(failed, io.ErrClosedPipe) {
		return report, failed
	}
	return report, err
}
