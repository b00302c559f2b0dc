package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"github.com/bep/imagemeta"
)

// upright is the EXIF orientation of a picture that is stored as it is to be seen (EXIF 2.32, tag 274).
const upright = 1

// metadataTimeout bounds the reading of metadata, which is the sender's to write.
const metadataTimeout = 2 * time.Second

// metadata is what an upload says about itself.
type metadata struct {
	orientation int // 1 to 8, EXIF 2.32 tag 274
	place       *Place
	taken       time.Time
	warnings    []Warning
}

// wanted are the tags that are looked at; the others are not even decoded.
var wanted = map[string]bool{
	"Orientation": true, "DateTimeOriginal": true, "OffsetTimeOriginal": true,
	"GPSLatitude": true, "GPSLatitudeRef": true, "GPSLongitude": true, "GPSLongitudeRef": true,
	"GPSAltitude": true, "GPSAltitudeRef": true, "GPSHPositioningError": true, "GPSMapDatum": true,
}

func readMetadata(data []byte, f format) metadata {
	exif, xmp := map[string]any{}, map[string]any{}
	_, err := imagemeta.Decode(imagemeta.Options{
		R:           bytes.NewReader(data),
		ImageFormat: f.meta,
		Sources:     imagemeta.EXIF | imagemeta.XMP,
		Timeout:     metadataTimeout,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool {
			return wanted[t.Tag] && !strings.HasPrefix(t.Namespace, "IFD1")
		},
		HandleTag: func(t imagemeta.TagInfo) error {
			into := exif
			if t.Source == imagemeta.XMP {
				into = xmp
			}
			if _, again := into[t.Tag]; !again {
				into[t.Tag] = t.Value
			}
			return nil
		},
	})
	m := metadata{orientation: orientationOf(exif), taken: takenOf(exif)}
	if m.place = placeOf(exif); m.place == nil {
		m.place = placeOf(xmp)
	}
	if err != nil && !errors.Is(err, imagemeta.ErrStopWalking) {
		m.warnings = append(m.warnings, WarnMetadata)
	}
	return m
}

func orientationOf(tags map[string]any) int {
	v, ok := number(tags["Orientation"])
	if !ok || v != math.Trunc(v) || v < 1 || v > 8 {
		return upright
	}
	return int(v)
}

func takenOf(tags map[string]any) time.Time {
	clock, _ := tags["DateTimeOriginal"].(string)
	clock = strings.TrimRight(clock, " \x00")
	if zone, ok := tags["OffsetTimeOriginal"].(string); ok {
		if t, err := time.Parse("2006:01:02 15:04:05-07:00", clock+strings.TrimRight(zone, " \x00")); err == nil {
			return t
		}
	}
	// Cameras without a set clock write zeros or spaces: no date.
	t, err := time.Parse("2006:01:02 15:04:05", clock)
	if err != nil {
		return time.Time{}
	}
	return t
}

func placeOf(tags map[string]any) *Place {
	lat, okLat := degrees(tags["GPSLatitude"], tags["GPSLatitudeRef"], "S")
	lon, okLon := degrees(tags["GPSLongitude"], tags["GPSLongitudeRef"], "W")
	if !okLat || !okLon || math.Abs(lat) > 90 || math.Abs(lon) > 180 {
		return nil
	}
	// Cameras without a fix write zero for both; nobody pins beetles in the Gulf of Guinea.
	if lat == 0 && lon == 0 {
		return nil
	}
	p := &Place{Latitude: lat, Longitude: lon}
	if alt, ok := number(tags["GPSAltitude"]); ok {
		if below, ok := number(tags["GPSAltitudeRef"]); ok && below == 1 {
			alt = -alt
		}
		p.Altitude = &alt
	}
	if e, ok := number(tags["GPSHPositioningError"]); ok && e >= 0 {
		p.Uncertainty = &e
	}
	if datum, ok := tags["GPSMapDatum"].(string); ok {
		p.Datum = strings.TrimSpace(strings.Trim(datum, "\x00"))
	}
	return p
}

// degrees reads decimal degrees with a separate hemisphere (EXIF) or the text form "DD,MM.mmN" (XMP, ISO 16684-1).
func degrees(value, hemisphere any, negative string) (float64, bool) {
	if text, ok := value.(string); ok {
		return xmpDegrees(text)
	}
	v, ok := number(value)
	if !ok {
		return 0, false
	}
	if ref, ok := hemisphere.(string); ok && strings.HasPrefix(ref, negative) {
		v = -v
	}
	return v, true
}

func xmpDegrees(text string) (float64, bool) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, false
	}
	sign := map[byte]float64{'N': 1, 'E': 1, 'S': -1, 'W': -1}[text[len(text)-1]]
	if sign == 0 {
		return 0, false
	}
	var sum float64
	unit := 1.0
	for _, part := range strings.Split(text[:len(text)-1], ",") {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil || v < 0 || math.IsInf(v, 0) || math.IsNaN(v) || unit > 3600 {
			return 0, false
		}
		sum += v / unit
		unit *= 60
	}
	return sign * sum, true
}

// number reads the numeric kinds that the metadata library returns; not finite is no number.
func number(value any) (float64, bool) {
	var v float64
	switch n := value.(type) {
	case float64:
		v = n
	case float32:
		v = float64(n)
	case imagemeta.Rat[uint32]:
		v = n.Float64()
	case imagemeta.Rat[int32]:
		v = n.Float64()
	case int, int8, int16, int32, int64, uint8, uint16, uint32, uint64:
		parsed, err := strconv.ParseFloat(fmt.Sprint(n), 64)
		if err != nil {
			return 0, false
		}
		v = parsed
	default:
		return 0, false
	}
	return v, !math.IsNaN(v) && !math.IsInf(v, 0)
}

// orientationEXIF is a TIFF block with the orientation as its only entry (EXIF 2.32 section 4.6.2).
func orientationEXIF(orientation int) []byte {
	const orientationTag, short = 0x0112, 3
	le := binary.LittleEndian
	b := []byte("II*\x00")
	b = le.AppendUint32(b, 8) // offset of the first directory
	b = le.AppendUint16(b, 1) // entries
	b = le.AppendUint16(b, orientationTag)
	b = le.AppendUint16(b, short)
	b = le.AppendUint32(b, 1) // values
	b = le.AppendUint32(b, uint32(orientation))
	return le.AppendUint32(b, 0) // no further directory
}
