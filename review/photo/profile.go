package photo

import "bytes"

const (
	// maxProfile bounds a colour profile in bytes. Profiles of cameras and screens have a few kilobytes, of printers
	// up to two or three megabytes.
	maxProfile = 4 << 20
	// maxPart is what fits into one JPEG APP2 segment (ICC.1:2022 annex B.4).
	maxPart = 65535 - 2 - len(iccPrefix) - 2
)

// iccParts gathers a colour profile that a JPEG carries in several segments, each beginning with its number from 1
// and the number of segments.
type iccParts struct {
	parts map[byte][]byte
	total byte
	bad   bool
}

func (p *iccParts) add(payload []byte) {
	if len(payload) < 2 || payload[0] == 0 || payload[0] > payload[1] {
		p.bad = true
		return
	}
	if p.parts == nil {
		p.parts, p.total = map[byte][]byte{}, payload[1]
	}
	if _, again := p.parts[payload[0]]; again || payload[1] != p.total {
		p.bad = true
		return
	}
	p.parts[payload[0]] = payload[2:]
}

func (p *iccParts) join() (profile []byte, warning Warning) {
	if p.bad || len(p.parts) != int(p.total) {
		return nil, WarnProfile
	}
	var all bytes.Buffer
	for i := 1; i <= int(p.total); i++ {
		all.Write(p.parts[byte(i)])
	}
	if all.Len() > maxProfile {
		return nil, WarnProfile
	}
	return all.Bytes(), ""
}

func splitProfile(profile []byte) [][]byte {
	var parts [][]byte
	for len(profile) > 0 {
		n := min(len(profile), maxPart)
		parts = append(parts, profile[:n])
		profile = profile[n:]
	}
	return parts
}
