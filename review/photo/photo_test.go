package photo

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/bep/imagemeta"
	"github.com/stretchr/testify/require"
)

func phones(t testing.TB, w, h int, orientation uint16) map[string][]byte {
	return map[string][]byte{
		JPEG: phoneJPEG(t, w, h, orientation), PNG: phonePNG(t, w, h, orientation), WebP: phoneWebP(w, h, orientation),
	}
}

// tagsIn lists every tag that an independent reader finds in a file.
func tagsIn(t *testing.T, data []byte, f imagemeta.ImageFormat) map[string]any {
	found := map[string]any{}
	_, err := imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(data), ImageFormat: f, Sources: imagemeta.EXIF | imagemeta.IPTC | imagemeta.XMP,
		ShouldHandleTag: func(imagemeta.TagInfo) bool { return true },
		HandleTag:       func(i imagemeta.TagInfo) error { found[i.Tag] = i.Value; return nil },
	})
	require.NoError(t, err)
	return found
}

func TestReadTakesOutPlaceAndEverythingElse(t *testing.T) {
	formats := map[string]imagemeta.ImageFormat{JPEG: imagemeta.JPEG, PNG: imagemeta.PNG, WebP: imagemeta.WebP}
	for mediaType, upload := range phones(t, 60, 40, 6) {
		t.Run(mediaType, func(t *testing.T) {
			require.Contains(t, tagsIn(t, upload, formats[mediaType]), "GPSLatitude", "the input must carry a place")
			p, err := Read(bytes.NewReader(upload), Limits{})
			require.NoError(t, err)
			require.Equal(t, mediaType, p.Type)
			require.Equal(t, map[string]any{"Orientation": uint16(6)}, tagsIn(t, p.Original, formats[mediaType]))
			require.Empty(t, tagsIn(t, p.Display, imagemeta.JPEG))
			require.Empty(t, tagsIn(t, p.Thumb, imagemeta.JPEG))
			for _, kept := range [][]byte{p.Original, p.Display, p.Thumb} {
				for _, secret := range []string{secretMaker, secretComment, "GPS", "xmpmeta", "SECRET", "WGS-84", "2026:05", "ftyp"} {
					require.NotContains(t, string(kept), secret)
				}
			}
			sum := sha256.Sum256(p.Original)
			require.Equal(t, hex.EncodeToString(sum[:]), p.SHA256)
			require.Empty(t, p.Warnings)

			again, err := Read(bytes.NewReader(p.Original), Limits{})
			require.NoError(t, err)
			require.Equal(t, p.SHA256, again.SHA256, "reading a kept original again changes nothing")
			require.Nil(t, again.Place)
		})
	}
}

func TestReadOffersPlaceAndTime(t *testing.T) {
	for mediaType, upload := range phones(t, 60, 40, 1) {
		t.Run(mediaType, func(t *testing.T) {
			p, err := Read(bytes.NewReader(upload), Limits{})
			require.NoError(t, err)
			require.NotNil(t, p.Place)
			require.InDelta(t, -(48 + 8.0/60 + 15.0/3600), p.Place.Latitude, 1e-9)
			require.InDelta(t, -(11 + 34.0/60 + 30.0/3600), p.Place.Longitude, 1e-9)
			require.InDelta(t, 512.5, *p.Place.Altitude, 1e-9)
			require.InDelta(t, 4, *p.Place.Uncertainty, 1e-9)
			require.Equal(t, "WGS-84", p.Place.Datum)
			require.True(t, p.Taken.Equal(time.Date(2026, 5, 17, 12, 3, 9, 0, time.UTC)), p.Taken)
			require.NotContains(t, string(p.Original), "Exif", "an upright picture needs no EXIF at all")
		})
	}
}

func TestReadFindsPlaceInXMPAlone(t *testing.T) {
	plain := plainJPEG(t, 16, 16)
	var out bytes.Buffer
	out.Write(plain[:2])
	writeSegment(&out, markerAPP1, []byte("http://ns.adobe.com/xap/1.0/\x00"+secretXMP))
	out.Write(plain[2:])
	p, err := Read(&out, Limits{})
	require.NoError(t, err)
	require.NotNil(t, p.Place)
	require.InDelta(t, 48+8.25/60, p.Place.Latitude, 1e-9)
	require.InDelta(t, 11+34.5/60, p.Place.Longitude, 1e-9)
}

// Where the first row and the first column of the stored picture are seen, for each value of the orientation tag,
// is the table of EXIF 2.32, tag 274: 1 top left, 2 top right, 3 bottom right, 4 bottom left, 5 left top, 6 right top,
// 7 right bottom, 8 left bottom. The bright corner of the test picture is where both meet.
func TestReadTurnsUpright(t *testing.T) {
	bright := map[uint16]image.Point{1: {0, 0}, 2: {1, 0}, 3: {1, 1}, 4: {0, 1}, 5: {0, 0}, 6: {1, 0}, 7: {1, 1}, 8: {0, 1}}
	for orientation, want := range bright {
		for mediaType, upload := range phones(t, 60, 40, orientation) {
			t.Run(fmt.Sprint(orientation, mediaType), func(t *testing.T) {
				p, err := Read(bytes.NewReader(upload), Limits{})
				require.NoError(t, err)
				w, h := 60, 40
				if orientation > 4 {
					w, h = h, w
				}
				require.Equal(t, []int{w, h}, []int{p.Width, p.Height})
				for _, data := range [][]byte{p.Display, p.Thumb} {
					img, err := jpeg.Decode(bytes.NewReader(data))
					require.NoError(t, err)
					require.Equal(t, image.Rect(0, 0, w, h), img.Bounds())
					require.Equal(t, want, brightQuarter(img))
				}
			})
		}
	}
}

func brightQuarter(img image.Image) image.Point {
	b := img.Bounds()
	for y := range 2 {
		for x := range 2 {
			if _, g, _, _ := img.At(b.Dx()*(1+2*x)/4, b.Dy()*(1+2*y)/4).RGBA(); g > 0x8000 {
				return image.Pt(x, y)
			}
		}
	}
	return image.Pt(-1, -1)
}

func TestReadShrinks(t *testing.T) {
	p, err := Read(bytes.NewReader(plainJPEG(t, 2000, 1000)), Limits{})
	require.NoError(t, err)
	for data, want := range map[string]image.Point{string(p.Display): {1600, 800}, string(p.Thumb): {320, 160}} {
		c, err := jpeg.DecodeConfig(strings.NewReader(data))
		require.NoError(t, err)
		require.Equal(t, want, image.Pt(c.Width, c.Height))
	}
}

func TestReadVeryThinPicture(t *testing.T) {
	p, err := Read(bytes.NewReader(plainPNG(t, 9000, 1)), Limits{})
	require.NoError(t, err)
	c, err := jpeg.DecodeConfig(bytes.NewReader(p.Thumb))
	require.NoError(t, err)
	require.Equal(t, []int{320, 1}, []int{c.Width, c.Height})
}

func TestReadKeepsPixelsOfTheOriginal(t *testing.T) {
	for mediaType, upload := range phones(t, 60, 40, 1) {
		p, err := Read(bytes.NewReader(upload), Limits{})
		require.NoError(t, err)
		f, err := formatOf(upload)
		require.NoError(t, err)
		before, err := f.decode(bytes.NewReader(upload))
		require.NoError(t, err, mediaType)
		after, err := f.decode(bytes.NewReader(p.Original))
		require.NoError(t, err, mediaType)
		require.Equal(t, before, after, "the rewriting is lossless: %s", mediaType)
	}
}

func TestReadTransparentIsWhite(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, pngEncode(&out, image.NewNRGBA(image.Rect(0, 0, 40, 40))))
	p, err := Read(&out, Limits{})
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(p.Display))
	require.NoError(t, err)
	r, g, b, _ := img.At(20, 20).RGBA()
	require.Greater(t, min(r, g, b), uint32(0xf000))
}

func TestReadErrorOfTheStreamIsNoRefusal(t *testing.T) {
	_, err := Read(iotest.TimeoutReader(iotest.OneByteReader(bytes.NewReader(plainJPEG(t, 8, 8)))), Limits{})
	require.ErrorIs(t, err, iotest.ErrTimeout)
	var refused *RefusedError
	require.False(t, errors.As(err, &refused))
}
