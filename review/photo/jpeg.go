package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

// JPEG marker codes, from ITU-T T.81 table B.1.
const (
	markerTEM   = 0x01
	markerSOF0  = 0xc0
	markerRST0  = 0xd0
	markerRST7  = 0xd7
	markerSOI   = 0xd8
	markerEOI   = 0xd9
	markerSOS   = 0xda
	markerDRI   = 0xdd // the last of the codes that make the picture
	markerAPP0  = 0xe0
	markerAPP1  = 0xe1
	markerAPP2  = 0xe2
	markerAPP14 = 0xee
)

const (
	iccPrefix   = "ICC_PROFILE\x00"
	exifPrefix  = "Exif\x00\x00"
	adobePrefix = "Adobe"
	jfifPrefix  = "JFIF\x00"
	jfifLength  = 14 // of the payload without a thumbnail
	adobeLength = 12
)

// cleanJPEG copies the segments that make the picture (frame, tables, scans), JFIF, Adobe and ICC, and nothing that
// follows the end of the image, where phones put further pictures and films.
func cleanJPEG(data []byte, orientation int) (cleaned, error) {
	c := jpegCleaner{in: data, at: 2}
	for {
		marker, err := c.nextMarker()
		if err != nil {
			return cleaned{}, err
		}
		if marker == markerEOI {
			break
		}
		if err := c.segment(marker); err != nil {
			return cleaned{}, err
		}
	}
	if !c.scanned {
		return cleaned{}, errors.New("no scan before the end of the image")
	}
	return c.assemble(orientation), nil
}

type jpegCleaner struct {
	in          []byte
	at          int
	jfif, adobe []byte
	icc         iccParts
	body        [][]byte // frame, tables and scans, as they stand in in: they are copied once
	scanned     bool
}

// nextMarker skips fill bytes, and stray bytes that some cameras leave between segments.
func (c *jpegCleaner) nextMarker() (byte, error) {
	for c.at+1 < len(c.in) {
		if c.in[c.at] == 0xff && c.in[c.at+1] != 0xff && c.in[c.at+1] != 0 {
			c.at += 2
			return c.in[c.at-1], nil
		}
		c.at++
	}
	return 0, errTruncated
}

func (c *jpegCleaner) segment(marker byte) error {
	if marker == markerSOI {
		return fmt.Errorf("a second start of image inside the first")
	}
	if marker == markerTEM || (marker >= markerRST0 && marker <= markerRST7) {
		return nil
	}
	if c.at+2 > len(c.in) {
		return errTruncated
	}
	length := int(binary.BigEndian.Uint16(c.in[c.at:]))
	if length < 2 {
		return fmt.Errorf("segment %#x has length %d", marker, length)
	}
	if c.at+length > len(c.in) {
		return errTruncated
	}
	payload := c.in[c.at+2 : c.at+length]
	c.at += length
	c.keep(marker, payload)
	if marker == markerSOS {
		c.scanned = true
		c.copyScan()
	}
	return nil
}

func (c *jpegCleaner) keep(marker byte, payload []byte) {
	switch {
	case marker == markerAPP0 && c.jfif == nil && len(payload) >= jfifLength && hasPrefixAt(payload, 0, jfifPrefix):
		c.jfif = bytes.Clone(payload[:jfifLength])
		c.jfif[12], c.jfif[13] = 0, 0 // no thumbnail
	case marker == markerAPP2 && hasPrefixAt(payload, 0, iccPrefix):
		c.icc.add(payload[len(iccPrefix):])
	case marker == markerAPP14 && c.adobe == nil && len(payload) >= adobeLength && hasPrefixAt(payload, 0, adobePrefix):
		c.adobe = payload[:adobeLength]
	case marker >= markerSOF0 && marker <= markerDRI:
		c.body = append(c.body, segmentHead(marker, payload), payload)
	}
}

// copyScan copies entropy-coded data, in which 0xFF is followed by zero or a restart marker.
func (c *jpegCleaner) copyScan() {
	start := c.at
	for c.at+1 < len(c.in) {
		if c.in[c.at] != 0xff {
			c.at++
			continue
		}
		next := c.in[c.at+1]
		if next != 0 && (next < markerRST0 || next > markerRST7) {
			break
		}
		c.at += 2
	}
	c.body = append(c.body, c.in[start:c.at])
}

func (c *jpegCleaner) assemble(orientation int) cleaned {
	var result cleaned
	profile, warning := c.icc.join()
	result.profile = profile
	if warning != "" {
		result.warnings = []Warning{warning}
	}
	var out bytes.Buffer
	size := len(profile) + len(c.adobe) + 1024
	for _, part := range c.body {
		size += len(part)
	}
	out.Grow(size)
	out.Write([]byte{0xff, markerSOI})
	if c.jfif != nil {
		writeSegment(&out, markerAPP0, c.jfif)
	}
	if orientation != upright {
		writeSegment(&out, markerAPP1, append([]byte(exifPrefix), orientationEXIF(orientation)...))
	}
	parts := splitProfile(profile)
	for i, part := range parts {
		payload := append([]byte(iccPrefix), byte(i+1), byte(len(parts)))
		writeSegment(&out, markerAPP2, append(payload, part...))
	}
	if c.adobe != nil {
		writeSegment(&out, markerAPP14, c.adobe)
	}
	for _, part := range c.body {
		out.Write(part)
	}
	out.Write([]byte{0xff, markerEOI})
	result.data = out.Bytes()
	return result
}

func writeSegment(out *bytes.Buffer, marker byte, payload []byte) {
	out.Write(segmentHead(marker, payload))
	out.Write(payload)
}

func segmentHead(marker byte, payload []byte) []byte {
	return binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(payload)+2))
}
