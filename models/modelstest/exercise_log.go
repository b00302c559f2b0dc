package modelstest

import (
	"bytes"
	"fmt"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/proof"
	"revidit/review/service"
)

var logs = map[string]func(fixture){
	"the tree of events grows from where it is":      treeGrows,
	"checkpoints are kept in order":                  checkpointsKept,
	"events are leaves as they are stored":           leavesAsStored,
	"rebuilding makes the tree of events again":      treeRebuilt,
	"proofs of the tree of events are made of tiles": treeProves,
}

// growLog adds the leaves behind the tree, at most so many.
func (f fixture) growLog(most int) (tree proof.Tree, growth *review.LogGrowth) {
	f.Helper()
	f.numberAll()
	tree, err := f.db.LogTree(f.Context())
	require.NoError(f, err)
	leaves, err := f.db.LeavesAfter(f.Context(), tree.Size, most)
	require.NoError(f, err)
	var hashes []proof.Hash
	for _, l := range leaves {
		line, err := l.Line()
		require.NoError(f, err)
		hashes = append(hashes, proof.LeafHash(line))
	}
	grown, tiles, err := tree.Append(hashes)
	require.NoError(f, err)
	return grown, service.GrowthOf(tree, grown, tiles)
}

func (f fixture) registerMany(n int) {
	f.Helper()
	for i := range n {
		id := fmt.Sprintf("log-%04d", i)
		f.commit(event(review.SpecimenStream(id), 1, "ada", noon.Add(time.Duration(i)*time.Second), &review.SpecimenRegistered{ID: id}))
	}
}

func treeGrows(f fixture) {
	empty, err := f.db.LogTree(f.Context())
	require.NoError(f, err)
	require.Zero(f, empty.Size)
	f.registerMany(300)
	for _, step := range []int{1, 200, 99} {
		tree, growth := f.growLog(step)
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Growth: growth}))
		require.ErrorIs(f, f.db.Commit(f.Context(), review.Batch{Growth: growth}), service.ErrRace, "somebody else has added to it")
		stored, err := f.db.LogTree(f.Context())
		require.NoError(f, err)
		require.Equal(f, tree.Size, stored.Size)
		require.Equal(f, tree.Root, stored.Root)
		root, err := stored.RootAt(stored.Size)
		require.NoError(f, err)
		require.Equal(f, tree.Root, root, "tiles make the root")
	}
	tiles, err := empty.Tiles([]proof.TileID{{Level: 0, N: 1}, {Level: 7, N: 7}, {Level: 0, N: 0}})
	require.NoError(f, err)
	require.Len(f, tiles[0], 44*32)
	require.Empty(f, tiles[1])
	require.Len(f, tiles[2], 256*32)
}

func checkpointsKept(f fixture) {
	_, err := f.db.NewestCheckpoint(f.Context())
	requireKind(f.T, review.KindNotFound, err)
	f.registerMany(9)
	var kept []review.SignedCheckpoint
	for i := range 3 {
		_, growth := f.growLog(3)
		growth.Checkpoint = &review.SignedCheckpoint{Size: growth.Size, At: noon.Add(time.Duration(i) * time.Hour), Signed: "a\nb\n\n— é", Key: "key"}
		require.NoError(f, f.db.Commit(f.Context(), review.Batch{Growth: growth}))
		again := review.LogGrowth{From: growth.Size, Size: growth.Size, Checkpoint: growth.Checkpoint}
		require.ErrorIs(f, f.db.Commit(f.Context(), review.Batch{Growth: &again}), service.ErrRace, "there is one of a size")
		kept = append(kept, *growth.Checkpoint)
	}
	newest, err := f.db.NewestCheckpoint(f.Context())
	require.NoError(f, err)
	require.Equal(f, kept[2], newest)
	all, err := f.db.Checkpoints(f.Context(), 0, 10)
	require.NoError(f, err)
	require.Equal(f, kept, all)
	some, err := f.db.Checkpoints(f.Context(), 3, 1)
	require.NoError(f, err)
	require.Equal(f, kept[1:2], some)
}

func leavesAsStored(f fixture) {
	f.commit(event(review.SpecimenStream("b"), 1, "ada", noon, &review.SpecimenRegistered{ID: "b", Label: review.Label{CatalogueNumber: "<é>"}}))
	f.commit(event(review.SpecimenStream("a"), 1, "eve", noon.Add(-time.Hour), &review.SpecimenRegistered{ID: "a"}))
	f.numberAll()
	leaves, err := f.db.LeavesAfter(f.Context(), 0, 10)
	require.NoError(f, err)
	require.Len(f, leaves, 2)
	first := leaves[0]
	require.Equal(f, []any{int64(1), "specimen/b", 1, noon, "ada", "reviewer", "specimen-registered"},
		[]any{first.Position, first.Stream, first.Seq, first.At, first.Actor, first.Role, first.Kind})
	require.Equal(f, "eve", leaves[1].Actor)
	for _, l := range leaves {
		line, err := l.Line()
		require.NoError(f, err)
		read, err := proof.ReadLeaf(line)
		require.NoError(f, err)
		change, err := review.DecodeChange(read.Kind, string(read.Data))
		require.NoError(f, err)
		events, err := f.db.Events(f.Context(), l.Stream)
		require.NoError(f, err)
		require.Equal(f, events[0].Change, change, "a line holds all that an event does")
		one, err := f.db.LeafOf(f.Context(), l.Stream, l.Seq)
		require.NoError(f, err)
		require.Equal(f, l, one)
	}
	for _, stream := range []string{"specimen/c", "", "\xff", "a\x00b"} {
		_, err := f.db.LeafOf(f.Context(), stream, 1)
		requireKind(f.T, review.KindNotFound, err)
	}
}

func treeRebuilt(f fixture) {
	f.registerMany(300)
	tree, growth := f.growLog(280)
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Growth: growth}))
	ids := []proof.TileID{{Level: 0, N: 0}, {Level: 0, N: 1}, {Level: 1, N: 0}}
	before, err := tree.Tiles(ids)
	require.NoError(f, err)
	require.NoError(f, f.db.Rebuild(f.Context()))
	stored, err := f.db.LogTree(f.Context())
	require.NoError(f, err)
	require.Equal(f, tree.Size, stored.Size)
	require.Equal(f, tree.Root, stored.Root)
	after, err := stored.Tiles(ids)
	require.NoError(f, err)
	require.True(f, bytes.Equal(bytes.Join(before, nil), bytes.Join(after, nil)))
}

func treeProves(f fixture) {
	f.registerMany(270)
	tree, growth := f.growLog(270)
	require.NoError(f, f.db.Commit(f.Context(), review.Batch{Growth: growth}))
	private, err := proof.NewKey("club")
	require.NoError(f, err)
	signer, err := proof.NewSigner(private)
	require.NoError(f, err)
	keys, err := proof.ReadKeys(signer.Public())
	require.NoError(f, err)
	signed, err := signer.Sign(tree)
	require.NoError(f, err)
	stored, err := f.db.LogTree(f.Context())
	require.NoError(f, err)
	for _, position := range []int64{1, 256, 257, 270} {
		leaves, err := f.db.LeavesAfter(f.Context(), position-1, 1)
		require.NoError(f, err)
		text, err := stored.Include(leaves[0], signed)
		require.NoError(f, err)
		leaf, c, err := keys.CheckInclusion(text)
		require.NoError(f, err)
		require.Equal(f, []any{position, int64(270), leaves[0].Stream}, []any{leaf.Position, c.Size, leaf.Stream})
	}
}
