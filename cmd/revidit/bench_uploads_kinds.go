package main

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"math/rand/v2"
)

// kindOfUpload is a file that bench uploads sends.
type kindOfUpload struct {
	name    string
	hostile bool
	slow    bool // accepted, and many seconds of work: left out where it is to be short
	make    func() ([]byte, error)
}

var kindsOfUpload = []kindOfUpload{
	{"photo 300 x 200", false, false, func() ([]byte, error) { return noisyJPEG(300, 200) }},
	{"photo 6000 x 4000", false, false, func() ([]byte, error) { return noisyJPEG(6000, 4000) }},
	{"PNG 40,000,000 x 1", true, false, func() ([]byte, error) { return emptyPNG(40_000_000, 1, 8, 6, 1) }},
	{"PNG 60,000 x 60,000", true, false, func() ([]byte, error) { return emptyPNG(60_000, 60_000, 8, 0, 0.02) }},
	{"PNG 6300 x 6300, 16 bits", true, true, func() ([]byte, error) { return emptyPNG(6300, 6300, 16, 6, 1) }},
	{"PNG 6300 x 6300, half of it", true, false, func() ([]byte, error) { return emptyPNG(6300, 6300, 16, 6, 0.5) }},
	{"progressive, 3,000 scans", true, false, func() ([]byte, error) { return emptyProgressive(1000, 3000), nil }},
	{"progressive, 32 scans, 27 MP", true, true, func() ([]byte, error) { return emptyProgressive(5200, 32), nil }},
	{"progressive 4:4:4 of 40 MP", true, false, func() ([]byte, error) { return emptyProgressive(6300, 2), nil }},
	{"colour profile of 16 MB", true, false, largeProfile},
	{"JPEG of 31 MB without its end", true, false, withoutEnd},
	{"JPEG of 24 MP, damaged at its end", true, false, damagedAtEnd},
	{"text of 31 MB", true, false, func() ([]byte, error) { return bytes.Repeat([]byte("no photo "), 3_400_000), nil }},
}

// noisyJPEG is a picture as a camera makes it, as far as a decoder notices.
func noisyJPEG(width, height int) ([]byte, error) {
	img, dice := image.NewYCbCr(image.Rect(0, 0, width, height), image.YCbCrSubsampleRatio420), rand.New(rand.NewPCG(1, 1))
	for i := range img.Y {
		img.Y[i] = byte(i/width*200/height + dice.IntN(20))
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90})
	return b.Bytes(), err
}

// emptyPNG is packed zeros, of which a part is missing (W3C PNG specification, third edition).
func emptyPNG(width, height int, depth, colour byte, part float64) ([]byte, error) {
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	samples := map[byte]int{0: 1, 6: 4}[colour]
	row := make([]byte, 1+width*samples*int(depth)/8)
	for range int(float64(height) * part) {
		if _, err := z.Write(row); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	out := bytes.NewBufferString("\x89PNG\r\n\x1a\n")
	head := binary.BigEndian.AppendUint32(nil, uint32(width))
	head = binary.BigEndian.AppendUint32(head, uint32(height))
	chunk(out, "IHDR", append(head, depth, colour, 0, 0, 0))
	chunk(out, "IDAT", packed.Bytes())
	chunk(out, "IEND", nil)
	return out.Bytes(), nil
}

func chunk(out *bytes.Buffer, kind string, payload []byte) {
	body := append([]byte(kind), payload...)
	out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(payload))))
	out.Write(body)
	out.Write(binary.BigEndian.AppendUint32(nil, crc32.ChecksumIEEE(body)))
}

// emptyProgressive is a square JPEG of three components without subsampling, whose scans hold nothing but ends of blocks:
// few bytes that take long. It is written by hand after ITU-T T.81, sections B.2 and G.1.
func emptyProgressive(side, scans int) []byte {
	out := append([]byte{0xff, 0xd8, 0xff, 0xdb, 0, 67, 0}, bytes.Repeat([]byte{1}, 64)...)
	out = append(out, 0xff, 0xc2, 0, 17, 8)
	out = binary.BigEndian.AppendUint16(out, uint16(side))
	out = binary.BigEndian.AppendUint16(out, uint16(side))
	out = append(out, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0)
	for _, class := range []byte{0x00, 0x10} { // one code of one bit: 0 is the value 0
		out = append(out, 0xff, 0xc4, 0, 20, class, 1)
		out = append(out, make([]byte, 16)...)
	}
	blocks := (side + 7) / 8 * ((side + 7) / 8)
	out = append(out, 0xff, 0xda, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 0, 0)
	out = append(out, make([]byte, (3*blocks+7)/8)...)
	for range scans - 1 {
		out = append(out, 0xff, 0xda, 0, 8, 1, 1, 0, 1, 63, 0)
		out = append(out, make([]byte, (blocks+7)/8)...)
	}
	return append(out, 0xff, 0xd9)
}

// largeProfile is a photo with as much of a colour profile as a JPEG can carry (ICC.1:2022 annex B.4).
func largeProfile() ([]byte, error) {
	photo, err := noisyJPEG(300, 200)
	if err != nil {
		return nil, err
	}
	out := bytes.Clone(photo[:2])
	for i := range 255 {
		out = append(out, 0xff, 0xe2, 0xff, 0xff)
		out = append(out, fmt.Sprintf("ICC_PROFILE\x00%c", i+1)[:12]...)
		out = append(out, byte(i+1), 255)
		out = append(out, make([]byte, 65535-2-14)...)
	}
	return append(out, photo[2:]...), nil
}

// damagedAtEnd shows only when nearly all of it has been decoded.
func damagedAtEnd() ([]byte, error) {
	photo, err := noisyJPEG(6000, 4000)
	if err != nil {
		return nil, err
	}
	return append(photo[:len(photo)-20_000], 0xff, 0xd9), nil
}

func withoutEnd() ([]byte, error) {
	photo, err := noisyJPEG(300, 200)
	if err != nil {
		return nil, err
	}
	return append(photo[:len(photo)-2], make([]byte, 31_000_000)...), nil
}
