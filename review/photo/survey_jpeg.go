package photo

import (
	"encoding/binary"
	"fmt"
)

// markerSOF2 begins a progressive frame (ITU-T T.81 table B.1).
const markerSOF2 = 0xc2

// surveyJPEG walks the markers to the end of the image, counting scans.
func surveyJPEG(s *stream) (Survey, error) {
	if err := s.skip(2); err != nil {
		return Survey{}, err
	}
	var found Survey
	for {
		marker, err := s.nextMarker()
		if err != nil {
			return Survey{}, err
		}
		if marker == markerEOI {
			return found, nil
		}
		if marker == markerTEM || marker >= markerRST0 && marker <= markerRST7 {
			continue
		}
		if marker == markerSOI {
			return Survey{}, fmt.Errorf("a second start of image inside the first")
		}
		head, err := s.take(2)
		if err != nil {
			return Survey{}, err
		}
		length := int64(binary.BigEndian.Uint16(head)) - 2
		if length < 0 {
			return Survey{}, fmt.Errorf("segment %#x has length %d", marker, length+2)
		}
		switch {
		case marker == markerSOS:
			found.Scans++
			err = s.skip(length)
		case isFrame(marker):
			var frame []byte
			if frame, err = s.take(length); err == nil {
				err = found.frame(marker, frame)
			}
		default:
			err = s.skip(length)
		}
		if err != nil {
			return Survey{}, err
		}
	}
}

// isFrame: the start of a frame of any kind; 0xc4, 0xc8 and 0xcc are tables and the like.
func isFrame(marker byte) bool {
	return marker >= markerSOF0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc
}

// nextMarker goes over entropy-coded data, in which 0xFF is followed by zero, and over fill bytes.
func (s *stream) nextMarker() (byte, error) {
	previous := byte(0)
	for {
		b, err := s.byte()
		if err != nil {
			return 0, err
		}
		if previous == 0xff && b != 0xff && b != 0 {
			return b, nil
		}
		previous = b
	}
}

// frame counts the bytes that image/jpeg takes: each sample of each plane, planes being padded to whole units; four more for
// each coefficient of a progressive picture, all of which are kept until the last scan; and four a pixel for what
// is no luma and chroma.
func (s *Survey) frame(marker byte, b []byte) error {
	if s.Decoded > 0 {
		return fmt.Errorf("two frames")
	}
	if len(b) < 6 || len(b) != 6+3*int(b[5]) {
		return fmt.Errorf("a frame of %d bytes", len(b))
	}
	s.Height, s.Width = int(binary.BigEndian.Uint16(b[1:])), int(binary.BigEndian.Uint16(b[3:]))
	components, across, down := int(b[5]), 1, 1
	for i := range components {
		across, down = max(across, int(b[7+3*i]>>4)), max(down, int(b[7+3*i]&15))
	}
	unitsAcross, unitsDown := (s.Width+8*across-1)/(8*across), (s.Height+8*down-1)/(8*down)
	units := int64(unitsAcross) * int64(unitsDown)
	samples := int64(0)
	for i := range components {
		samples += 64 * units * int64(max(b[7+3*i]>>4, 1)) * int64(max(b[7+3*i]&15, 1))
	}
	s.Decoded = max(samples, 1)
	if marker == markerSOF2 {
		s.Decoded += 4 * samples
	}
	if components == 4 || components == 3 && b[6] == 'R' {
		s.Decoded += 4 * int64(s.Width) * int64(s.Height)
	}
	return nil
}
