package photo

import (
	"bufio"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// Limits of what a decoder is given. They are looked at in headers and markers alone.
const (
	// maxSide bounds each side in pixels: a row is held whole several times over.
	maxSide = 20_000
	// maxScans bounds the scans of a JPEG. The usual progressive ones have six to twelve (libjpeg's jpeg_simple_progression has
	// ten); each goes over the whole picture once more.
	maxScans = 32
	// MaxDecoded bounds the estimated bytes that decoding takes: a progressive JPEG without subsampling of 28 megapixels.
	MaxDecoded = 420_000_000
	// mostHeavy bounds those of a heavy format: what is left of HeavyMemory beside the file, the copies and the program.
	mostHeavy = HeavyMemory - 320<<20
)

// Survey is what headers and markers say of an upload. Nothing of it is decoded for that.
type Survey struct {
	Width, Height int   // as stored, in pixels
	Scans         int   // of a JPEG, otherwise 0
	Decoded       int64 // bytes that decoding the whole picture takes, estimated from above
	// Heavy is the name of a format that takes much more memory than the others, HEIC, AVIF or TIFF; else empty.
	Heavy string
}

// Look surveys an upload without holding it, and refuses (*RefusedError) what exceeds the limits, is of another type, or ends
// too early. Any other error comes from r.
func Look(r io.ReadSeeker, l Limits) (Survey, error) {
	l = l.orDefault()
	size, err := r.Seek(0, io.SeekEnd)
	if err != nil {
		return Survey{}, fmt.Errorf("photo: size of the upload: %w", err)
	}
	if err := checkSize(size, l); err != nil {
		return Survey{}, err
	}
	head := make([]byte, min(size, 16))
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return Survey{}, fmt.Errorf("photo: surveying the upload: %w", err)
	}
	if _, err := io.ReadFull(r, head); err != nil {
		return Survey{}, fmt.Errorf("photo: surveying the upload: %w", err)
	}
	f, err := formatOf(head)
	if err != nil {
		return Survey{}, err
	}
	if _, err := r.Seek(0, io.SeekStart); err != nil {
		return Survey{}, fmt.Errorf("photo: surveying the upload: %w", err)
	}
	s, err := f.survey(r, size)
	if err != nil {
		return Survey{}, refuseDamaged(err, f.name)
	}
	return s, s.check(f, l)
}

func checkSize(size int64, l Limits) error {
	if size > l.Bytes {
		return refusef(nil, "The file is larger than %s", "Send the photo at a smaller size or with stronger compression.", megabytes(l.Bytes))
	}
	if size == 0 {
		return refusef(nil, "The file is empty", "Choose the photo again; if it stays empty, copy it from the camera once more.")
	}
	return nil
}

func (s Survey) check(f format, l Limits) error {
	if s.Width < 1 || s.Height < 1 {
		return refuseDamaged(errors.New("no pixels"), f.name)
	}
	if pixels := int64(s.Width) * int64(s.Height); pixels > l.Pixels {
		return refusef(nil, "The picture has %d x %d pixels, more than the %.4g megapixels that are accepted",
			"Make it smaller, or cut it to the specimen, and send it again.", s.Width, s.Height, float64(l.Pixels)/1e6)
	}
	if max(s.Width, s.Height) > maxSide {
		return refusef(nil, "The picture has %d x %d pixels; neither side may have more than %d", "Cut it to the specimen and send it again.", s.Width, s.Height, maxSide)
	}
	if s.Scans > maxScans {
		return refusef(nil, "The JPEG file shows its picture in %d passes, more than the %d that are accepted",
			"Open it in an image program, save it as an ordinary JPEG (not progressive) and send that.", s.Scans, maxScans)
	}
	if most := int64(mostHeavy); s.Heavy != "" && s.Decoded > most {
		return refusef(nil, "The %s file would take %s of memory to decode, more than the %s that are accepted",
			"Save it as an ordinary JPEG and send that.", s.Heavy, megabytes(s.Decoded), megabytes(most))
	}
	if s.Heavy == "" && s.Decoded > MaxDecoded {
		return refusef(nil, "The %s file would take %s of memory to decode, more than the %s that are accepted",
			"Save it as an ordinary JPEG (not progressive, 8 bits a colour) and send that.", f.name, megabytes(s.Decoded), megabytes(MaxDecoded))
	}
	return nil
}

// forward surveys from the front to the end.
func forward(survey func(*stream) (Survey, error)) func(io.ReadSeeker, int64) (Survey, error) {
	return func(r io.ReadSeeker, size int64) (Survey, error) { return survey(streamOf(r, size)) }
}

func streamOf(r io.Reader, size int64) *stream {
	return &stream{r: bufio.NewReaderSize(r, 64<<10), left: size}
}

// stream reads forward and knows how much is left.
type stream struct {
	r    *bufio.Reader
	left int64
}

func (s *stream) take(n int64) ([]byte, error) {
	if n > s.left {
		return nil, errTruncated
	}
	b := make([]byte, n)
	_, err := io.ReadFull(s.r, b)
	s.left -= n
	return b, err
}

func (s *stream) skip(n int64) error {
	if n > s.left {
		return errTruncated
	}
	s.left -= n
	for n > 0 { // Discard takes an int, which may have 32 bits
		step := min(n, math.MaxInt32)
		if _, err := s.r.Discard(int(step)); err != nil {
			return err
		}
		n -= step
	}
	return nil
}

func (s *stream) byte() (byte, error) {
	if s.left == 0 {
		return 0, errTruncated
	}
	s.left--
	return s.r.ReadByte()
}

// surveyPNG reads the header, and walks the chunks to their end (W3C PNG specification, third edition, section 5).
func surveyPNG(s *stream) (Survey, error) {
	if err := s.skip(int64(len(pngSignature))); err != nil {
		return Survey{}, err
	}
	var found Survey
	for first := true; ; first = false {
		head, err := s.take(8)
		if err != nil {
			return Survey{}, err
		}
		length, kind := int64(binary.BigEndian.Uint32(head)), string(head[4:])
		if first != (kind == "IHDR") {
			return Survey{}, fmt.Errorf("chunk %q where the header belongs, or a second header", kind)
		}
		if kind == "IHDR" {
			header, err := s.take(min(length, 13))
			if err != nil {
				return Survey{}, err
			}
			if length != 13 {
				return Survey{}, fmt.Errorf("a header of %d bytes", length)
			}
			found, length = surveyIHDR(header), 0
		}
		if err := s.skip(length + 4); err != nil {
			return Survey{}, err
		}
		if kind == "IEND" {
			return found, nil
		}
	}
}

// surveyIHDR counts what image/png makes of a pixel: one, two, four or eight bytes. A transparent colour makes four or eight
// of grey; an interlaced picture is held a second time, by passes of which the last has half of the pixels.
func surveyIHDR(b []byte) Survey {
	width, height := binary.BigEndian.Uint32(b), binary.BigEndian.Uint32(b[4:])
	depth, colour, interlaced := b[8], b[9], b[12] != 0
	each := int64(4)
	if colour == 3 {
		each = 1
	}
	if depth == 16 {
		each = 8
	}
	s := Survey{Width: int(min(width, math.MaxInt32)), Height: int(min(height, math.MaxInt32))}
	s.Decoded = each * saturated(s.Width, s.Height)
	if interlaced {
		s.Decoded += s.Decoded / 2
	}
	return s
}

// saturated is a product that stays far from the end of the range.
func saturated(a, b int) int64 {
	return int64(min(float64(a)*float64(b), 1<<56))
}

// surveyWebP walks the chunks (RFC 9649 section 2.3). The largest of the sizes that the container and the pictures in it
// announce counts.
func surveyWebP(s *stream) (Survey, error) {
	container, err := s.take(12)
	if err != nil {
		return Survey{}, err
	}
	size := int64(binary.LittleEndian.Uint32(container[4:])) - 4
	if size < 0 {
		return Survey{}, errors.New("a container that is too small")
	}
	if size > s.left {
		return Survey{}, errTruncated
	}
	s.left = size // what follows the container is not looked at
	var found Survey
	each := 1.5 // luma, and chroma of half the width and height
	for s.left >= 8 {
		head, err := s.take(8)
		if err != nil {
			return Survey{}, err
		}
		kind, length := string(head[:4]), int64(binary.LittleEndian.Uint32(head[4:]))
		odd := length % 2
		body, err := s.take(min(length, 10, s.left))
		if err != nil {
			return Survey{}, err
		}
		found.grow(webpSize(kind, body))
		switch kind {
		case "ALPH":
			each += 13 // packed as a lossless picture of its own
		case "VP8L":
			each += 12 // the pixels, and those before the last transformation
		}
		if length -= int64(len(body)); length > s.left {
			return Survey{}, errTruncated
		}
		if err := s.skip(min(length+odd, s.left)); err != nil { // the last padding byte may be missing
			return Survey{}, err
		}
	}
	found.Decoded = int64(each * float64(saturated(found.Width, found.Height)))
	return found, nil
}

func (s *Survey) grow(width, height int) {
	s.Width, s.Height = max(s.Width, width), max(s.Height, height)
}

// webpSize is what a chunk says of width and height; 0 where it says nothing (RFC 9649 sections 2.5 to 2.7 and 3.4).
func webpSize(kind string, b []byte) (width, height int) {
	le := binary.LittleEndian
	switch {
	case kind == "VP8X" && len(b) >= 10:
		return 1 + int(b[4]) + int(b[5])<<8 + int(b[6])<<16, 1 + int(b[7]) + int(b[8])<<8 + int(b[9])<<16
	case kind == "VP8 " && len(b) >= 10:
		return int(le.Uint16(b[6:]) & 0x3fff), int(le.Uint16(b[8:]) & 0x3fff)
	case kind == "VP8L" && len(b) >= 5:
		bits := le.Uint32(b[1:])
		return 1 + int(bits&0x3fff), 1 + int(bits>>14&0x3fff)
	}
	return 0, 0
}
