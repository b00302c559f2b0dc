package photo

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"image/jpeg"
	"testing"

	"github.com/stretchr/testify/require"
)

// TestSurveySeesWhatTheDecoderSees: sizes are those of image/jpeg, image/png and x/image/webp.
func TestSurveySeesWhatTheDecoderSees(t *testing.T) {
	for name, data := range map[string][]byte{"JPEG": phoneJPEG(t, 130, 70, 6), "PNG": phonePNG(t, 130, 70, 6), "WebP": phoneWebP(130, 70, 6)} {
		s, err := Look(bytes.NewReader(data), Limits{})
		require.NoError(t, err, name)
		f, err := formatOf(data)
		require.NoError(t, err)
		config, err := f.config(bytes.NewReader(data))
		require.NoError(t, err)
		require.Equal(t, []int{config.Width, config.Height}, []int{s.Width, s.Height}, name)
	}
}

// TestEstimateCoversTheDecoder: an ordinary JPEG takes the bytes of its planes; a progressive one four more for each.
func TestEstimateCoversTheDecoder(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewYCbCr(image.Rect(0, 0, 100, 50), image.YCbCrSubsampleRatio420), nil))
	s, err := Look(bytes.NewReader(b.Bytes()), Limits{})
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(b.Bytes()))
	require.NoError(t, err)
	planes := img.(*image.YCbCr)
	require.Equal(t, int64(cap(planes.Y)+len(planes.Cb)+len(planes.Cr)), s.Decoded)
	progressive := bytes.Clone(b.Bytes())
	progressive[bytes.Index(progressive, []byte{0xff, 0xc0})+1] = markerSOF2
	p, err := Look(bytes.NewReader(progressive), Limits{})
	require.NoError(t, err)
	require.Equal(t, 5*s.Decoded, p.Decoded)
}

func TestLookRefuses(t *testing.T) {
	frame := func(marker byte, width, height uint16) []byte {
		data := plainJPEG(t, 8, 8)
		at := bytes.Index(data, []byte{0xff, 0xc0})
		data[at+1] = marker
		binary.BigEndian.PutUint16(data[at+5:], height)
		binary.BigEndian.PutUint16(data[at+7:], width)
		data[at+11] = 0x11 // no subsampling
		return data
	}
	thin := bytes.Clone(plainPNG(t, 64, 64))
	binary.BigEndian.PutUint32(thin[16:], 40_000_000)
	binary.BigEndian.PutUint32(thin[20:], 1)
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"PNG of 40,000,000 x 1":             {thin, "neither side may have more than 20000"},
		"JPEG of 65,000 x 100":              {frame(markerSOF0, 65_000, 100), "neither side may have more than 20000"},
		"progressive of 40 MP":              {frame(markerSOF2, 6300, 6300), "of memory to decode"},
		"JPEG without its end":              {plainJPEG(t, 8, 8)[:300], "ends too early"},
		"PNG without its end":               {plainPNG(t, 64, 64)[:60], "ends too early"},
		"PNG whose header is not its first": {append([]byte(pngSignature), "\x00\x00\x00\x00IDAT\x00\x00\x00\x00"...), "damaged"},
	} {
		_, err := Look(bytes.NewReader(c.data), Limits{})
		require.ErrorContains(t, err, c.says, name)
	}
}

// TestWholePNG agrees with image/png, interlaced ones included (the sizes of W3C PNG, section 8.2, for 8 x 8 are those of its
// figure of the passes: 1, 1, 2, 4, 8, 16, 32 pixels).
func TestWholePNG(t *testing.T) {
	header := func(w, h uint32, depth, colour, interlaced byte) []byte {
		b := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
		return append(b, depth, colour, 0, 0, interlaced)
	}
	require.Equal(t, int64(8*(1+8)), unpackedPNG(header(8, 8, 8, 0, 0)))
	require.Equal(t, int64(8*(1+1)), unpackedPNG(header(8, 8, 1, 0, 0)))
	require.Equal(t, int64(64+1+1+1+2+2+4+4), unpackedPNG(header(8, 8, 8, 0, 1)))
	require.Equal(t, int64(8*(1+64)), unpackedPNG(header(8, 8, 16, 6, 0)))
	for _, img := range []image.Image{image.NewGray(image.Rect(0, 0, 9, 5)), image.NewNRGBA64(image.Rect(0, 0, 9, 5)), image.NewGray16(image.Rect(0, 0, 9, 5)),
		image.NewPaletted(image.Rect(0, 0, 9, 5), color.Palette{color.Black, color.White})} {
		var b bytes.Buffer
		require.NoError(t, pngEncode(&b, img))
		require.NoError(t, wholePNG(b.Bytes()))
	}
}
