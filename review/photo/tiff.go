package photo

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
)

// Tags of TIFF 6.0, part 1 and 2; the profile is that of ICC.1:2022 annex B.5, the last one of DNG 1.4.
const (
	tagSubfile     = 254
	tagWidth       = 256
	tagHeight      = 257
	tagBits        = 258
	tagCompression = 259
	tagPhotometric = 262
	tagSamples     = 277
	tagSubIFDs     = 330
	tagFormat      = 339
	tagProfile     = 34675
	tagDNG         = 50706
)

// maxTags bounds the entries of a directory; there are a few dozens in practice.
const maxTags = 4096

// tiffFile is what the first directory of a file says.
type tiffFile struct {
	values  map[uint16]uint32 // the first value of each tag
	order   binary.ByteOrder
	profile []byte
	more    bool // further pages
	camera  bool // a camera's raw picture
}

// readTIFF reads the first directory (TIFF 6.0, section 2).
func readTIFF(r io.ReadSeeker, size int64) (tiffFile, error) {
	t := tiffFile{values: map[uint16]uint32{}, order: binary.LittleEndian}
	head, err := readAt(r, 0, min(size, 16))
	if err != nil {
		return tiffFile{}, err
	}
	if len(head) < 8 {
		return tiffFile{}, errTruncated
	}
	if head[0] == 'M' {
		t.order = binary.BigEndian
	}
	t.camera = hasPrefixAt(head, 8, "CR")
	at := int64(t.order.Uint32(head[4:]))
	count, err := readAt(r, at, 2)
	if err != nil {
		return tiffFile{}, err
	}
	entries := int64(t.order.Uint16(count))
	if entries > maxTags {
		return tiffFile{}, fmt.Errorf("%d entries in a directory", entries)
	}
	body, err := readAt(r, at+2, 12*entries+4)
	if err != nil {
		return tiffFile{}, err
	}
	t.more = t.order.Uint32(body[12*entries:]) != 0
	for i := range entries {
		if err := t.entry(r, body[12*i:12*i+12]); err != nil {
			return tiffFile{}, err
		}
	}
	t.camera = t.camera || t.values[tagDNG] != 0 || t.values[tagSubIFDs] != 0 && t.values[tagSubfile]&1 != 0
	return t, nil
}

// sizesOfTIFF are the bytes of a value of each type of TIFF 6.0, section 2.
var sizesOfTIFF = [13]int64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8}

func (t *tiffFile) entry(r io.ReadSeeker, b []byte) error {
	tag, kind, count := t.order.Uint16(b), t.order.Uint16(b[2:]), int64(t.order.Uint32(b[4:]))
	if int(kind) >= len(sizesOfTIFF) || count == 0 {
		return nil // of a later version: what is needed is read as missing
	}
	size, value := sizesOfTIFF[kind]*count, b[8:12]
	if tag == tagProfile && size <= maxProfile && size > 4 {
		profile, err := readAt(r, int64(t.order.Uint32(value)), size)
		t.profile = profile
		return err
	}
	if size > 4 {
		var err error
		if value, err = readAt(r, int64(t.order.Uint32(value)), min(size, 4)); err != nil {
			return err
		}
	}
	switch kind {
	case 1:
		t.values[tag] = uint32(value[0])
	case 3:
		t.values[tag] = uint32(t.order.Uint16(value))
	case 4:
		t.values[tag] = t.order.Uint32(value)
	default:
		t.values[tag] = 1 // it is there
	}
	return nil
}

func readAt(r io.ReadSeeker, at, n int64) ([]byte, error) {
	if _, err := r.Seek(at, io.SeekStart); err != nil {
		return nil, fmt.Errorf("photo: surveying the upload: %w", err)
	}
	b := make([]byte, n)
	_, err := io.ReadFull(r, b)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, errTruncated
	}
	return b, err
}

// Values of TIFF 6.0 and its supplements that x/image/tiff reads.
var (
	readCompressions = []uint32{0, 1, 2, 3, 4, 5, 8, 32773, 32946} // none, CCITT, LZW, Deflate, PackBits
	readPhotometrics = []uint32{0, 1, 2, 3}                        // grey and its reverse, RGB, palette
)

const tiffAdvice = "Save the photo as JPEG, or as a TIFF of 8 or 16 bits a colour in RGB, uncompressed or with LZW, and send that."

func surveyTIFF(r io.ReadSeeker, size int64) (Survey, error) {
	t, err := readTIFF(r, size)
	if err != nil {
		return Survey{}, err
	}
	v := t.values
	bits := max(v[tagBits], 1)
	switch {
	case t.camera:
		return Survey{}, refusef(nil, "The file is a camera's raw picture, which is not read here", "Develop it, save it as JPEG and send that.")
	case !slices.Contains(readCompressions, v[tagCompression]):
		return Survey{}, refusef(nil, "The TIFF file is compressed in a way that is not read here (number %d)", tiffAdvice, v[tagCompression])
	case !slices.Contains(readPhotometrics, v[tagPhotometric]):
		return Survey{}, refusef(nil, "The TIFF file has colours of a kind that is not read here, such as four inks (number %d)", tiffAdvice, v[tagPhotometric])
	case v[tagFormat] > 1:
		return Survey{}, refusef(nil, "The TIFF file holds numbers with a sign or a fraction and no ordinary picture", tiffAdvice)
	case bits > 16:
		return Survey{}, refusef(nil, "The TIFF file has %d bits a colour, more than the 16 that are read", tiffAdvice, bits)
	}
	each := int64(1)
	if v[tagSamples] > 1 {
		each = 4
	}
	if bits > 8 {
		each *= 2
	}
	s := Survey{Width: int(min(v[tagWidth], 1<<30)), Height: int(min(v[tagHeight], 1<<30)), Heavy: nameTIFF}
	s.Decoded = (each + tiffStrips) * saturated(s.Width, s.Height)
	return s, nil
}

// tiffStrips is what a pixel takes while the strip that it stands in is unpacked; a file may have one strip.
const tiffStrips = 8
