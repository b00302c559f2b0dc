package models

import (
	"context"
	"encoding/json"
	"fmt"

	"gorm.io/gorm"

	"revidit/review"
)

// proposalRow is a row of cell_proposals.
type proposalRow struct {
	ID       string `gorm:"primaryKey"`
	Seq      int
	GroupID  string
	Status   review.ProposalStatus
	Proposer string
	At       instant
	Body     string
}

func (proposalRow) TableName() string { return "cell_proposals" }

func toProposalRow(p review.CellProposal) (proposalRow, error) {
	body, err := json.Marshal(p)
	if err != nil {
		return proposalRow{}, fmt.Errorf("encode cell proposal %s: %w", p.ID, err)
	}
	return proposalRow{ID: p.ID, Seq: p.Seq, GroupID: p.Group, Status: p.Status, Proposer: p.By, At: instantOf(p.At), Body: string(body)}, nil
}

func (r proposalRow) fromRow() (p review.CellProposal, err error) {
	if err := json.Unmarshal([]byte(r.Body), &p); err != nil {
		return review.CellProposal{}, fmt.Errorf("decode cell proposal %s: %w", r.ID, err)
	}
	return p, nil
}

// CellProposal implements review.Reader.
func (db *DB) CellProposal(ctx context.Context, id string) (review.CellProposal, error) {
	row, err := find[proposalRow](byID(db.read(ctx), "id", id), "There is no proposed change %s.", id)
	if err != nil {
		return review.CellProposal{}, err
	}
	return row.fromRow()
}

// FindCellProposals implements review.Reader. Of those proposed at the same time the highest id comes first.
func (db *DB) FindCellProposals(ctx context.Context, group string, status review.ProposalStatus) ([]review.CellProposal, error) {
	if err := checkFilter("group", group, "status", string(status)); err != nil {
		return nil, err
	}
	var rows []proposalRow
	query := narrow(db.read(ctx).Where("group_id = ?", group), "status = ?", string(status))
	if err := query.Order("at DESC, id DESC").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list cell proposals: %w", err)
	}
	return fromRows(rows, proposalRow.fromRow)
}

// WaitingProposals implements review.Reader. Of those proposed at the same time the lowest id comes first.
func (db *DB) WaitingProposals(ctx context.Context, notBy string, most int) ([]review.CellProposal, error) {
	var rows []proposalRow
	query := db.read(ctx).Where("status = 'open' AND proposer <> ?", notBy).Order("at, id").Limit(most)
	if !storable(notBy) {
		return []review.CellProposal{}, nil
	}
	if err := query.Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("list proposals that wait: %w", err)
	}
	return fromRows(rows, proposalRow.fromRow)
}

func rebuildProposals(tx *gorm.DB, streams [][]review.Event) error {
	proposals, err := toRows(streams, review.ReplayCellProposal)
	if err != nil {
		return err
	}
	rows, err := toRows(proposals, toProposalRow)
	if err != nil {
		return err
	}
	return replace(tx, "cell proposals", rows)
}
