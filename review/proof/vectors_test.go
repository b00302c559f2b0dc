package proof

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	merkle "github.com/transparency-dev/merkle/proof"
	"github.com/transparency-dev/merkle/rfc6962"
)

// hexadecimal reads bytes as the files of testdata have them.
type hexadecimal []byte

func (h *hexadecimal) UnmarshalText(text []byte) (err error) {
	*h, err = hex.DecodeString(string(text))
	return err
}

func vectors[T any](t *testing.T, name string) (v T) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", name))
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(text, &v))
	return v
}

func hashesOf(t *testing.T, list []hexadecimal) []Hash {
	t.Helper()
	hashes := make([]Hash, len(list))
	for i, h := range list {
		require.Len(t, h, len(hashes[i]))
		hashes[i] = Hash(h)
	}
	return hashes
}

// The tree of the eight leaves of RFC 6962's reference test data: every root, every proof of every tree up to it.
func TestTreesOfTheReference(t *testing.T) {
	v := vectors[struct {
		Leaves    []hexadecimal          `json:"leaf_inputs_hex"`
		Hashes    []hexadecimal          `json:"leaf_hashes"`
		Roots     map[string]hexadecimal `json:"root_by_tree_size"`
		Inclusion []struct {
			Index int64         `json:"leaf_index"`
			Size  int64         `json:"tree_size"`
			Proof []hexadecimal `json:"proof"`
		} `json:"all_inclusion_proofs"`
		Consistency []struct {
			From  int64         `json:"size1"`
			Size  int64         `json:"size2"`
			Proof []hexadecimal `json:"proof"`
		} `json:"all_consistency_proofs"`
	}](t, "roots.json")
	require.Len(t, v.Roots, 9)
	require.Len(t, v.Inclusion, 36)
	require.Len(t, v.Consistency, 36)
	h, trees := lived(t, 0), []Tree{{}}
	for i, leaf := range v.Leaves {
		require.Equal(t, Hash(v.Hashes[i]), LeafHash(leaf))
		h.grow(t, LeafHash(leaf))
		require.Equal(t, Hash(v.Roots[fmt.Sprint(i+1)]), h.tree.Root, "%d leaves", i+1)
		trees = append(trees, h.tree)
	}
	empty, err := rootOf(emptyRange())
	require.NoError(t, err)
	require.Equal(t, Hash(v.Roots["0"]), empty)
	for size := range trees {
		root, err := h.tree.RootAt(int64(size))
		require.NoError(t, err)
		require.Equal(t, Hash(v.Roots[fmt.Sprint(size)]), root)
	}
	for _, p := range v.Inclusion {
		made, err := trees[p.Size].includes(p.Index + 1)
		require.NoError(t, err)
		require.Equal(t, hashesOf(t, p.Proof), append([]Hash{}, made...), "leaf %d of %d", p.Index, p.Size)
	}
	for _, p := range v.Consistency {
		made, err := trees[p.Size].continues(p.From)
		require.NoError(t, err)
		require.Equal(t, hashesOf(t, p.Proof), append([]Hash{}, made...), "%d to %d", p.From, p.Size)
	}
}

// fits says whether all are as long as hashes are: text in place of a hash never gets further than being read.
func fits(list ...hexadecimal) bool {
	for _, h := range list {
		if len(h) != sha256.Size {
			return false
		}
	}
	return true
}

// The probes of transparency-dev/merkle: six of each are right, all others are to be refused.
func TestProbesOfInclusion(t *testing.T) {
	type probe struct {
		Name        string        `json:"name"`
		Index       uint64        `json:"leaf_index"`
		Size        uint64        `json:"tree_size"`
		Leaf        hexadecimal   `json:"leaf_hash"`
		Root        hexadecimal   `json:"root"`
		Proof       []hexadecimal `json:"proof"`
		Valid       bool          `json:"valid"`
		Placeholder bool          `json:"placeholder_hashes"`
	}
	probes, held := vectors[[]probe](t, "inclusion_probes.json"), 0
	require.Len(t, probes, 98)
	for _, p := range probes {
		if !fits(append(p.Proof, p.Leaf, p.Root)...) {
			require.False(t, p.Valid, p.Name)
			continue
		}
		err := checkInclusion(hashesOf(t, p.Proof), Checkpoint{Size: int64(p.Size), Root: Hash(p.Root)}, int64(p.Index), Hash(p.Leaf))
		require.Equal(t, p.Valid, err == nil, "%s: %v", p.Name, err)
		if !p.Valid {
			require.ErrorIs(t, err, ErrAltered, p.Name)
			continue
		}
		held++
	}
	require.Equal(t, 6, held)
}

func TestProbesOfGrowth(t *testing.T) {
	type probe struct {
		Name        string        `json:"name"`
		From        uint64        `json:"size1"`
		Size        uint64        `json:"size2"`
		FromRoot    hexadecimal   `json:"root1"`
		Root        hexadecimal   `json:"root2"`
		Proof       []hexadecimal `json:"proof"`
		Valid       bool          `json:"valid"`
		Placeholder bool          `json:"placeholder_hashes"`
	}
	probes, held := vectors[[]probe](t, "consistency_probes.json"), 0
	require.Len(t, probes, 98)
	for _, p := range probes {
		if !fits(append(p.Proof, p.FromRoot, p.Root)...) {
			require.True(t, p.Placeholder || !p.Valid, p.Name) // one is right, with text in place of both roots
			continue
		}
		err := checkGrowth(hashesOf(t, p.Proof), Checkpoint{Size: int64(p.From), Root: Hash(p.FromRoot)}, Checkpoint{Size: int64(p.Size), Root: Hash(p.Root)})
		require.Equal(t, p.Valid, err == nil, "%s: %v", p.Name, err)
		if !p.Valid {
			require.ErrorIs(t, err, ErrAltered, p.Name)
			continue
		}
		held++
	}
	require.Equal(t, 5, held)
}

// RFC 8785: the pairs of its reference test files come out byte for byte, as the data of an event.
func TestCanonicalJSON(t *testing.T) {
	v := vectors[struct {
		Cases []struct {
			Name   string      `json:"name"`
			Input  hexadecimal `json:"input_hex"`
			Output hexadecimal `json:"output_hex"`
		} `json:"cases"`
	}](t, "canonical_json.json")
	require.Len(t, v.Cases, 6)
	for _, c := range v.Cases {
		line, err := Leaf{Position: 7, Stream: "specimen/a", Seq: 2, At: time.UnixMicro(1), Actor: "ada", Role: "member", Kind: "k", Data: json.RawMessage(c.Input)}.Line()
		require.NoError(t, err, c.Name)
		require.Equal(t, `{"actor":"ada","data":`+string(c.Output)+`,"kind":"k","position":7,"role":"member","seq":2,"stream":"specimen/a","time":"1970-01-01T00:00:00.000001Z"}`, string(line), c.Name)
	}
}

// FIPS 180-4: what the hashes rest on.
func TestSHA256(t *testing.T) {
	v := vectors[struct {
		Vectors []struct {
			Message string
			Hash    hexadecimal
		}
	}](t, "sha256_basics.json")
	require.Len(t, v.Vectors, 3)
	for _, c := range v.Vectors {
		sum := sha256.Sum256([]byte(c.Message))
		require.Equal(t, c.Hash, hexadecimal(sum[:]))
		leaf := sha256.Sum256(append([]byte{0}, c.Message...))
		require.Equal(t, Hash(leaf), LeafHash([]byte(c.Message)))
	}
}

// A tree of many tiles, grown in uneven steps: the second library finds the same root and holds every proof to be right.
func TestTheSecondLibraryAgrees(t *testing.T) {
	h, leaves := lived(t, 0), []Hash{}
	for step := 1; len(leaves) < 70_000; step = step*3 + 1 {
		var more []Hash
		for range step {
			more = append(more, LeafHash(fmt.Append(nil, "event ", len(leaves)+len(more))))
		}
		leaves = append(leaves, more...)
		h.grow(t, more...)
		whole := emptyRange()
		for _, h := range leaves {
			require.NoError(t, whole.Append(bytes.Clone(h[:]), nil))
		}
		root, err := rootOf(whole)
		require.NoError(t, err)
		require.Equal(t, root, h.tree.Root, "%d leaves", len(leaves))
		for _, position := range []int64{1, 2, h.tree.Size/2 + 1, h.tree.Size} {
			position = min(position, h.tree.Size)
			hashes, err := h.tree.includes(position)
			require.NoError(t, err)
			require.NoError(t, merkle.VerifyInclusion(rfc6962.DefaultHasher, uint64(position-1), uint64(h.tree.Size), leaves[position-1][:], byteSlices(hashes), h.tree.Root[:]))
			former, err := h.tree.RootAt(position)
			require.NoError(t, err)
			if hashes, err = h.tree.continues(position); err != nil {
				require.NoError(t, err)
			}
			require.NoError(t, merkle.VerifyConsistency(rfc6962.DefaultHasher, uint64(position), uint64(h.tree.Size), byteSlices(hashes), former[:], h.tree.Root[:]))
		}
	}
	require.Greater(t, h.tree.Size, int64(256*256), "tiles of three levels")
}

func byteSlices(hashes []Hash) (list [][]byte) {
	for _, h := range hashes {
		list = append(list, h[:])
	}
	return list
}
