package proof

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// tileHeight is that of C2SP's tlog-tiles: a tile holds up to 256 hashes of one level.
const tileHeight = 8

// TileID says which tile: those of level 0 hold hashes of leaves, those of each next one the roots of full tiles of the level
// before; N counts from 0.
type TileID struct {
	Level int
	N     int64
}

// Tile is one with its hashes, one after the other. The last one of a level is shorter than 256 hashes and grows: hashes are
// added to it, and none is ever changed.
type Tile struct {
	TileID
	Hashes []byte
}

// Tree is a tree of events whose hashes are kept in tiles. The zero value is the empty one.
type Tree struct {
	Size int64
	Root Hash // of no meaning where Size is 0
	// Tiles reads tiles in the order asked for: at least as many hashes of each as a tree of this size has.
	Tiles func(ids []TileID) ([][]byte, error)
}

// Append returns the tree with further leaves, and the tiles that it has made or added to, whole. What it reads of the former
// tree is checked against its root: ErrAltered where that does not fit.
func (t Tree) Append(leaves []Hash) (grown Tree, changed []Tile, err error) {
	known := map[int64]Hash{} // by index among stored hashes
	reader := t.reading(known)
	for i, leaf := range leaves {
		n := t.Size + int64(i)
		hashes, err := tlog.StoredHashesForRecordHash(n, leaf, reader)
		if err != nil {
			return t, nil, fmt.Errorf("add event %d to the tree: %w", n+1, err)
		}
		for j, h := range hashes {
			known[tlog.StoredHashIndex(0, n)+int64(j)] = h
		}
	}
	grown = Tree{Size: t.Size + int64(len(leaves)), Tiles: t.Tiles}
	for _, tile := range tlog.NewTiles(tileHeight, t.Size, grown.Size) {
		data, err := tlog.ReadTileData(tile, reader)
		if err != nil {
			return t, nil, fmt.Errorf("make a tile of the tree: %w", err)
		}
		changed = append(changed, Tile{TileID: TileID{Level: tile.L, N: tile.N}, Hashes: data})
	}
	grown.Root, err = tlog.TreeHash(grown.Size, reader)
	return grown, changed, err
}

// reading reads what is known already from there, and adds what it had to read from tiles.
func (t Tree) reading(known map[int64]Hash) tlog.HashReader {
	return tlog.HashReaderFunc(func(indexes []int64) ([]Hash, error) {
		var missing []int64
		for _, at := range indexes {
			if _, ok := known[at]; !ok {
				missing = append(missing, at)
			}
		}
		if len(missing) > 0 {
			read, err := t.hashes().ReadHashes(missing)
			if err != nil {
				return nil, fmt.Errorf("read the tree of %d events: %w: %w", t.Size, ErrAltered, err)
			}
			for i, at := range missing {
				known[at] = read[i]
			}
		}
		hashes := make([]Hash, len(indexes))
		for i, at := range indexes {
			hashes[i] = known[at]
		}
		return hashes, nil
	})
}

// hashes reads hashes of the tree and checks them against its root.
func (t Tree) hashes() tlog.HashReader {
	return tlog.TileHashReader(tlog.Tree{N: t.Size, Hash: t.Root}, tileReader(t.Tiles))
}

// RootAt is the root that the tree had at a size.
func (t Tree) RootAt(size int64) (Hash, error) {
	if size < 0 || size > t.Size {
		return Hash{}, fmt.Errorf("the tree has %d events, not %d", t.Size, size)
	}
	return tlog.TreeHash(size, t.reading(map[int64]Hash{}))
}

// LeafHashes are the hashes of as many leaves behind a position.
func (t Tree) LeafHashes(position int64, count int) ([]Hash, error) {
	indexes := make([]int64, count)
	for i := range indexes {
		indexes[i] = tlog.StoredHashIndex(0, position+int64(i))
	}
	return t.reading(map[int64]Hash{}).ReadHashes(indexes)
}

// includes are the hashes that prove that an event stands in the tree.
func (t Tree) includes(position int64) ([]Hash, error) {
	if position < 1 || position > t.Size {
		return nil, fmt.Errorf("the tree has %d events, and none at position %d", t.Size, position)
	}
	return tlog.ProveRecord(t.Size, position-1, t.reading(map[int64]Hash{}))
}

// continues are the hashes that prove that the tree only added to what it was at a size.
func (t Tree) continues(size int64) ([]Hash, error) {
	if size < 1 || size > t.Size {
		return nil, fmt.Errorf("the tree has %d events: it cannot continue one of %d", t.Size, size)
	}
	return tlog.ProveTree(t.Size, size, t.reading(map[int64]Hash{}))
}

// tileReader is how tlog asks for tiles.
type tileReader func(ids []TileID) ([][]byte, error)

func (tileReader) Height() int { return tileHeight }

func (r tileReader) ReadTiles(tiles []tlog.Tile) ([][]byte, error) {
	ids := make([]TileID, len(tiles))
	for i, t := range tiles {
		ids[i] = TileID{Level: t.L, N: t.N}
	}
	data, err := r(ids)
	if err != nil {
		return nil, err
	}
	for i, t := range tiles {
		if len(data) != len(tiles) || len(data[i]) < t.W*tlog.HashSize {
			return nil, fmt.Errorf("tile %d of level %d is missing or too short", t.N, t.L)
		}
		data[i] = data[i][:t.W*tlog.HashSize]
	}
	return data, nil
}

func (tileReader) SaveTiles([]tlog.Tile, [][]byte) {}
