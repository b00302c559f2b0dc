package photo

import (
	"encoding/binary"
	"encoding/hex"
	"image"
	"math/bits"

	"github.com/kovidgoyal/imaging"
)

// Likeness is what a picture looks like in 128 bits: for each of 8 x 8 places, whether it is darker than the one to the right of it, and
// whether it is darker than the one below (a difference hash in both directions, after N. Krawetz 2013; from memory). Another size,
// compression or brightness changes few of them. In hex; empty is the look of a picture without differences enough to be told by.
type Likeness string

// Nearly is how many of the 128 bits may differ between pictures that are nearly the same. It is our own choice: a test has copies of
// other sizes and qualities below it, and other pictures far above.
const Nearly = 10

// fewestBits of a look, and of what it lacks: fewer tell only that a picture is of one tone.
const fewestBits = 16

// likenessOf is the look of a small upright copy.
func likenessOf(img image.Image) Likeness {
	const side = 8
	var sum [16]byte
	across := imaging.Grayscale(imaging.Resize(img, side+1, side, imaging.Box))
	down := imaging.Grayscale(imaging.Resize(img, side, side+1, imaging.Box))
	for y := range side {
		for x := range side {
			if grey(across, x, y) < grey(across, x+1, y) {
				sum[y] |= 0x80 >> x
			}
			if grey(down, x, y) < grey(down, x, y+1) {
				sum[side+y] |= 0x80 >> x
			}
		}
	}
	set := 0
	for _, b := range sum {
		set += bits.OnesCount8(b)
	}
	if set < fewestBits || set > 8*len(sum)-fewestBits {
		return ""
	}
	return Likeness(hex.EncodeToString(sum[:]))
}

func grey(img image.Image, x, y int) uint32 {
	b := img.Bounds()
	r, _, _, _ := img.At(b.Min.X+x, b.Min.Y+y).RGBA()
	return r
}

// bytes are the 16 bytes of a look, or nil.
func (l Likeness) bytes() []byte {
	b, err := hex.DecodeString(string(l))
	if err != nil || len(b) != 16 {
		return nil
	}
	return b
}

// Parts are the first 64 bits in four numbers of 16. Two looks that differ in three of these bits at most have one of them in common, and
// of those that differ in more most have.
func (l Likeness) Parts() [4]int64 {
	var parts [4]int64
	if b := l.bytes(); b != nil {
		for i := range parts {
			parts[i] = int64(binary.BigEndian.Uint16(b[2*i:]))
		}
	}
	return parts
}

// Differs is in how many bits two looks differ; all of them where one is empty.
func (l Likeness) Differs(other Likeness) int {
	a, b := l.bytes(), other.bytes()
	if a == nil || b == nil {
		return 128
	}
	n := 0
	for i := range a {
		n += bits.OnesCount8(a[i] ^ b[i])
	}
	return n
}
