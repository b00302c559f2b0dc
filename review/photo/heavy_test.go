package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"os"
	"testing"
	"time"

	"github.com/bep/imagemeta"
	"github.com/kovidgoyal/imaging"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/tiff"
)

func sample(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	require.NoError(t, err)
	return data
}

func tiffOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, tiff.Encode(&out, img, &tiff.Options{Compression: tiff.Deflate}))
	return out.Bytes()
}

// redCorner is the picture that the files of testdata show.
func redCorner() *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, 96, 64))
	for i := range 96 * 64 {
		c := color.NRGBA{200, 40, 30, 255}
		if i%96 < 48 && i/96 < 32 {
			c = color.NRGBA{240, 250, 240, 255}
		}
		img.SetNRGBA(i%96, i/96, c)
	}
	return img
}

// TestHeavyFormats: each file is kept as a JPEG that shows what another program has put into it, upright and in its colours.
func TestHeavyFormats(t *testing.T) {
	wide := image.NewNRGBA64(image.Rect(0, 0, 96, 64))
	for y := range 64 {
		for x := range 96 {
			wide.Set(x, y, redCorner().At(x, y))
		}
	}
	grey := image.NewGray16(image.Rect(0, 0, 96, 64))
	for i := range 96 * 64 {
		if i%96 < 48 && i/96 < 32 {
			grey.SetGray16(i%96, i/96, color.Gray16{0xf5f5})
		}
	}
	cases := map[string]struct {
		data   []byte
		size   image.Point
		bright image.Point // the quarter that is bright
		name   string
	}{
		"HEIC":             {sample(t, "corner.heic"), image.Pt(96, 64), image.Pt(0, 0), nameHEIC},
		"HEIC of a film":   {sample(t, "corner-709-limited.heic"), image.Pt(96, 64), image.Pt(0, 0), nameHEIC},
		"HEIC of a phone":  {sample(t, "phone.heic"), image.Pt(96, 64), image.Pt(0, 0), nameHEIC},
		"AVIF":             {sample(t, "corner-irot0.avif"), image.Pt(96, 64), image.Pt(0, 0), nameAVIF},
		"AVIF irot 1":      {sample(t, "corner-irot1.avif"), image.Pt(64, 96), image.Pt(0, 1), nameAVIF},
		"AVIF irot 2":      {sample(t, "corner-irot2.avif"), image.Pt(96, 64), image.Pt(1, 1), nameAVIF},
		"AVIF irot 3":      {sample(t, "corner-irot3.avif"), image.Pt(64, 96), image.Pt(1, 0), nameAVIF},
		"AVIF imir 0":      {sample(t, "corner-imir0.avif"), image.Pt(96, 64), image.Pt(0, 1), nameAVIF},
		"AVIF imir 1":      {sample(t, "corner-imir1.avif"), image.Pt(96, 64), image.Pt(1, 0), nameAVIF},
		"AVIF irot 1 imir": {sample(t, "corner-irot1-imir0.avif"), image.Pt(64, 96), image.Pt(0, 0), nameAVIF},
		"AVIF irot 3 imir": {sample(t, "corner-irot3-imir1.avif"), image.Pt(64, 96), image.Pt(0, 0), nameAVIF},
		"TIFF":             {tiffOf(t, redCorner()), image.Pt(96, 64), image.Pt(0, 0), nameTIFF},
		"TIFF of 16 bits":  {tiffOf(t, wide), image.Pt(96, 64), image.Pt(0, 0), nameTIFF},
		"TIFF in grey":     {tiffOf(t, grey), image.Pt(96, 64), image.Pt(0, 0), nameTIFF},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			survey, err := Look(bytes.NewReader(c.data), Limits{})
			require.NoError(t, err)
			require.Equal(t, c.name, survey.Heavy)
			p, err := Read(bytes.NewReader(c.data), Limits{})
			require.NoError(t, err)
			require.Equal(t, JPEG, p.Type)
			require.Equal(t, c.size, image.Pt(p.Width, p.Height))
			kept, _ := p.Warnings[len(p.Warnings)-1].Cut()
			require.Equal(t, WarnKeptAsJPEG, kept)
			shown, err := jpeg.Decode(bytes.NewReader(p.Display))
			require.NoError(t, err)
			require.Equal(t, c.size, shown.Bounds().Size())
			require.Equal(t, c.bright, brightQuarter(shown))
			if name != "TIFF in grey" {
				opposite := image.Pt((1-c.bright.X)*c.size.X/2+c.size.X/4, (1-c.bright.Y)*c.size.Y/2+c.size.Y/4)
				requireColour(t, color.NRGBA{200, 40, 30, 255}, shown.At(opposite.X, opposite.Y))
			}
			for _, secret := range []string{"SECRET", "GPS", "2026", "xmpmeta"} {
				require.NotContains(t, string(p.Original), secret)
			}
			again, err := Read(bytes.NewReader(p.Original), Limits{})
			require.NoError(t, err)
			require.Equal(t, p.SHA256, again.SHA256, "what is kept is read again as it is")
			require.Equal(t, c.size, image.Pt(again.Width, again.Height))
		})
	}
}

func requireColour(t *testing.T, want, got color.Color) {
	t.Helper()
	wr, wg, wb, _ := want.RGBA()
	gr, gg, gb, _ := got.RGBA()
	for _, pair := range [][2]uint32{{wr, gr}, {wg, gg}, {wb, gb}} {
		require.InDelta(t, float64(pair[0]>>8), float64(pair[1]>>8), 8, "%v, not %v", got, want)
	}
}

// TestHeavyFormatsOfferPlaceAndTime as others do.
func TestHeavyFormatsOfferPlaceAndTime(t *testing.T) {
	for _, name := range []string{"phone.heic", "phone.avif"} {
		p, err := Read(bytes.NewReader(sample(t, name)), Limits{})
		require.NoError(t, err)
		require.NotNil(t, p.Place, name)
		require.InDelta(t, -48.1375, p.Place.Latitude, 1e-4)
		require.InDelta(t, -11.575, p.Place.Longitude, 1e-4)
		require.True(t, p.Taken.Equal(time.Date(2026, 5, 17, 14, 3, 9, 0, time.UTC)))
		require.Empty(t, tagsIn(t, p.Original, imagemeta.JPEG))
	}
}

// TestOrientationsOfHEIF: turned anticlockwise and then mirrored (ISO/IEC 23008-12, sections 6.5.10 and 6.5.12) comes to what EXIF calls
// by one number.
func TestOrientationsOfHEIF(t *testing.T) {
	asIs := func(img image.Image) image.Image { return img }
	turns := []func(image.Image) image.Image{asIs, imaging.Rotate90, imaging.Rotate180, imaging.Rotate270}
	mirrors := []func(image.Image) image.Image{asIs, imaging.FlipV, imaging.FlipH}
	pixels := image.NewNRGBA(image.Rect(0, 0, 3, 2))
	for i := range pixels.Pix {
		pixels.Pix[i] = byte(i*7) | byte(i%4/3*255)
	}
	for turned, turning := range turns {
		for mirrored, mirroring := range mirrors {
			want := imaging.Clone(mirroring(turning(pixels)))
			got := imaging.Clone(turn(pixels, heifOrientations[turned][mirrored]))
			require.Equal(t, want, got, "irot %d, imir %d", turned, mirrored-1)
		}
	}
}

// TestMatrixOfFilms: a colour that is written by BT.709 in the limited range is the same colour by JPEG's own (ITU-T H.273).
func TestMatrixOfFilms(t *testing.T) {
	for _, m := range []matrix{{1, true}, {1, false}, {9, true}, {6, true}, {6, false}, {2, false}} {
		for _, c := range []color.NRGBA{{200, 40, 30, 255}, {20, 90, 200, 255}, {240, 250, 240, 255}, {0, 0, 0, 255}} {
			of, ok := weights[m.number]
			if !ok {
				of = weights[ofJPEG]
			}
			r, g, b := float64(c.R), float64(c.G), float64(c.B)
			y := of[0]*r + (1-of[0]-of[1])*g + of[1]*b
			cb, cr := (b-y)/(2-2*of[1]), (r-y)/(2-2*of[0])
			if m.limited {
				y, cb, cr = 16+y*219/255, cb*224/255, cr*224/255
			}
			img := image.NewYCbCr(image.Rect(0, 0, 1, 1), image.YCbCrSubsampleRatio444)
			img.Y[0], img.Cb[0], img.Cr[0] = byte(math.Round(y)), byte(math.Round(cb+128)), byte(math.Round(cr+128))
			m.undo(img)
			requireColour(t, c, img.At(0, 0))
		}
	}
}

// TestHeavyFormatsThatAreRefused say why.
func TestHeavyFormatsThatAreRefused(t *testing.T) {
	heic, plain := sample(t, "corner.heic"), tiffOf(t, redCorner())
	patched := func(tag uint16, value uint32) []byte {
		data := bytes.Clone(plain)
		at := binary.LittleEndian.Uint32(data[4:])
		for i := range int(binary.LittleEndian.Uint16(data[at:])) {
			entry := data[int(at)+2+12*i:]
			if binary.LittleEndian.Uint16(entry) == tag {
				binary.LittleEndian.PutUint32(entry[4:], 1)
				binary.LittleEndian.PutUint32(entry[8:], value)
			}
		}
		return data
	}
	brand := bytes.Clone(heic)
	copy(brand[8:], "qt  ")
	noMeta := bytes.Replace(bytes.Clone(heic), []byte("meta"), []byte("skip"), 1)
	huge := bytes.Clone(heic)
	ispe := bytes.Index(huge, []byte("ispe"))
	binary.BigEndian.PutUint32(huge[ispe+8:], 60_000)
	other := bytes.ReplaceAll(bytes.Clone(heic), []byte("hvc1"), []byte("j2k1"))
	for name, c := range map[string]struct {
		data   []byte
		reason string
	}{
		"HEIC cut":                  {heic[:len(heic)-20], "ends too early"},
		"HEIC without a picture":    {noMeta, "film or a sequence"},
		"film":                      {brand, "a video"},
		"HEIC of 60,000 pixels":     {huge, "neither side"},
		"other coding":              {other, "coded in a way"},
		"high dynamic range":        {sample(t, "pq.avif"), "HDR"},
		"TIFF cut":                  {plain[:len(plain)-10], "ends too early"},
		"TIFF compressed as JPEG":   {patched(tagCompression, 7), "compressed"},
		"TIFF in four inks":         {patched(tagPhotometric, 5), "four inks"},
		"TIFF of 60,000 pixels":     {patched(tagWidth, 60_000), "neither side"},
		"camera's raw":              {[]byte("II*\x00\x10\x00\x00\x00CR\x02\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00"), "raw"},
		"TIFF that begins nowhere":  {[]byte("II*\x00\xff\xff\xff\x7f\x00\x00\x00\x00"), "ends too early"},
		"TIFF beyond its own size":  {[]byte("II+\x00\x08\x00\x00\x00\x00\x00\x00\x00"), "beyond 4 GB"},
		"TIFF with nothing in it":   {[]byte("MM\x00*\x00\x00\x00\x08\x00\x00\x00\x00\x00\x00"), "damaged"},
		"HEIC that says it is huge": {append([]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "\x00\x00\x00\x01meta\xff\xff\xff\xff\xff\xff\xff\xff"...), "ends too early"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read(bytes.NewReader(c.data), Limits{})
			var refused *RefusedError
			require.ErrorAs(t, err, &refused)
			require.Contains(t, refused.Reason, c.reason)
			require.Contains(t, refused.Reason, "Nothing of it was stored")
		})
	}
}

// TestSeveralPages: the first one is taken, and it is said.
func TestSeveralPages(t *testing.T) {
	data := tiffOf(t, redCorner())
	at := int(binary.LittleEndian.Uint32(data[4:]))
	entries := int(binary.LittleEndian.Uint16(data[at:]))
	binary.LittleEndian.PutUint32(data[at+2+12*entries:], uint32(at)) // the same page once more
	p, err := Read(bytes.NewReader(data), Limits{})
	require.NoError(t, err)
	require.Equal(t, WarnPages, p.Warnings[0])
}

// FuzzSurvey: whatever headers say, nothing is decoded and nothing much is held.
func FuzzSurvey(f *testing.F) {
	for _, name := range []string{"corner.heic", "phone.heic", "corner-irot1-imir0.avif", "pq.avif"} {
		f.Add(sample(f, name))
	}
	f.Add(tiffOf(f, redCorner()))
	f.Add(phoneJPEG(f, 16, 16, 6))
	f.Add(phonePNG(f, 16, 16, 6))
	f.Add(phoneWebP(16, 16, 6))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Look(bytes.NewReader(data), Limits{})
		var refused *RefusedError
		require.True(t, err == nil || errors.As(err, &refused), err)
		if err == nil {
			require.LessOrEqual(t, int64(s.Width)*int64(s.Height), DefaultLimits.Pixels)
		}
	})
}

// TestHalved: averages of squares, in the picture's own memory, whatever its colours are sampled at.
func TestHalved(t *testing.T) {
	for _, ratio := range []image.YCbCrSubsampleRatio{image.YCbCrSubsampleRatio444, image.YCbCrSubsampleRatio422, image.YCbCrSubsampleRatio420, image.YCbCrSubsampleRatio440, image.YCbCrSubsampleRatio411, image.YCbCrSubsampleRatio410} {
		for _, size := range []image.Point{{64, 48}, {63, 47}} {
			img := image.NewYCbCr(image.Rectangle{Max: size}, ratio)
			for y := range size.Y { // slopes: an average of four is the value in their middle
				for x := range size.X {
					img.Y[img.YOffset(x, y)] = byte(2*x + y)
					img.Cb[img.COffset(x, y)], img.Cr[img.COffset(x, y)] = byte(60+x), byte(200-y)
				}
			}
			got := halved(img, 20).(*image.YCbCr)
			require.Equal(t, image.Pt((size.X+1)/2, (size.Y+1)/2), got.Rect.Size(), ratio)
			for y := range size.Y / 2 {
				for x := range size.X / 2 {
					c := got.YCbCrAt(x, y)
					require.InDelta(t, float64(4*x+1+2*y)+0.5, float64(c.Y), 1)
					require.InDelta(t, float64(60+2*x), float64(c.Cb), 4, ratio)
					require.InDelta(t, float64(200-2*y), float64(c.Cr), 4, ratio)
				}
			}
		}
	}
}
