package models

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"revidit/review"
	"revidit/review/proof"
	"revidit/review/service"
)

// treeRow is the one row of proof_tree: how far the tree of all events goes.
type treeRow struct {
	One  int `gorm:"primaryKey;autoIncrement:false"`
	Size int64
	Root []byte
}

func (treeRow) TableName() string { return "proof_tree" }

// tileRow is a row of proof_tiles.
type tileRow struct {
	Level  int   `gorm:"primaryKey;autoIncrement:false"`
	N      int64 `gorm:"primaryKey;autoIncrement:false"`
	Hashes []byte
}

func (tileRow) TableName() string { return "proof_tiles" }

// checkpointRow is a row of checkpoints.
type checkpointRow struct {
	Size      int64 `gorm:"primaryKey;autoIncrement:false"`
	MadeAt    instant
	Signed    string
	PublicKey string
}

func (checkpointRow) TableName() string { return "checkpoints" }

func (r checkpointRow) fromRow() (review.SignedCheckpoint, error) {
	return review.SignedCheckpoint{Size: r.Size, At: r.MadeAt.Time, Signed: r.Signed, Key: r.PublicKey}, nil
}

// storeGrowth adds to the tree and keeps a checkpoint of it.
func storeGrowth(tx *gorm.DB, g *review.LogGrowth) error {
	if g == nil {
		return nil
	}
	if err := raiseTree(tx, g); err != nil {
		return err
	}
	rows := make([]tileRow, len(g.Tiles))
	for i, t := range g.Tiles {
		rows[i] = tileRow(t)
	}
	grown := clause.OnConflict{Columns: []clause.Column{{Name: "level"}, {Name: "n"}}, UpdateAll: true}
	for chunk := range slices.Chunk(rows, streamsAtOnce) {
		if err := insert(tx.Clauses(grown), "tiles of the tree of events", chunk); err != nil {
			return err
		}
	}
	if c := g.Checkpoint; c != nil {
		return insert(tx, "a checkpoint", []checkpointRow{{Size: c.Size, MadeAt: instantOf(c.At), Signed: c.Signed, PublicKey: c.Key}})
	}
	return nil
}

// raiseTree says how far the tree goes from now on: nobody else adds to it from where it was.
func raiseTree(tx *gorm.DB, g *review.LogGrowth) error {
	if g.From == g.Size {
		return nil // nothing but a checkpoint, of which there is one of a size
	}
	row := treeRow{One: 1, Size: g.Size, Root: g.Root[:]}
	if g.From == 0 {
		return insert(tx, "the tree of events", []treeRow{row}) // a row that is there already is a race
	}
	result := tx.Model(&treeRow{}).Where("one = 1 AND size = ?", g.From).Select("*").Updates(&row)
	if result.Error != nil {
		return fmt.Errorf("grow the tree of events: %w", result.Error)
	}
	if result.RowsAffected == 0 {
		return service.ErrRace
	}
	return nil
}

// LogTree implements service.Reader.
func (db *DB) LogTree(ctx context.Context) (proof.Tree, error) { return treeOf(db.read(ctx)) }

// treeOf reads what the tree of events is, and its tiles when they are asked for.
func treeOf(tx *gorm.DB) (proof.Tree, error) {
	tree := proof.Tree{Tiles: func(ids []proof.TileID) ([][]byte, error) { return tilesOf(tx, ids) }}
	var row treeRow
	err := tx.Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return tree, nil
	}
	if err != nil {
		return tree, fmt.Errorf("read the tree of events: %w", err)
	}
	if len(row.Root) != len(tree.Root) {
		return tree, fmt.Errorf("the root of the tree of events has %d bytes", len(row.Root))
	}
	tree.Size, tree.Root = row.Size, proof.Hash(row.Root)
	return tree, nil
}

// tilesOf reads tiles in the order asked for; empty where there is none.
func tilesOf(tx *gorm.DB, ids []proof.TileID) ([][]byte, error) {
	conditions, args := make([]string, len(ids)), make([]any, 0, 2*len(ids))
	for i, id := range ids {
		conditions[i] = "level = ? AND n = ?"
		args = append(args, id.Level, id.N)
	}
	var rows []tileRow
	if err := tx.Where(strings.Join(conditions, " OR "), args...).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read tiles of the tree of events: %w", err)
	}
	found := map[proof.TileID][]byte{}
	for _, r := range rows {
		found[proof.TileID{Level: r.Level, N: r.N}] = r.Hashes
	}
	data := make([][]byte, len(ids))
	for i, id := range ids {
		data[i] = found[id]
	}
	return data, nil
}

// Checkpoints implements service.Reader.
func (db *DB) Checkpoints(ctx context.Context, after int64, most int) ([]review.SignedCheckpoint, error) {
	var rows []checkpointRow
	if err := db.read(ctx).Where("size > ?", after).Order("size").Limit(most).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read checkpoints: %w", err)
	}
	return fromRows(rows, checkpointRow.fromRow)
}

// NewestCheckpoint implements service.Reader.
func (db *DB) NewestCheckpoint(ctx context.Context) (review.SignedCheckpoint, error) {
	var row checkpointRow
	err := db.read(ctx).Order("size DESC").Take(&row).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return review.SignedCheckpoint{}, review.Errorf(review.KindNotFound, "No checkpoint has been signed yet.")
	}
	if err != nil {
		return review.SignedCheckpoint{}, fmt.Errorf("read the newest checkpoint: %w", err)
	}
	return row.fromRow()
}

// LeavesAfter implements service.Reader. Nothing of an event is decoded: it goes into the tree as it is stored.
func (db *DB) LeavesAfter(ctx context.Context, position int64, most int) ([]proof.Leaf, error) {
	return leavesAfter(db.read(ctx), position, most)
}

func leavesAfter(tx *gorm.DB, position int64, most int) ([]proof.Leaf, error) {
	var rows []struct {
		Position int64
		Event    eventRow `gorm:"embedded"`
	}
	err := tx.Table("event_positions AS p").Select("p.position, e.*").Joins("JOIN events AS e ON e.stream = p.stream AND e.seq = p.seq").
		Where("p.position > ?", position).Order("p.position").Limit(most).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read events in order: %w", err)
	}
	leaves := make([]proof.Leaf, len(rows))
	for i, r := range rows {
		e := r.Event
		leaves[i] = proof.Leaf{Position: r.Position, Stream: e.Stream, Seq: e.Seq, At: e.At.Time, Actor: e.Actor, Role: string(e.Role), Kind: e.Kind, Data: []byte(e.Data)}
	}
	return leaves, nil
}

// LeafOf implements service.Reader.
func (db *DB) LeafOf(ctx context.Context, stream string, seq int) (proof.Leaf, error) {
	var at positionRow
	err := byID(db.read(ctx), "stream", stream).Where("seq = ?", seq).Take(&at).Error
	if errors.Is(err, gorm.ErrRecordNotFound) {
		return proof.Leaf{}, review.Errorf(review.KindNotFound, "There is no such event, or it has no place among all yet.")
	}
	if err != nil {
		return proof.Leaf{}, fmt.Errorf("read the position of an event: %w", err)
	}
	leaves, err := db.LeavesAfter(ctx, at.Position-1, 1)
	if err != nil {
		return proof.Leaf{}, err
	}
	if len(leaves) == 0 || leaves[0].Position != at.Position {
		return proof.Leaf{}, fmt.Errorf("the event at position %d is gone", at.Position)
	}
	return leaves[0], nil
}

// rebuildTree makes the tree again from the events, as far as it went.
func rebuildTree(tx *gorm.DB) error {
	former, err := treeOf(tx)
	if err != nil || former.Size == 0 {
		return err
	}
	for _, table := range []string{"proof_tiles", "proof_tree"} {
		if err := tx.Exec("DELETE FROM " + table).Error; err != nil {
			return fmt.Errorf("clear the tree of events: %w", err)
		}
	}
	for at := int64(0); at < former.Size; {
		leaves, err := leavesAfter(tx, at, int(min(leavesAtOnce, former.Size-at)))
		if err != nil {
			return err
		}
		if len(leaves) == 0 {
			return fmt.Errorf("the tree of events had %d, and there are %d events", former.Size, at)
		}
		growth, err := grown(tx, leaves)
		if err != nil {
			return err
		}
		if err := storeGrowth(tx, growth); err != nil {
			return err
		}
		at = growth.Size
	}
	return nil
}

// leavesAtOnce bounds the memory of rebuildTree.
const leavesAtOnce = 5000

func grown(tx *gorm.DB, leaves []proof.Leaf) (*review.LogGrowth, error) {
	tree, err := treeOf(tx)
	if err != nil {
		return nil, err
	}
	hashes := make([]proof.Hash, len(leaves))
	for i, l := range leaves {
		line, err := l.Line()
		if err != nil {
			return nil, err
		}
		hashes[i] = proof.LeafHash(line)
	}
	next, tiles, err := tree.Append(hashes)
	if err != nil {
		return nil, err
	}
	return service.GrowthOf(tree, next, tiles), nil
}
