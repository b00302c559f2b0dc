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
				result.warnings = append(result.warnings, profileWarning)
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
