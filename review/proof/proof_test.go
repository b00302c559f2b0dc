package proof

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/transparency-dev/formats/log"
	formats "github.com/transparency-dev/formats/proof"
	"pgregory.net/rapid"
)

// store keeps tiles in memory.
type store map[TileID][]byte

// tree is an empty one.
func (s store) tree() Tree { return Tree{Tiles: s.read} }

func (s store) read(ids []TileID) ([][]byte, error) {
	data := make([][]byte, len(ids))
	for i, id := range ids {
		data[i] = bytes.Clone(s[id])
	}
	return data, nil
}

// keep stores what a tree has grown by: hashes are added to a tile, and none is changed.
func (s store) keep(t require.TestingT, tiles []Tile) {
	for _, tile := range tiles {
		require.True(t, bytes.HasPrefix(tile.Hashes, s[tile.TileID]))
		s[tile.TileID] = tile.Hashes
	}
}

// history is a tree with its events and all of its checkpoints.
type history struct {
	tree   Tree
	tiles  store
	leaves []Leaf
	signer *Signer
	signed map[int64]string
}

var club = must(NewSigner(must(NewKey("revidit/club"))))

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// lived is a history of some events, signed at some sizes.
func lived(t require.TestingT, events int, sizes ...int) *history {
	tiles := store{}
	h := &history{tree: tiles.tree(), tiles: tiles, signer: club, signed: map[int64]string{}}
	for i := range events {
		h.leaves = append(h.leaves, Leaf{Position: int64(i + 1), Stream: fmt.Sprintf("specimen/%d", i/3), Seq: i%3 + 1, At: time.UnixMicro(int64(i) * 1001).UTC(),
			Actor: "ada", Role: "member", Kind: "label-corrected", Data: json.RawMessage(fmt.Sprintf(`{"reason":"<é> %d","b":1.50}`, i))})
		line, err := h.leaves[i].Line()
		require.NoError(t, err)
		h.grow(t, LeafHash(line))
		if slices.Contains(sizes, i+1) {
			h.signed[int64(i+1)], err = h.signer.Sign(h.tree)
			require.NoError(t, err)
		}
	}
	return h
}

func (h *history) grow(t require.TestingT, leaves ...Hash) {
	grown, tiles, err := h.tree.Append(leaves)
	require.NoError(t, err)
	h.tiles.keep(t, tiles)
	h.tree = grown
}

// export is what Export writes of it, in lines, and the list of leaves.
func (h *history) export(t require.TestingT) (lines []string, leaves string) {
	var to, list bytes.Buffer
	e, err := NewExport(&to, &list, h.signer.Public())
	require.NoError(t, err)
	for _, l := range h.leaves {
		require.NoError(t, e.Event(l))
		if signed := h.signed[l.Position]; signed != "" {
			require.NoError(t, e.Checkpoint(signed))
		}
	}
	require.NoError(t, e.Close())
	return strings.SplitAfter(strings.TrimSuffix(to.String(), "\n"), "\n"), list.String()
}

func (h *history) keys(t require.TestingT) Keys {
	keys, err := ReadKeys(h.signer.Public())
	require.NoError(t, err)
	return keys
}

func verified(t require.TestingT, c Check, lines []string) Report {
	report, err := c.Verify(strings.NewReader(strings.Join(lines, "")))
	require.NoError(t, err)
	return report
}

func TestAWholeExportHolds(t *testing.T) {
	h := lived(t, 700, 1, 256, 300, 700)
	lines, list := h.export(t)
	require.Len(t, lines, 1+700+4)
	leaves, err := h.keys(t).ReadLeaves(strings.NewReader(list))
	require.NoError(t, err)
	for _, c := range []Check{{Keys: h.keys(t)}, {Keys: h.keys(t), Leaves: leaves}, {Keys: h.keys(t), Kept: []Checkpoint{{Origin: "revidit/club", Size: 256, Root: must(h.tree.RootAt(256))}}}} {
		report := verified(t, c, lines)
		require.Nil(t, report.Fault)
		require.Equal(t, int64(700), report.Events)
		require.Equal(t, int64(700), report.Newest().Size)
		require.Equal(t, h.tree.Root, report.Newest().Root)
		require.Len(t, report.Holds, 4+len(c.Kept))
	}
}

// again is the history as whoever has the key can make it: altered, and signed anew.
func (h *history) again(t require.TestingT, change func(i int, l *Leaf)) *history {
	other := lived(t, 0)
	other.signer = h.signer
	for i, l := range h.leaves {
		change(i, &l)
		other.leaves = append(other.leaves, l)
		line, err := l.Line()
		require.NoError(t, err)
		other.grow(t, LeafHash(line))
		if h.signed[l.Position] != "" {
			other.signed[l.Position], err = other.signer.Sign(other.tree)
			require.NoError(t, err)
		}
	}
	return other
}

// TestEveryChangeIsSeen alters, adds, removes: with a list of leaves the first one is named, without one the stretch.
func TestEveryChangeIsSeen(t *testing.T) {
	h := lived(t, 60, 10, 25, 60)
	lines, list := h.export(t)
	at := func(position int) int { // of its line
		for i, l := range lines {
			if strings.Contains(l, fmt.Sprintf(`"position":%d,`, position)) {
				return i
			}
		}
		panic(position)
	}
	sizes := []int{0, 10, 25, 60}
	stretch := func(position int) (from, until int64) {
		for i, size := range sizes {
			if position <= size {
				return int64(sizes[i-1] + 1), int64(size)
			}
		}
		panic(position)
	}
	for _, c := range []struct {
		kind   FaultKind
		count  int
		change func(lines []string, i, count int) []string
	}{
		{FaultAltered, 1, func(l []string, i, _ int) []string {
			l[i] = strings.Replace(l[i], `"actor":"ada"`, `"actor":"eve"`, 1)
			return l
		}},
		{FaultAltered, 1, func(l []string, i, _ int) []string { l[i] = "no event\n"; return l }},
		{FaultRemoved, 1, func(l []string, i, n int) []string { return slices.Delete(l, i, i+n) }},
		{FaultAdded, 1, func(l []string, i, n int) []string {
			return slices.Insert(l, i, strings.Replace(l[i], "ada", "eve", 1))
		}},
		{FaultAdded, 2, func(l []string, i, n int) []string { return slices.Insert(l, i, "a\n", "b\n") }},
	} {
		for _, position := range []int{1, 2, 10, 11, 24, 25, 26, 59, 60} {
			changed := c.change(slices.Clone(lines), at(position), c.count)
			without := verified(t, Check{Keys: h.keys(t)}, changed)
			require.NotNil(t, without.Fault, "%s at %d", c.kind, position)
			from, until := stretch(position)
			require.Equal(t, FaultBetween, without.Fault.Kind)
			require.Equal(t, from, without.Fault.Position)
			require.Equal(t, until, without.Fault.Signed)

			leaves, err := h.keys(t).ReadLeaves(strings.NewReader(list))
			require.NoError(t, err)
			with := verified(t, Check{Keys: h.keys(t), Leaves: leaves}, changed)
			require.Equal(t, c.kind, with.Fault.Kind, "at %d", position)
			require.Equal(t, int64(position), with.Fault.Position)
			require.Equal(t, int64(c.count), with.Fault.Count)
		}
	}
}

func TestWhoeverHasTheKeyIsSeenByWhatWasKept(t *testing.T) {
	h := lived(t, 60, 10, 25, 60)
	_, list := h.export(t)
	kept := Checkpoint{Origin: "revidit/club", Size: 25, Root: must(h.tree.RootAt(25))}
	forged := h.again(t, func(i int, l *Leaf) {
		if i == 16 {
			l.Actor = "eve"
		}
	})
	lines, _ := forged.export(t)
	require.Nil(t, verified(t, Check{Keys: h.keys(t)}, lines).Fault, "signed again, it holds for itself")
	report := verified(t, Check{Keys: h.keys(t), Kept: []Checkpoint{kept}}, lines)
	require.Equal(t, &Fault{Kind: FaultBetween, Position: 11, Until: 25, Count: 15, Signed: 25}, report.Fault)
	leaves, err := h.keys(t).ReadLeaves(strings.NewReader(list))
	require.NoError(t, err)
	report = verified(t, Check{Keys: h.keys(t), Leaves: leaves}, lines)
	require.Equal(t, int64(17), report.Fault.Position)
	require.Equal(t, "eve", report.Fault.Event.Actor)
}

func TestWhatIsCutOffIsSeen(t *testing.T) {
	h := lived(t, 60, 10, 25, 60)
	lines, list := h.export(t)
	cut := lines[:1+25+2] // up to the checkpoint of 25
	require.Nil(t, verified(t, Check{Keys: h.keys(t)}, cut).Fault, "a shorter history is one, too")
	kept := []Checkpoint{{Origin: "revidit/club", Size: 60, Root: h.tree.Root}}
	require.Equal(t, &Fault{Kind: FaultRemoved, Position: 26, Until: 60, Count: 35, Signed: 60}, verified(t, Check{Keys: h.keys(t), Kept: kept}, cut).Fault)
	leaves, err := h.keys(t).ReadLeaves(strings.NewReader(list))
	require.NoError(t, err)
	require.Equal(t, FaultRemoved, verified(t, Check{Keys: h.keys(t), Leaves: leaves}, cut).Fault.Kind)
	require.Equal(t, &Fault{Kind: FaultUnsigned, Position: 26, Until: 60, Count: 35, Signed: 25}, verified(t, Check{Keys: h.keys(t)}, lines[:len(lines)-1]).Fault)
}

func TestSignatures(t *testing.T) {
	h := lived(t, 30, 10, 30)
	lines, list := h.export(t)
	other := must(NewSigner(must(NewKey("revidit/club"))))
	strangers := must(ReadKeys(other.Public()))
	_, err := Check{Keys: strangers}.Verify(strings.NewReader(strings.Join(lines, "")))
	require.ErrorIs(t, err, ErrOtherKey)
	_, err = strangers.ReadLeaves(strings.NewReader(list))
	require.ErrorIs(t, err, ErrOtherKey)

	for i, l := range lines {
		if !strings.HasPrefix(l, `{"checkpoint":`) {
			continue
		}
		broken := slices.Clone(lines)
		broken[i] = strings.Replace(l, `club\n10\n`, `club\n11\n`, 1)
		broken[i] = strings.Replace(broken[i], `club\n30\n`, `club\n31\n`, 1)
		require.Equal(t, FaultSignature, verified(t, Check{Keys: h.keys(t)}, broken).Fault.Kind)
	}
	_, err = ReadKeys("revidit/club+00000000+AAAA")
	require.ErrorContains(t, err, "no public key")
	_, err = NewSigner("PRIVATE+KEY+club+secret")
	require.ErrorContains(t, err, "cannot be read")
	require.NotContains(t, err.Error(), "secret")
}

// Formats that others read: transparency-dev/formats reads what is written here, and the other way round.
func TestFormatsOfOthers(t *testing.T) {
	h := lived(t, 300, 300)
	signed := h.signed[300]
	var c log.Checkpoint
	rest, err := c.Unmarshal([]byte(signed))
	require.NoError(t, err)
	require.Equal(t, log.Checkpoint{Origin: "revidit/club", Size: 300, Hash: h.tree.Root[:]}, c)
	require.True(t, strings.HasPrefix(string(rest), "\n— revidit/club "))
	read, err := readCheckpoint(string(c.Marshal()))
	require.NoError(t, err)
	require.Equal(t, Checkpoint{Origin: "revidit/club", Size: 300, Root: h.tree.Root}, read)

	text, err := h.tree.Include(h.leaves[122], signed)
	require.NoError(t, err)
	var p formats.TLogProof
	require.NoError(t, p.Unmarshal([]byte(text)))
	line, err := h.leaves[122].Line()
	require.NoError(t, err)
	require.Equal(t, uint64(122), p.Index)
	require.Equal(t, line, p.ExtraData)
	require.Equal(t, signed, string(p.Checkpoint))
	require.Equal(t, text, string(p.Marshal()))
}

func TestInclusion(t *testing.T) {
	h := lived(t, 300, 1, 200, 300)
	at200 := Tree{Size: 200, Root: must(h.tree.RootAt(200)), Tiles: h.tree.Tiles}
	for _, leaf := range h.leaves[:200] {
		text, err := at200.Include(leaf, h.signed[200])
		require.NoError(t, err)
		require.True(t, IsInclusion(text))
		got, c, err := h.keys(t).CheckInclusion(text)
		require.NoError(t, err)
		require.Equal(t, int64(200), c.Size)
		want := leaf
		want.Data = got.Data
		require.Equal(t, want, got)
		require.JSONEq(t, string(leaf.Data), string(got.Data))
	}
	_, err := at200.Include(h.leaves[200], h.signed[200])
	require.ErrorContains(t, err, "none at position 201")
	altered := h.leaves[3]
	altered.Actor = "eve"
	_, err = at200.Include(altered, h.signed[200])
	require.ErrorIs(t, err, ErrAltered)
}

// Any byte of a proof that is changed makes it one that is refused.
func TestAProofWithAnyByteChangedIsRefused(t *testing.T) {
	h := lived(t, 300, 200, 300)
	at200 := Checkpoint{Origin: "revidit/club", Size: 200, Root: must(h.tree.RootAt(200))}
	inclusion, err := h.tree.Include(h.leaves[122], h.signed[300])
	require.NoError(t, err)
	growth, err := h.tree.Continue(200, h.signed[300])
	require.NoError(t, err)
	_, err = h.keys(t).CheckGrowth(growth, at200)
	require.NoError(t, err)
	require.True(t, IsGrowth(growth))
	refused := func(t require.TestingT, text []byte, at int, by byte) {
		text[at] ^= by
		defer func() { text[at] ^= by }()
		var err error
		if IsGrowth(string(text)) {
			_, err = h.keys(t).CheckGrowth(string(text), at200)
		} else {
			_, _, err = h.keys(t).CheckInclusion(string(text))
		}
		require.Error(t, err, "byte %d changed by %d", at, by)
	}
	for _, proof := range []string{inclusion, growth} {
		text := []byte(proof)
		for at := range text {
			for _, by := range []byte{1, 2, 3, 4, 8, 0x20, 0x80} { // the lowest first: the last letter of base64 may hold them for nothing
				refused(t, text, at, by)
			}
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		text := []byte(rapid.SampledFrom([]string{inclusion, growth}).Draw(r, "proof"))
		refused(r, text, rapid.IntRange(0, len(text)-1).Draw(r, "at"), rapid.ByteRange(1, 255).Draw(r, "by"))
	})
}

func TestGrowth(t *testing.T) {
	h := lived(t, 300, 300)
	for size := int64(1); size <= 300; size += 13 {
		text, err := h.tree.Continue(size, h.signed[300])
		require.NoError(t, err)
		c, err := h.keys(t).CheckGrowth(text, Checkpoint{Origin: "revidit/club", Size: size, Root: must(h.tree.RootAt(size))})
		require.NoError(t, err)
		require.Equal(t, h.tree.Root, c.Root)
		_, err = h.keys(t).CheckGrowth(text, Checkpoint{Origin: "revidit/club", Size: size, Root: LeafHash(nil)})
		require.ErrorIs(t, err, ErrAltered)
		_, err = h.keys(t).CheckGrowth(text, Checkpoint{Origin: "revidit/club", Size: size + 1})
		require.ErrorContains(t, err, "the one given is of")
	}
	_, err := h.tree.Continue(301, h.signed[300])
	require.ErrorContains(t, err, "cannot continue")
}

// A tile that is not what the root says is never built upon.
func TestAnAlteredTileIsRefused(t *testing.T) {
	h := lived(t, 300, 300)
	for id := range h.tiles {
		tiles := store{}
		for other, hashes := range h.tiles {
			tiles[other] = bytes.Clone(hashes)
		}
		tiles[id][0] ^= 1
		tree := Tree{Size: h.tree.Size, Root: h.tree.Root, Tiles: tiles.read}
		_, err := tree.includes(3)
		_, _, grown := tree.Append([]Hash{{}})
		require.True(t, err != nil || grown != nil, "%v", id)
	}
}

func TestReadLeaf(t *testing.T) {
	h := lived(t, 1)
	line, err := h.leaves[0].Line()
	require.NoError(t, err)
	for _, other := range []string{"", "{}", " " + string(line), strings.Replace(string(line), `"seq":1`, `"seq":1.0`, 1), strings.Replace(string(line), ".000000Z", "Z", 1), string(line) + "{}"} {
		_, err := ReadLeaf([]byte(other))
		require.Error(t, err, other)
	}
	_, err = Leaf{Actor: "\xff", Data: json.RawMessage("1")}.Line()
	require.Error(t, err)
	_, err = Leaf{Data: json.RawMessage(`{"a":1,"a":2}`)}.Line()
	require.Error(t, err, "two members of one name are no canonical JSON")
}
