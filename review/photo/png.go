package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
)

const pngSignature = "\x89PNG\r\n\x1a\n"

// pngKept are the chunks that take part in showing the picture (W3C PNG specification, third edition, sections 11.2
// and 11.3). Everything else is text, time or unknown.
var pngKept = map[string]bool{
	"IHDR": true, "PLTE": true, "IDAT": true, "IEND": true, "tRNS": true,
	"gAMA": true, "cHRM": true, "sRGB": true, "cICP": true, "sBIT": true, "pHYs": true,
}

func cleanPNG(data []byte, orientation int) (cleaned, error) {
	var out bytes.Buffer
	var result cleaned
	out.Grow(len(data))
	out.WriteString(pngSignature)
	rest := data[len(pngSignature):]
	seenProfile := false
	for {
		kind, payload, next, err := pngChunk(rest)
		if err != nil {
			return cleaned{}, err
		}
		rest = next
		switch {
		case kind == "acTL" || kind == "fcTL" || kind == "fdAT":
			return cleaned{}, refuseAnimated()
		case kind == "iCCP" && !seenProfile:
			seenProfile = true
			profile, compressed := pngProfile(payload)
			if profile == nil {
				result.warnings = append(result.warnings, WarnProfile)
				continue
			}
			result.profile = profile
			writePNGChunk(&out, kind, append([]byte("profile\x00\x00"), compressed...))
		case pngKept[kind]:
			writePNGChunk(&out, kind, payload)
		}
		if kind == "IHDR" && orientation != upright {
			writePNGChunk(&out, "eXIf", orientationEXIF(orientation))
		}
		if kind == "IEND" {
			result.data = out.Bytes()
			return result, nil
		}
	}
}

// pngChunk returns the first chunk of data, with its checksum verified, and what follows it.
func pngChunk(data []byte) (kind string, payload, rest []byte, err error) {
	const head, crc = 8, 4
	if len(data) < head+crc {
		return "", nil, nil, errTruncated
	}
	length := uint64(binary.BigEndian.Uint32(data))
	if length > uint64(len(data)-head-crc) {
		return "", nil, nil, errTruncated
	}
	end := head + int(length)
	kind, payload = string(data[4:head]), data[head:end]
	if crc32.ChecksumIEEE(data[4:end]) != binary.BigEndian.Uint32(data[end:]) {
		return "", nil, nil, fmt.Errorf("chunk %q has a wrong checksum", kind)
	}
	return kind, payload, data[end+crc:], nil
}

func writePNGChunk(out *bytes.Buffer, kind string, payload []byte) {
	start := out.Len()
	out.Write(binary.BigEndian.AppendUint32(nil, uint32(len(payload))))
	out.WriteString(kind)
	out.Write(payload)
	sum := crc32.ChecksumIEEE(out.Bytes()[start+4:])
	out.Write(binary.BigEndian.AppendUint32(nil, sum))
}

// pngProfile returns the profile and its compressed form, without its name: names are free text. It returns nil if
// the chunk is malformed or inflates beyond maxProfile.
func pngProfile(payload []byte) (profile, compressed []byte) {
	end := bytes.IndexByte(payload, 0)
	if end < 1 || end > 79 || len(payload) < end+2 || payload[end+1] != 0 {
		return nil, nil
	}
	compressed = payload[end+2:]
	z, err := zlib.NewReader(bytes.NewReader(compressed))
	if err != nil {
		return nil, nil
	}
	profile, err = io.ReadAll(io.LimitReader(z, maxProfile+1))
	if err != nil || len(profile) > maxProfile {
		return nil, nil
	}
	return profile, compressed
}

func refuseAnimated() *RefusedError {
	return refusef(nil, "The file is an animation", "Send one still picture of it.")
}

// wholePNG unpacks the pixels without keeping them, and is an error where some are missing: decoding would fill memory for a
// picture that is refused in the end. What is wrong otherwise is left to the decoder.
func wholePNG(data []byte) error {
	var pixels []io.Reader
	var want int64
	for rest := data[len(pngSignature):]; ; {
		kind, payload, next, err := pngChunk(rest)
		if err != nil {
			return err
		}
		rest = next
		switch kind {
		case "IHDR":
			want = unpackedPNG(payload)
		case "IDAT":
			pixels = append(pixels, bytes.NewReader(payload))
		case "IEND":
			z, err := zlib.NewReader(io.MultiReader(pixels...))
			if err != nil {
				return err
			}
			if _, err := io.CopyN(io.Discard, z, want); err != nil {
				return fmt.Errorf("pixels are missing: %w", err)
			}
			return nil
		}
	}
}

// adam7 are the passes of an interlaced picture: the first column and row, and the steps to the next (W3C PNG specification,
// third edition, section 8.2).
var adam7 = [7][4]int64{{0, 0, 8, 8}, {4, 0, 8, 8}, {0, 4, 4, 8}, {2, 0, 4, 4}, {0, 2, 2, 4}, {1, 0, 2, 2}, {0, 1, 1, 2}}

// unpackedPNG is how many bytes the rows of a picture have, each with the byte of its filter.
func unpackedPNG(header []byte) int64 {
	width, height := int64(binary.BigEndian.Uint32(header)), int64(binary.BigEndian.Uint32(header[4:]))
	samples := map[byte]int64{2: 3, 4: 2, 6: 4}[header[9]]
	bits := max(samples, 1) * int64(header[8])
	rows := func(width, height int64) int64 {
		if width <= 0 || height <= 0 {
			return 0
		}
		return height * (1 + (width*bits+7)/8)
	}
	if header[12] == 0 {
		return rows(width, height)
	}
	var all int64
	for _, p := range adam7 {
		all += rows((width-p[0]+p[2]-1)/p[2], (height-p[1]+p[3]-1)/p[3])
	}
	return all
}
