package service

import (
	"context"
	"errors"
	"fmt"
	"reflect"
	"time"

	"revidit/review"
	"revidit/review/jobs"
	"revidit/review/proof"
)

const (
	// signEvery is how often the tree of all events is signed, where any have come.
	signEvery = time.Hour
	// sendEvery is how often the newest checkpoint goes outside the database.
	sendEvery = 24 * time.Hour
	// leavesAtOnce is how many events are read at a time, and leavesASlice how many one slice adds to the tree.
	leavesAtOnce = 2_000
	leavesASlice = 20_000
)

// Place is one outside the database that keeps checkpoints: what is changed in the database afterwards cannot be signed away.
type Place struct {
	Name string // for people
	// Put brings a checkpoint there. The same one may be put twice.
	Put func(ctx context.Context, c review.SignedCheckpoint) error
}

// GrowthOf is what it takes to store that one tree has become another.
func GrowthOf(from, to proof.Tree, tiles []proof.Tile) *review.LogGrowth {
	g := &review.LogGrowth{From: from.Size, Size: to.Size, Root: to.Root}
	for _, t := range tiles {
		g.Tiles = append(g.Tiles, review.LogTile{Level: t.Level, N: t.N, Hashes: t.Hashes})
	}
	return g
}

// proofSlice adds further events to the tree, and signs it when there are no more.
func (s *Service) proofSlice(ctx context.Context, slice jobs.Slice) (JobStep, error) {
	step := JobStep{Done: slice.Done}
	if s.signer == nil {
		return step, nil
	}
	tree, err := s.store.LogTree(ctx)
	if err != nil {
		return step, err
	}
	newest, err := s.continued(ctx, tree)
	if err != nil {
		return step, err
	}
	hashes, whole, err := s.leavesAfter(ctx, tree.Size, slice)
	if err != nil {
		return step, err
	}
	grown, tiles := tree, []proof.Tile(nil)
	if len(hashes) > 0 {
		if grown, tiles, err = tree.Append(hashes); err != nil {
			return step, err
		}
	}
	step.Done, step.More = int(grown.Size), !whole
	step.Batch.Growth = GrowthOf(tree, grown, tiles)
	if !whole {
		step.Cursor, err = encode(grown.Size)
		return step, err
	}
	if grown.Size == newest.Size {
		return step, nil
	}
	signed, err := s.signer.Sign(grown)
	step.Batch.Growth.Checkpoint = &review.SignedCheckpoint{Size: grown.Size, At: s.moment(itself).Now, Signed: signed, Key: s.signer.Public()}
	return step, err
}

// continued is the newest checkpoint, empty where there is none. Nothing further is signed on a tree that is not the one of
// which it is.
func (s *Service) continued(ctx context.Context, tree proof.Tree) (review.SignedCheckpoint, error) {
	newest, err := s.store.NewestCheckpoint(ctx)
	if review.KindOf(err) == review.KindNotFound {
		return review.SignedCheckpoint{}, nil
	}
	if err != nil {
		return newest, err
	}
	c, err := opened(newest)
	if err != nil {
		return newest, err
	}
	root, err := tree.RootAt(c.Size)
	if err == nil && root != c.Root {
		err = proof.ErrAltered
	}
	if err != nil {
		s.log.Error("the history is not what was signed: nothing further is signed. Look with revidit verify what differs", "checkpoint", c.Size, "error", err)
		return newest, fmt.Errorf("the tree of %d events does not continue the checkpoint of %d: %w", tree.Size, c.Size, err)
	}
	return newest, nil
}

// opened reads a checkpoint by the key that stands beside it.
func opened(c review.SignedCheckpoint) (proof.Checkpoint, error) {
	keys, err := proof.ReadKeys(c.Key)
	if err != nil {
		return proof.Checkpoint{}, err
	}
	return keys.Open(c.Signed)
}

// leavesAfter hashes events behind a position, and says whether there are no more.
func (s *Service) leavesAfter(ctx context.Context, position int64, slice jobs.Slice) (hashes []proof.Hash, whole bool, err error) {
	for {
		leaves, err := s.store.LeavesAfter(ctx, position, leavesAtOnce)
		if err != nil {
			return nil, false, err
		}
		for _, l := range leaves {
			line, err := l.Line()
			if err != nil {
				return nil, false, err
			}
			hashes = append(hashes, proof.LeafHash(line))
			position = l.Position
		}
		if len(leaves) < leavesAtOnce {
			return hashes, true, nil
		}
		if len(hashes) >= leavesASlice || slice.Enough() {
			return hashes, false, nil
		}
	}
}

// proofDue: events have come since the newest checkpoint, and that is an hour old.
func (s *Service) proofDue(ctx context.Context) ([]jobs.Job, error) {
	if s.signer == nil {
		return nil, nil
	}
	last, err := s.store.LastPosition(ctx)
	if err != nil || last == 0 {
		return nil, err
	}
	newest, err := s.store.NewestCheckpoint(ctx)
	if err != nil && review.KindOf(err) != review.KindNotFound {
		return nil, err
	}
	age := s.now().Sub(newest.At) // below 0 where the clock was set back
	if last == newest.Size || age >= 0 && age < signEvery {
		return nil, nil
	}
	return []jobs.Job{jobs.Proof()}, nil
}

// sendSlice brings the newest checkpoint to all places. What went well is not undone by what did not.
func (s *Service) sendSlice(ctx context.Context, _ jobs.Slice) (JobStep, error) {
	var m meter
	m.begin()
	newest, err := s.store.NewestCheckpoint(ctx)
	if len(s.outside) == 0 || review.KindOf(err) == review.KindNotFound {
		return JobStep{}, nil
	}
	if err != nil {
		return JobStep{}, err
	}
	sent := review.Sent{At: s.moment(itself).Now, Size: newest.Size}
	for _, place := range s.outside {
		if put := place.Put(ctx, newest); put != nil {
			s.log.Error("the checkpoint of the day did not get outside the database", "place", place.Name, "error", put)
			err = errors.Join(err, fmt.Errorf("%s: %w", place.Name, put))
			continue
		}
		sent.Places = append(sent.Places, place.Name)
	}
	if err != nil {
		return JobStep{}, err
	}
	m.end()
	mark, err := m.made(review.FoundSent, "", "", sent.At, sent)
	return JobStep{Batch: review.Batch{Found: []review.Found{mark}}, Done: len(sent.Places)}, err
}

// sendDue: there is a checkpoint, and one was last sent a day ago.
func (s *Service) sendDue(ctx context.Context) ([]jobs.Job, error) {
	if len(s.outside) == 0 {
		return nil, nil
	}
	_, err := s.store.NewestCheckpoint(ctx)
	if review.KindOf(err) == review.KindNotFound {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	return s.dueAfter(ctx, review.FoundSent, sendEvery, jobs.SendCheckpoint())
}

// LogView is what can be said of the tree of all events.
type LogView struct {
	Events int64 `json:"events" doc:"That have a position"`
	// Newest is nil where nothing was signed yet.
	Newest *review.SignedCheckpoint `json:"newest,omitempty"`
	// Sent is nil where nothing has gone outside yet; Places are where it is to go.
	Sent   *review.Sent `json:"sent,omitempty"`
	Places []string     `json:"places" nullable:"false"`
}

// Log is what can be said of the tree of all events, for those who may prove them.
func (s *Service) Log(ctx context.Context, actor review.Actor) (v LogView, err error) {
	if !review.May(actor, review.ActProve, "") {
		return v, review.Forbidden(actor, review.ActProve, "")
	}
	v.Places = []string{}
	for _, place := range s.outside {
		v.Places = append(v.Places, place.Name)
	}
	if v.Events, err = s.store.LastPosition(ctx); err != nil {
		return v, err
	}
	newest, err := s.store.NewestCheckpoint(ctx)
	if err == nil {
		v.Newest = &newest
	} else if review.KindOf(err) != review.KindNotFound {
		return v, err
	}
	var sent review.Sent
	found, err := s.found(ctx, review.FoundSent, "", "", &sent)
	if err == nil && found.Made != nil {
		v.Sent = &sent
	}
	return v, err
}

// ProveEvent proves that an event of a submission's history stands in the tree of the newest checkpoint: a text that revidit
// verify checks. The event stands in it whole, so that none is proved of which anything is closed to the actor.
func (s *Service) ProveEvent(ctx context.Context, actor review.Actor, submission, stream string, seq int) (string, error) {
	history, err := s.HistoryOf(ctx, actor, submission) // first: a draft of others is not there
	if err != nil {
		return "", err
	}
	if !review.May(actor, review.ActProve, "") {
		return "", review.Forbidden(actor, review.ActProve, "")
	}
	leaf, err := s.store.LeafOf(ctx, stream, seq)
	if err != nil {
		return "", err
	}
	stored, err := review.DecodeChange(leaf.Kind, string(leaf.Data))
	if err != nil {
		return "", err
	}
	for _, e := range history.Entries {
		if e.Stream != stream || e.Seq != seq {
			continue
		}
		if _, printed := stored.(*review.SheetPrinted); printed && !reflect.DeepEqual(e.Change, stored) {
			return "", review.Errorf(review.KindForbidden, "This sheet has labels of other specimens, too, which its proof would tell. Prove the sheet by its position on the command line.")
		}
		if e.Hidden || !reflect.DeepEqual(e.Change, stored) {
			return "", review.Errorf(review.KindForbidden, "Part of this event is closed to you as long as the submission is open, and its proof would tell it. Come back when the submission is closed.")
		}
		return s.prove(ctx, leaf)
	}
	return "", review.Errorf(review.KindNotFound, "There is no such event in the history of this submission.")
}

func (s *Service) prove(ctx context.Context, leaf proof.Leaf) (string, error) {
	newest, err := s.store.NewestCheckpoint(ctx)
	if err != nil && review.KindOf(err) != review.KindNotFound {
		return "", err
	}
	if newest.Size < leaf.Position {
		return "", review.Errorf(review.KindNotFound, "No checkpoint covers this event yet: one is signed within the hour. Try again later.")
	}
	tree, err := s.treeAt(ctx, newest)
	if err != nil {
		return "", err
	}
	return tree.Include(leaf, newest.Signed)
}

// treeAt is the tree as it was at a checkpoint.
func (s *Service) treeAt(ctx context.Context, at review.SignedCheckpoint) (proof.Tree, error) {
	tree, err := s.store.LogTree(ctx)
	if err != nil {
		return tree, err
	}
	c, err := opened(at)
	tree.Size, tree.Root = c.Size, c.Root
	return tree, err
}

// ProvePosition is ProveEvent for whoever has the database itself.
func (s *Service) ProvePosition(ctx context.Context, position int64) (string, error) {
	leaves, err := s.store.LeavesAfter(ctx, position-1, 1)
	if err != nil {
		return "", err
	}
	if len(leaves) == 0 || leaves[0].Position != position {
		return "", review.Errorf(review.KindNotFound, "There is no event at position %d.", position)
	}
	return s.prove(ctx, leaves[0])
}

// ProveGrowth proves that the tree of the newest checkpoint only added to what it was at a size.
func (s *Service) ProveGrowth(ctx context.Context, size int64) (string, error) {
	newest, err := s.store.NewestCheckpoint(ctx)
	if err != nil {
		return "", err
	}
	tree, err := s.treeAt(ctx, newest)
	if err != nil {
		return "", err
	}
	return tree.Continue(size, newest.Signed)
}

// SignNow brings the tree up to the last event and signs it.
func (s *Service) SignNow(ctx context.Context) error { return s.Do(ctx, jobs.Proof(), nil) }
