package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"
)

// The pictures of the tests are made here. They are w x h, dark but for a bright rectangle at the top left, so that
// a test can see where that corner went.
func corner(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.NRGBA{20, 30, 20, 255}
			if x < w/2 && y < h/2 {
				c = color.NRGBA{240, 250, 240, 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	return img
}

func plainJPEG(t testing.TB, w, h int) []byte {
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, corner(w, h), nil))
	return out.Bytes()
}

func plainPNG(t testing.TB, w, h int) []byte {
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, corner(w, h)))
	return out.Bytes()
}

// plainWebP writes a lossless WebP bitstream (RFC 9649, section 3) with one-bit codes: green is 0 or 255.
func plainWebP(w, h int) []byte { return riff(riffChunk{"VP8L", vp8l(w, h)}) }

func vp8l(w, h int) []byte {
	var b bitWriter
	b.put(0x2f, 8)
	b.put(w-1, 14)
	b.put(h-1, 14)
	b.put(0, 1+3)      // no alpha, version 0
	b.put(0, 1+1+1)    // no transform, no colour cache, one set of codes
	b.put(0b11, 2)     // green: simple code, two symbols
	b.put(0, 1+1)      // the first of one bit: 0
	b.put(255, 8)      // the second: 255
	b.put(0b0001, 4)   // red: simple code, one symbol, of one bit: 0
	b.put(0b0001, 4)   // blue
	b.put(0b101, 3)    // alpha: simple code, one symbol, of eight bits
	b.put(255, 8)      // opaque
	b.put(0b0001, 4)   // distance
	for y := range h { // each pixel is one bit
		for x := range w {
			bright := 0
			if x < w/2 && y < h/2 {
				bright = 1
			}
			b.put(bright, 1)
		}
	}
	return b.bytes
}

type bitWriter struct {
	bytes []byte
	n     int
}

// put appends n bits, least significant first.
func (b *bitWriter) put(v, n int) {
	for i := range n {
		if b.n%8 == 0 {
			b.bytes = append(b.bytes, 0)
		}
		b.bytes[b.n/8] |= byte(v>>i&1) << (b.n % 8)
		b.n++
	}
}

func riff(chunks ...riffChunk) []byte {
	out := bytes.NewBufferString("RIFF\x00\x00\x00\x00WEBP")
	for _, c := range chunks {
		writeRIFFChunk(out, c.kind, c.payload)
	}
	data := out.Bytes()
	binary.LittleEndian.PutUint32(data[4:], uint32(len(data)-8))
	return data
}

// vp8xHeader is an extended header with the given flags.
func vp8xHeader(flags byte, w, h int) []byte {
	b := make([]byte, vp8xLength)
	b[0] = flags
	putUint24(b[4:], w-1)
	putUint24(b[7:], h-1)
	return b
}

// Texts that must never come out again.
const (
	secretMaker   = "MAKERNOTE-SECRET"
	secretComment = "COMMENT-SECRET-MEADOW"
	secretXMP     = `<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">` +
		`<rdf:Description rdf:about="" xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="48,8.25N" exif:GPSLongitude="11,34.5E"/>` +
		`</rdf:RDF></x:xmpmeta>`
	secretIPTC    = "Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x13\x1c\x02\x5a\x00\x0eSECRET-VILLAGE\x00"
	secretTrailer = "MOTION-PHOTO-SECRET"
)

type tiffEntry struct {
	tag, kind uint16
	count     uint32
	value     []byte
}

// exifGPS is a big-endian EXIF block as a phone writes it: orientation, time, maker note, and 48 deg 8 min 15 s S,
// 11 deg 34 min 30 s W, 512.5 m, within 4 m, WGS-84. Tags and kinds are those of EXIF 2.32.
func exifGPS(orientation uint16) []byte {
	const ascii, short, long, rational, undefined = 2, 3, 4, 5, 7
	be := binary.BigEndian
	rats := func(values ...uint32) (b []byte) {
		for _, v := range values {
			b = be.AppendUint32(b, v)
		}
		return b
	}
	text := func(tag uint16, s string) tiffEntry {
		return tiffEntry{tag, ascii, uint32(len(s) + 1), append([]byte(s), 0)}
	}
	gps := []tiffEntry{
		text(1, "S"), {2, rational, 3, rats(48, 1, 8, 1, 1500, 100)},
		text(3, "W"), {4, rational, 3, rats(11, 1, 34, 1, 30, 1)},
		{5, 1, 1, []byte{0}}, {6, rational, 1, rats(1025, 2)},
		text(0x12, "WGS-84"), {0x1f, rational, 1, rats(4, 1)},
	}
	sub := []tiffEntry{
		text(0x9003, "2026:05:17 14:03:09"), text(0x9011, "+02:00"),
		{0x927c, undefined, uint32(len(secretMaker)), []byte(secretMaker)},
	}
	const ifd0At, subAt, gpsAt = 8, 100, 400
	ifd0 := []tiffEntry{
		{0x0112, short, 1, be.AppendUint16(nil, orientation)},
		{0x8769, long, 1, be.AppendUint32(nil, subAt)},
		{0x8825, long, 1, be.AppendUint32(nil, gpsAt)},
	}
	b := make([]byte, 800)
	copy(b, "MM\x00*\x00\x00\x00\x08")
	writeIFD(b, ifd0At, ifd0)
	writeIFD(b, subAt, sub)
	writeIFD(b, gpsAt, gps)
	return b
}

func writeIFD(b []byte, at int, entries []tiffEntry) {
	be := binary.BigEndian
	be.PutUint16(b[at:], uint16(len(entries)))
	extra := at + 2 + 12*len(entries) + 4
	for i, e := range entries {
		p := b[at+2+12*i:]
		be.PutUint16(p, e.tag)
		be.PutUint16(p[2:], e.kind)
		be.PutUint32(p[4:], e.count)
		if len(e.value) <= 4 {
			copy(p[8:12], e.value)
			continue
		}
		be.PutUint32(p[8:], uint32(extra))
		copy(b[extra:], e.value)
		extra += len(e.value) + len(e.value)%2
	}
}

// phoneJPEG has everything in it that must go.
func phoneJPEG(t testing.TB, w, h int, orientation uint16) []byte {
	plain := plainJPEG(t, w, h)
	var out bytes.Buffer
	out.Write(plain[:2])
	writeSegment(&out, markerAPP0, []byte("JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x01\x01abc")) // with a thumbnail of one pixel
	writeSegment(&out, markerAPP1, append([]byte(exifPrefix), exifGPS(orientation)...))
	writeSegment(&out, markerAPP1, []byte("http://ns.adobe.com/xap/1.0/\x00"+secretXMP))
	writeSegment(&out, markerAPP2, []byte("MPF\x00"+secretTrailer))
	writeSegment(&out, 0xed, []byte(secretIPTC))
	writeSegment(&out, 0xfe, []byte(secretComment))
	out.Write(plain[2:])
	out.WriteString("\x00\x00\x00\x18ftypmp42" + secretTrailer)
	return out.Bytes()
}

func phonePNG(t testing.TB, w, h int, orientation uint16) []byte {
	plain := plainPNG(t, w, h)
	const afterIHDR = len(pngSignature) + 8 + 13 + 4
	out := bytes.NewBuffer(bytes.Clone(plain[:afterIHDR]))
	writePNGChunk(out, "gAMA", []byte{0, 0, 0xb1, 0x8f})
	writePNGChunk(out, "eXIf", exifGPS(orientation))
	writePNGChunk(out, "tEXt", []byte("Comment\x00"+secretComment))
	writePNGChunk(out, "iTXt", []byte("XML:com.adobe.xmp\x00\x00\x00\x00\x00"+secretXMP))
	writePNGChunk(out, "tIME", []byte{7, 234, 5, 17, 14, 3, 9})
	writePNGChunk(out, "caBX", []byte(secretTrailer))
	out.Write(plain[afterIHDR:])
	out.WriteString(secretTrailer)
	return out.Bytes()
}

func phoneWebP(w, h int, orientation uint16) []byte {
	return append(riff(
		riffChunk{"VP8X", vp8xHeader(vp8xEXIF|1<<2, w, h)},
		riffChunk{"VP8L", vp8l(w, h)},
		riffChunk{"EXIF", exifGPS(orientation)},
		riffChunk{"XMP ", []byte(secretXMP)},
		riffChunk{"junk", []byte(secretTrailer)},
	), secretTrailer...)
}
