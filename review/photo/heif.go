package photo

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
)

// maxMeta bounds the box that describes a picture, in bytes; it holds the colour profile.
const maxMeta = maxProfile + 1<<20

// heif is what the boxes of a HEIC or AVIF file say of its primary picture (ISO/IEC 14496-12 section 8.11, 23008-12 sections 6 and 9).
type heif struct {
	width, height int    // of the largest picture in the file, as stored
	coding        string // of the primary picture or its tiles: hvc1, av01, …
	orientation   int    // of EXIF, that the properties irot and imir amount to
	profile       []byte // ICC
	transfer      int    // of nclx (ITU-T H.273); 0 where nothing is said
	matrix        matrix
	pictures      int  // that stand by themselves
	moves         bool // there is a film beside
}

var errNoPicture = errors.New("no picture is described")

// hdrTransfers are the curves of pictures brighter than paper: PQ and HLG (ITU-T H.273, table 3).
var hdrTransfers = []int{16, 18}

// surveyHEIF walks the outer boxes to their end and reads the one that describes the pictures.
func surveyHEIF(s *stream) (heif, error) {
	var found heif
	described := false
	for s.left > 0 {
		kind, length, err := boxHead(s)
		if err != nil {
			return heif{}, err
		}
		switch {
		case kind == "meta" && !described:
			if length > maxMeta {
				return heif{}, fmt.Errorf("%d bytes of description", length)
			}
			body, err := s.take(length)
			if err != nil {
				return heif{}, err
			}
			if found, err = readHEIFMeta(body); err != nil {
				return heif{}, err
			}
			described, length = true, 0
		case kind == "moov":
			found.moves = true
		}
		if err := s.skip(length); err != nil {
			return heif{}, err
		}
	}
	if !described {
		return heif{}, errNoPicture
	}
	return found, nil
}

// boxHead reads the head of a box and returns how many bytes follow it (ISO/IEC 14496-12 section 4.2).
func boxHead(s *stream) (kind string, length int64, err error) {
	head, err := s.take(8)
	if err != nil {
		return "", 0, err
	}
	size, taken := uint64(binary.BigEndian.Uint32(head)), uint64(8)
	switch size {
	case 0:
		return string(head[4:]), s.left, nil
	case 1:
		large, err := s.take(8)
		if err != nil {
			return "", 0, err
		}
		size, taken = binary.BigEndian.Uint64(large), 16
	}
	if size < taken {
		return "", 0, fmt.Errorf("box %q of %d bytes", head[4:], size)
	}
	if size-taken > uint64(s.left) {
		return "", 0, errTruncated
	}
	return string(head[4:]), int64(size - taken), nil
}

// boxes calls use with each box of data.
func boxes(data []byte, use func(kind string, body []byte) error) error {
	for len(data) > 0 {
		if len(data) < 8 {
			return errTruncated
		}
		size, taken := uint64(binary.BigEndian.Uint32(data)), uint64(8)
		if size == 1 && len(data) >= 16 {
			size, taken = binary.BigEndian.Uint64(data[8:]), 16
		}
		if size == 0 {
			size = uint64(len(data))
		}
		if size < taken || size > uint64(len(data)) {
			return errTruncated
		}
		if err := use(string(data[4:8]), data[taken:size]); err != nil {
			return err
		}
		data = data[size:]
	}
	return nil
}

// heifItems are the parts of the box that describes, before they are put together.
type heifItems struct {
	primary    uint32
	kinds      map[uint32]string
	tiles      map[uint32]uint32 // the first of those that a picture is put together from
	parts      map[uint32]bool   // pictures that are tiles, thumbnails or masks of others
	properties []heifProperty
	has        map[uint32][]int // properties of an item, from 1
}

type heifProperty struct {
	kind string
	body []byte
}

func readHEIFMeta(body []byte) (heif, error) {
	f := fields{data: body}
	f.full()
	items := heifItems{kinds: map[uint32]string{}, tiles: map[uint32]uint32{}, parts: map[uint32]bool{}, has: map[uint32][]int{}}
	if f.err != nil {
		return heif{}, f.err
	}
	if err := boxes(f.data, items.read); err != nil {
		return heif{}, err
	}
	return items.join()
}

func (i *heifItems) read(kind string, body []byte) error {
	f := fields{data: body}
	switch kind {
	case "pitm":
		i.primary = f.id(f.full() >> 24)
	case "iinf":
		if f.full()>>24 == 0 {
			f.uint(2)
		} else {
			f.uint(4)
		}
		if f.err != nil {
			return f.err
		}
		return boxes(f.data, i.item)
	case "iref":
		version := f.full() >> 24
		if f.err != nil {
			return f.err
		}
		return boxes(f.data, func(kind string, body []byte) error { return i.reference(version, kind, body) })
	case "iprp":
		return boxes(body, i.read)
	case "ipco":
		return boxes(body, func(kind string, body []byte) error {
			i.properties = append(i.properties, heifProperty{kind, body})
			return nil
		})
	case "ipma":
		i.associate(&f)
	}
	return f.err
}

func (i *heifItems) item(kind string, body []byte) error {
	if kind != "infe" {
		return nil
	}
	f := fields{data: body}
	version := f.full() >> 24
	if version < 2 {
		return nil // of no pictures
	}
	id := f.id(version - 2)
	f.uint(2)
	i.kinds[id] = f.text(4)
	return f.err
}

func (i *heifItems) reference(version uint32, kind string, body []byte) error {
	f := fields{data: body}
	from := f.id(version)
	count := f.uint(2)
	for n := range count {
		to := f.id(version)
		switch {
		case kind == "dimg" && n == 0:
			i.tiles[from] = to
			fallthrough
		case kind == "dimg":
			i.parts[to] = true
		case kind == "thmb" || kind == "auxl":
			i.parts[from] = true
		}
		if f.err != nil {
			return f.err
		}
	}
	return f.err
}

func (i *heifItems) associate(f *fields) {
	head := f.full()
	for range f.uint(4) {
		id := f.id(head >> 24)
		for range f.uint(1) {
			index := f.uint(1) & 0x7f
			if head&1 != 0 {
				index = index<<8 | f.uint(1)
			}
			i.has[id] = append(i.has[id], int(index))
		}
		if f.err != nil {
			return
		}
	}
}

func (i *heifItems) join() (heif, error) {
	kind, known := i.kinds[i.primary]
	if !known {
		return heif{}, errNoPicture
	}
	found := heif{coding: kind, orientation: upright}
	for id := i.primary; slices.Contains([]string{"grid", "iovl", "iden"}, found.coding); {
		tile, ok := i.tiles[id]
		if !ok || tile == id || i.kinds[tile] == "" || i.kinds[tile] == "iovl" || i.kinds[tile] == "iden" {
			return heif{}, fmt.Errorf("a picture %q put together from nothing", found.coding)
		}
		id, found.coding = tile, i.kinds[tile]
		if found.coding == "grid" {
			return heif{}, errors.New("a grid of grids")
		}
	}
	for id, kind := range i.kinds {
		if !i.parts[id] && slices.Contains([]string{"hvc1", "av01", "grid", "iovl", "iden"}, kind) {
			found.pictures++
		}
	}
	var mirrored, turned int
	mirrored = -1
	for _, index := range i.has[i.primary] {
		if index < 1 || index > len(i.properties) {
			continue
		}
		p := i.properties[index-1]
		switch {
		case p.kind == "irot" && len(p.body) > 0:
			turned = int(p.body[0] & 3)
		case p.kind == "imir" && len(p.body) > 0:
			mirrored = int(p.body[0] & 1)
		case p.kind == "colr":
			found.colour(p.body)
		}
	}
	found.orientation = heifOrientations[turned][mirrored+1]
	for _, p := range i.properties {
		if p.kind == "ispe" && len(p.body) >= 12 {
			found.width = max(found.width, int(min(binary.BigEndian.Uint32(p.body[4:]), 1<<30)))
			found.height = max(found.height, int(min(binary.BigEndian.Uint32(p.body[8:]), 1<<30)))
		}
	}
	return found, nil
}

// colour reads a colr property (ISO/IEC 14496-12 section 12.1.5).
func (h *heif) colour(body []byte) {
	f := fields{data: body}
	switch f.text(4) {
	case "prof", "rICC":
		if len(f.data) <= maxProfile {
			h.profile = f.data
		}
	case "nclx":
		f.uint(2)
		h.transfer, h.matrix.number = int(f.uint(2)), int(f.uint(2))
		h.matrix.limited = f.uint(1)&0x80 == 0 && f.err == nil
	}
}

// heifOrientations are the EXIF orientations of a picture that is turned anticlockwise by as many quarters (irot) and then not mirrored,
// mirrored top to bottom (imir, axis 0) or left to right (axis 1).
var heifOrientations = [4][3]int{{1, 4, 2}, {8, 5, 7}, {3, 2, 4}, {6, 7, 5}}

// fields are read from the front; after an error they are zero.
type fields struct {
	data []byte
	err  error
}

func (f *fields) take(n int) []byte {
	if f.err != nil || n > len(f.data) {
		f.err, f.data = errTruncated, nil
		return make([]byte, n)
	}
	b := f.data[:n]
	f.data = f.data[n:]
	return b
}

// uint reads a number of 1, 2 or 4 bytes.
func (f *fields) uint(n int) (v uint32) {
	for _, b := range f.take(n) {
		v = v<<8 | uint32(b)
	}
	return v
}

func (f *fields) text(n int) string { return string(f.take(n)) }

// full reads version and flags of a box.
func (f *fields) full() uint32 { return f.uint(4) }

// id reads the number of an item, of two bytes in version 0 of a box and else of four.
func (f *fields) id(version uint32) uint32 {
	if version == 0 {
		return f.uint(2)
	}
	return f.uint(4)
}

// heifBrands are those of pictures; others are films.
var heifBrands = []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "mif1", "mif2", "msf1", "miaf", "avif", "avis"}

func isHEIF(head []byte) bool {
	return hasPrefixAt(head, 4, "ftyp") && len(head) >= 12 && slices.Contains(heifBrands, string(head[8:12]))
}

// surveyOfHEIF refuses what cannot be shown.
func surveyOfHEIF(r io.ReadSeeker, size int64) (Survey, error) {
	h, err := surveyHEIF(streamOf(r, size))
	switch {
	case errors.Is(err, errNoPicture):
		return Survey{}, refusef(nil, "The file holds a film or a sequence of pictures and no single one", "Send one still picture of it.")
	case err != nil:
		return Survey{}, err
	}
	return h.survey()
}

func (h *heif) warnings() []Warning {
	if h.pictures > 1 || h.moves {
		return []Warning{WarnPictures}
	}
	return nil
}

// decoded is how many bytes decoding takes, estimated from above.
func (h *heif) decoded() int64 {
	each := int64(heicPerPixel)
	if h.coding == "av01" {
		each = avifPerPixel
	}
	return each * saturated(h.width, h.height)
}

func (h *heif) survey() (Survey, error) {
	s := Survey{Width: h.width, Height: h.height, Decoded: h.decoded()}
	switch h.coding {
	case "hvc1":
		s.Heavy = nameHEIC
	case "av01":
		s.Heavy = nameAVIF
	default:
		return Survey{}, refusef(nil, "The file holds a picture that is coded in a way that is not read here (%.4q)", "Save the photo as JPEG and send that.", h.coding)
	}
	if slices.Contains(hdrTransfers, h.transfer) {
		return Survey{}, refusef(nil, "The picture is of high dynamic range (HDR), which has no fair copy on an ordinary screen", "Save it as an ordinary JPEG, or switch HDR off in the camera, and send that.")
	}
	return s, nil
}
