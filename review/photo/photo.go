// Package photo turns an uploaded stream into bytes that are safe to keep and to show.
//
// An upload is read once, up to a limit; its type is taken from its content; its container is rewritten so that only
// what is needed to show the picture remains; and it is decoded completely, so that a damaged file is refused before
// anything is kept. The rewriting is lossless: the compressed picture is copied byte for byte. What the photo said
// about where and when it was taken is handed to the caller apart from the bytes, so that it can be offered to the
// member, and stands in no stored byte.
//
// A picture keeps its orientation as its only metadata: the kept original has an EXIF block with that one tag (unless
// it is upright as it is), because turning a JPEG would cost quality. Width, Height and the copies are upright.
package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"time"
)

// Limits bound one upload. A field that is zero has its value from DefaultLimits.
type Limits struct {
	Bytes  int64 // size of the upload in bytes, inclusive
	Pixels int64 // width times height, inclusive
	// Alone: the process does nothing else, and gives back at once what it needs no more.
	Alone bool
	// Kept takes Picture.Original as soon as the picture is decoded, so that it is not held beside the copies while these are made; it then
	// is nil in the Picture, but for what is not kept as it came (HEIC, AVIF, TIFF). nil: it is held.
	Kept func(original []byte) error
	// Large is the long side of a further copy, in pixels, larger than the display copy; 0: none is made.
	Large int
}

// DefaultLimits allow 32 MB, counted as 32,000,000 bytes, and 40 megapixels, counted as 40,000,000 pixels.
var DefaultLimits = Limits{Bytes: 32_000_000, Pixels: 40_000_000}

// Long sides, in pixels, of the three copies that are made of every picture. A smaller picture is not enlarged.
const (
	DisplaySide = 1600
	MiddleSide  = 800 // half of it: a phone's width at two pixels to one of its style sheets
	ThumbSide   = 320
)

// Media types of the pictures that are accepted.
const (
	JPEG = "image/jpeg"
	PNG  = "image/png"
	WebP = "image/webp"
)

// Picture is an accepted upload.
type Picture struct {
	// Original is the upload without metadata except its orientation and its colour profile; of HEIC, AVIF and TIFF a JPEG of all its
	// pixels. Reading it again gives the same bytes.
	Original []byte
	// Type is JPEG, PNG or WebP.
	Type string
	// Width and Height in pixels of the upright picture.
	Width, Height int
	// SHA256 of Original, in lower-case hex.
	SHA256 string
	// Display, Middle and Thumb are upright sRGB JPEG copies on a white ground, without metadata.
	Display, Middle, Thumb []byte
	// Look is what it looks like; empty where that tells nothing.
	Look Likeness
	// Large is such a copy of the side that Limits ask for, or nil.
	Large []byte
	// Place is where the photo said it was taken, or nil. It is in no byte above.
	Place *Place
	// Taken is the camera's clock when the photo was taken, or the zero time. Cameras seldom record a zone; without
	// one the clock reading is given as if it were UTC. It is the date of the photo, not that of the collecting.
	Taken time.Time
	// Warnings say what could not be used although the picture was accepted.
	Warnings []Warning
}

// Place is a position that a photo carried, in decimal degrees: north and east are positive.
type Place struct {
	Latitude    float64  `json:"latitude"`
	Longitude   float64  `json:"longitude"`
	Altitude    *float64 `json:"elevation_m,omitempty"`   // metres above (below: negative) sea level, nil where not recorded
	Uncertainty *float64 `json:"uncertainty_m,omitempty"` // horizontal error in metres, nil where not recorded
	Datum       string   `json:"datum,omitempty"`         // geodetic datum as recorded, "" where not recorded
}

// Read takes one upload from r. A file that cannot be accepted gives a *RefusedError; any other error comes from r
// itself. Memory stays below about four times l.Bytes and 24 bytes for each of at most l.Pixels pixels (the worst is a
// progressive JPEG in four inks; an ordinary photo takes under 3 bytes a pixel): package apart reads
// uploads that may arrive together.
func Read(r io.Reader, l Limits) (Picture, error) {
	l = l.orDefault()
	data, err := readAll(r, l)
	if err != nil {
		return Picture{}, err
	}
	return read(data, l)
}

func (l Limits) orDefault() Limits {
	if l.Bytes == 0 {
		l.Bytes = DefaultLimits.Bytes
	}
	if l.Pixels == 0 {
		l.Pixels = DefaultLimits.Pixels
	}
	return l
}

// tidy gives memory back that is not used any more.
func (l Limits) tidy() {
	if l.Alone {
		debug.FreeOSMemory()
	}
}

func readAll(r io.Reader, l Limits) ([]byte, error) {
	var whole bytes.Buffer
	if file, ok := r.(*os.File); ok { // its size is known: nothing is copied because a buffer grows
		if info, err := file.Stat(); err == nil {
			whole.Grow(int(min(info.Size(), l.Bytes)) + bytes.MinRead)
		}
	}
	_, err := whole.ReadFrom(io.LimitReader(r, l.Bytes+1))
	data := whole.Bytes()
	if err != nil {
		return nil, fmt.Errorf("photo: reading the upload: %w", err)
	}
	return data, checkSize(int64(len(data)), l)
}

func read(data []byte, l Limits) (Picture, error) {
	survey, err := Look(bytes.NewReader(data), l)
	if err != nil {
		return Picture{}, err
	}
	format, err := formatOf(data)
	if err != nil {
		return Picture{}, err
	}
	if survey.Heavy == nameAVIF {
		format = avifFormat
	}
	if format.open != nil {
		return readHeavy(data, format, l)
	}
	facts := readMetadata(data, format)
	clean, err := format.clean(data, facts.orientation)
	if err != nil {
		return Picture{}, refuseDamaged(err, format.name)
	}
	data = nil
	l.tidy()
	if format.mediaType == PNG {
		if err := wholePNG(clean.data); err != nil {
			return Picture{}, refuseDamaged(err, format.name)
		}
	}
	img, err := decode(clean.data, format, l)
	if err != nil {
		return Picture{}, err
	}
	digest := digestOf(clean.data)
	if l.Kept != nil {
		if err := l.Kept(clean.data); err != nil {
			return Picture{}, fmt.Errorf("photo: keeping the original: %w", err)
		}
		clean.data = nil
		l.tidy()
	}
	copies, err := render(img, clean.profile, facts.orientation, l.Large)
	if err != nil {
		return Picture{}, err
	}
	p := pictureOf(format.mediaType, copies, facts, append(append(facts.warnings, clean.warnings...), copies.warnings...))
	p.Original, p.SHA256 = clean.data, digest
	return p, nil
}

// digestOf is the SHA-256 of an original, in lower-case hex.
func digestOf(original []byte) string {
	sum := sha256.Sum256(original)
	return hex.EncodeToString(sum[:])
}

// pictureOf is all of a picture but its original.
func pictureOf(mediaType string, c copies, facts metadata, warnings []Warning) Picture {
	return Picture{Type: mediaType, Width: c.width, Height: c.height,
		Display: c.display, Middle: c.middle, Thumb: c.thumb, Large: c.large, Look: c.look, Place: facts.place, Taken: facts.taken, Warnings: warnings}
}

// cleaned is an upload whose container was rewritten.
type cleaned struct {
	data     []byte
	profile  []byte // ICC profile, nil where there is none
	warnings []Warning
}

var errTruncated = errors.New("the file ends too early")

func refuseDamaged(err error, name string) error {
	var refused *RefusedError
	if errors.As(err, &refused) {
		return refused
	}
	if errors.Is(err, errTruncated) || errors.Is(err, io.ErrUnexpectedEOF) {
		return refusef(err, "The %s file ends too early: part of the picture is missing", "Send the whole file again; if it was copied from a card or a phone, copy it once more.", name)
	}
	return refusef(err, "The %s file is damaged and cannot be shown", "Open it in an image program, save it as a new JPEG and send that.", name)
}

func hasPrefixAt(data []byte, at int, prefix string) bool {
	return len(data) >= at && bytes.HasPrefix(data[at:], []byte(prefix))
}
