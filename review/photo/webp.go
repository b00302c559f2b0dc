package photo

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"golang.org/x/image/webp"
)

// Bits of the first byte of a VP8X chunk (RFC 9649, section 2.7).
const (
	vp8xAnimation = 1 << 1
	vp8xEXIF      = 1 << 3
	vp8xAlpha     = 1 << 4
	vp8xICC       = 1 << 5
	vp8xLength    = 10
)

type riffChunk struct {
	kind    string
	payload []byte
}

// cleanWebP keeps the picture, its alpha plane and its colour profile, in the order that RFC 9649 gives, and writes
// the extended header anew: with neither profile, alpha nor orientation there is none.
func cleanWebP(data []byte, orientation int) (cleaned, error) {
	chunks, err := webpChunks(data)
	if err != nil {
		return cleaned{}, err
	}
	parts := map[string][]byte{}
	for _, c := range chunks {
		switch c.kind {
		case "ANIM", "ANMF":
			return cleaned{}, refuseAnimated()
		case "VP8X", "ICCP", "ALPH", "VP8 ", "VP8L":
			if _, again := parts[c.kind]; again {
				return cleaned{}, fmt.Errorf("two chunks %q", c.kind)
			}
			parts[c.kind] = c.payload
		}
	}
	return writeWebP(parts, orientation)
}

func webpChunks(data []byte) ([]riffChunk, error) {
	if len(data) < 12 {
		return nil, errTruncated
	}
	size := uint64(binary.LittleEndian.Uint32(data[4:]))
	if size < 4 {
		return nil, fmt.Errorf("the container announces %d bytes", size)
	}
	if size+8 > uint64(len(data)) {
		return nil, errTruncated
	}
	rest := data[12 : 8+size]
	var chunks []riffChunk
	for len(rest) > 0 {
		if len(rest) < 8 {
			return nil, errTruncated
		}
		length := uint64(binary.LittleEndian.Uint32(rest[4:]))
		if length > uint64(len(rest)-8) {
			return nil, errTruncated
		}
		chunks = append(chunks, riffChunk{string(rest[:4]), rest[8 : 8+length]})
		// A file whose last chunk lacks its padding byte is read all the same.
		rest = rest[min(8+length+length%2, uint64(len(rest))):]
	}
	return chunks, nil
}

func writeWebP(parts map[string][]byte, orientation int) (cleaned, error) {
	bitstream := "VP8 "
	if parts["VP8L"] != nil {
		bitstream = "VP8L"
	}
	if parts[bitstream] == nil || (bitstream == "VP8L" && parts["VP8 "] != nil) {
		return cleaned{}, fmt.Errorf("not exactly one picture in the file")
	}
	var result cleaned
	if icc, ok := parts["ICCP"]; ok && len(icc) > maxProfile {
		result.warnings = append(result.warnings, WarnProfile)
	} else {
		result.profile = icc
	}
	header, extended, err := vp8x(parts, result.profile != nil, orientation)
	if err != nil {
		return cleaned{}, err
	}
	out := bytes.NewBufferString("RIFF\x00\x00\x00\x00WEBP")
	if extended {
		writeRIFFChunk(out, "VP8X", header)
	}
	if result.profile != nil {
		writeRIFFChunk(out, "ICCP", result.profile)
	}
	if header[0]&vp8xAlpha != 0 && bitstream == "VP8 " {
		writeRIFFChunk(out, "ALPH", parts["ALPH"])
	}
	writeRIFFChunk(out, bitstream, parts[bitstream])
	if orientation != upright {
		writeRIFFChunk(out, "EXIF", orientationEXIF(orientation))
	}
	result.data = out.Bytes()
	binary.LittleEndian.PutUint32(result.data[4:], uint32(len(result.data)-8))
	return result, nil
}

// vp8x returns the extended header, and whether the file needs one.
func vp8x(parts map[string][]byte, icc bool, orientation int) (header []byte, extended bool, err error) {
	header = make([]byte, vp8xLength)
	if old, had := parts["VP8X"]; had {
		if len(old) != vp8xLength {
			return nil, false, fmt.Errorf("an extended header of %d bytes", len(old))
		}
		if old[0]&vp8xAnimation != 0 {
			return nil, false, refuseAnimated()
		}
		copy(header[4:], old[4:])
		if parts["ALPH"] != nil || parts["VP8L"] != nil {
			header[0] = old[0] & vp8xAlpha
		}
	} else if icc || orientation != upright {
		config, err := webp.DecodeConfig(bytes.NewReader(simpleWebP(parts)))
		if err != nil {
			return nil, false, err
		}
		putUint24(header[4:], config.Width-1)
		putUint24(header[7:], config.Height-1)
	}
	if icc {
		header[0] |= vp8xICC
	}
	if orientation != upright {
		header[0] |= vp8xEXIF
	}
	return header, header[0] != 0, nil
}

// simpleWebP is a file with the bitstream alone.
func simpleWebP(parts map[string][]byte) []byte {
	out := bytes.NewBufferString("RIFF\x00\x00\x00\x00WEBP")
	for _, kind := range []string{"VP8 ", "VP8L"} {
		if parts[kind] != nil {
			writeRIFFChunk(out, kind, parts[kind])
		}
	}
	data := out.Bytes()
	binary.LittleEndian.PutUint32(data[4:], uint32(len(data)-8))
	return data
}

func putUint24(b []byte, v int) { b[0], b[1], b[2] = byte(v), byte(v>>8), byte(v>>16) }

func writeRIFFChunk(out *bytes.Buffer, kind string, payload []byte) {
	out.WriteString(kind)
	out.Write(binary.LittleEndian.AppendUint32(nil, uint32(len(payload))))
	out.Write(payload)
	if len(payload)%2 == 1 {
		out.WriteByte(0)
	}
}
