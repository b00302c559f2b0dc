package service

import (
	"bytes"
	"context"
	"io"
	"time"

	"revidit/review"
	"revidit/review/inventory"
)

// FormatInventory is the format of the table of an old collection.
const FormatInventory = "inventory"

// MostInventory bounds such a table, in bytes.
var MostInventory = inventory.DefaultLimits.File

// partOfFile is how much of a file is stored together, in bytes.
const partOfFile = 1 << 20

// PlanInventory reads the table of an old collection, CSV or XLSX, and plans what it would bring; wanted says how it is read as far as
// somebody has said so, nil: not at all. Its file is kept until the plan is accepted or gone, so that it can be read in another way.
func (s *Service) PlanInventory(ctx context.Context, actor review.Actor, file IntakeFile, wanted *review.InventoryReading) (review.Intake, error) {
	if !review.May(actor, review.ActTakeIn, "") {
		return review.Intake{}, review.Forbidden(actor, review.ActTakeIn, "")
	}
	data, err := io.ReadAll(io.NewSectionReader(file.From, 0, min(file.Size, MostInventory+1)))
	if err != nil {
		return review.Intake{}, err
	}
	m := s.moment(actor)
	in, err := newIntake(m, file, FormatInventory)
	if err != nil {
		return in, err
	}
	in.Plan = 1
	source, err := s.readInventory(ctx, m, &in, data, wanted)
	if err != nil {
		return in, err
	}
	return in, s.storePlan(ctx, m, &in, source, func() error {
		if err := s.storeFile(ctx, m, in, data); err != nil {
			return err
		}
		in.State = review.IntakePlanned
		return s.putIntake(ctx, m, review.IntakeBatch{Intake: in})
	})
}

// ReadAgain plans a table anew, read as wanted says. What waits keeps its id, and is what it was before until the new plan is whole.
func (s *Service) ReadAgain(ctx context.Context, actor review.Actor, id string, wanted *review.InventoryReading) (review.Intake, error) {
	if !review.May(actor, review.ActTakeIn, "") {
		return review.Intake{}, review.Forbidden(actor, review.ActTakeIn, "")
	}
	former, err := s.intake(ctx, id)
	if err != nil {
		return former, err
	}
	if former.State != review.IntakePlanned || former.Format != FormatInventory {
		return former, review.Errorf(review.KindConflict, "Only the table of an old collection that waits to be accepted can be read in another way. Nothing was changed.")
	}
	data, err := s.store.IntakeFile(ctx, id)
	if err != nil {
		return former, err
	}
	m := s.moment(actor)
	in := former
	in.ID, in.State, in.At, in.Plan, in.Told = m.NewID(), review.IntakeReading, m.Now, former.Plan+1, review.IntakeSummary{}
	source, err := s.readInventory(ctx, m, &in, data, wanted)
	if err != nil {
		return former, err
	}
	return in, s.storePlan(ctx, m, &in, source, func() error {
		from := in.ID
		in.ID, in.State = former.ID, review.IntakePlanned
		return s.putIntake(ctx, m, review.IntakeBatch{Intake: in, RowsFrom: from})
	})
}

// readInventory reads a table, and notes how.
func (s *Service) readInventory(ctx context.Context, m review.Moment, in *review.Intake, data []byte, wanted *review.InventoryReading) (IntakeSource, error) {
	if wanted != nil {
		var p review.Problems
		if wanted.Check(&p); len(p) > 0 {
			return nil, p.Err()
		}
	}
	table, err := inventory.Read(data, wanted, inventory.DefaultLimits)
	if err != nil {
		return nil, review.Invalidf("file", "is no table that can be taken in: %s", err)
	}
	families, err := s.families(ctx)
	if err != nil {
		return nil, err
	}
	in.Reading = table.Settle(wanted, families)
	return inventory.NewSource(table, in.Reading, in.File, families, m.Now.Format(time.DateOnly)), nil
}

func (s *Service) storeFile(ctx context.Context, m review.Moment, in review.Intake, data []byte) error {
	for number := 0; len(data) > 0; number++ {
		part := data[:min(len(data), partOfFile)]
		data = data[len(part):]
		batch := review.IntakeBatch{Intake: in, Parts: []review.FilePart{{Number: number, Body: bytes.Clone(part)}}}
		if err := s.putIntake(ctx, m, batch); err != nil {
			return err
		}
	}
	return nil
}

// families tells of names whether a group knows them as families', and what they are called today.
func (s *Service) families(ctx context.Context) (inventory.Families, error) {
	judges, err := s.Groups(ctx)
	if err != nil {
		return nil, err
	}
	return func(name string) (today, remark string, known bool) {
		for _, j := range judges {
			if j.Tables().Group.Rank != "family" {
				continue
			}
			if family, remark, ok := j.Tables().Resolve(name); ok {
				return family.Name, remark, true
			}
		}
		return "", "", false
	}, nil
}
