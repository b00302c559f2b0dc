package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"image"
	"image/png"
	"io"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func pngEncode(w io.Writer, img image.Image) error { return png.Encode(w, img) }

// zeroPNG announces and holds side x side zero pixels of one byte; it is a few thousandths of that in size.
func zeroPNG(t testing.TB, side int) []byte {
	var packed bytes.Buffer
	z, err := zlib.NewWriterLevel(&packed, zlib.BestSpeed)
	require.NoError(t, err)
	row := make([]byte, side+1)
	for range side {
		_, err := z.Write(row)
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	out := bytes.NewBufferString(pngSignature)
	head := binary.BigEndian.AppendUint32(nil, uint32(side))
	head = binary.BigEndian.AppendUint32(head, uint32(side))
	writePNGChunk(out, "IHDR", append(head, 8, 0, 0, 0, 0))
	writePNGChunk(out, "IDAT", packed.Bytes())
	writePNGChunk(out, "IEND", nil)
	return out.Bytes()
}

func TestReadRefuses(t *testing.T) {
	jpg, pn, wp := plainJPEG(t, 64, 64), plainPNG(t, 64, 64), plainWebP(64, 64)
	damagedPNG := bytes.Clone(pn)
	damagedPNG[len(damagedPNG)/2] ^= 0x55
	gif := []byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;")
	apng := bytes.NewBuffer(bytes.Clone(pn[:33]))
	writePNGChunk(apng, "acTL", make([]byte, 8))
	apng.Write(pn[33:])
	hugeJPEG := bytes.Clone(jpg)
	sof := bytes.Index(hugeJPEG, []byte{0xff, 0xc0})
	copy(hugeJPEG[sof+5:], []byte{0xff, 0xdc, 0xff, 0xdc}) // 65500 x 65500
	noScan := append(bytes.Clone(jpg[:bytes.Index(jpg, []byte{0xff, 0xda})]), 0xff, 0xd9)
	cut := append(bytes.Clone(jpg[:bytes.Index(jpg, []byte{0xff, 0xda})+40]), 0xff, 0xd9)

	cases := []struct {
		name   string
		data   []byte
		limits Limits
		reason string
	}{
		{"empty", nil, Limits{}, "empty"},
		{"text named .jpg", []byte("Dear curator, please find attached"), Limits{}, "not a picture of a kind that is read here"},
		{"page", []byte("<html><script>"), Limits{}, "text or web page"},
		{"GIF", gif, Limits{}, "a GIF"},
		{"HEIC cut", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00"), Limits{}, "ends too early"},
		{"GIF with a JPEG behind", append(bytes.Clone(gif), jpg...), Limits{}, "a GIF"},
		{"only a signature, JPEG", []byte("\xff\xd8\xff"), Limits{}, "ends too early"},
		{"only a signature, PNG", []byte(pngSignature), Limits{}, "ends too early"},
		{"only a signature, WebP", []byte("RIFF\x04\x00\x00\x00WEBP"), Limits{}, "damaged"},
		{"JPEG without its end", jpg[:len(jpg)-2], Limits{}, "ends too early"},
		{"JPEG cut in half", jpg[:len(jpg)/2], Limits{}, "ends too early"},
		{"JPEG cut, with an end put behind", cut, Limits{}, "damaged"},
		{"JPEG without scan", noScan, Limits{}, "damaged"},
		{"JPEG in a JPEG", append(bytes.Clone(jpg[:20]), jpg...), Limits{}, "damaged"},
		{"PNG cut", pn[:len(pn)-5], Limits{}, "ends too early"},
		{"PNG damaged", damagedPNG, Limits{}, "damaged"},
		{"WebP cut", wp[:len(wp)-20], Limits{}, "ends too early"},
		{"WebP cut, sizes corrected", riff(riffChunk{"VP8L", vp8l(64, 64)[:100]}), Limits{}, "ends too early"},
		{"WebP larger than its header says", riff(riffChunk{"VP8X", vp8xHeader(vp8xAlpha, 8, 8)}, riffChunk{"VP8L", vp8l(64, 64)}), Limits{}, "damaged"},
		{"animated PNG", apng.Bytes(), Limits{}, "animation"},
		{"animated WebP", riff(riffChunk{"VP8X", vp8xHeader(vp8xAnimation, 8, 8)}, riffChunk{"ANIM", make([]byte, 6)}), Limits{}, "animation"},
		{"too many bytes", jpg, Limits{Bytes: int64(len(jpg)) - 1}, "larger than"},
		{"too many pixels", jpg, Limits{Pixels: 64*64 - 1}, "64 x 64 pixels"},
		{"JPEG of impossible size", hugeJPEG, Limits{}, "65500 x 65500"},
		{"WebP of impossible size", riff(riffChunk{"VP8X", vp8xHeader(vp8xAlpha, 1<<24, 1<<24)}, riffChunk{"VP8L", vp8l(8, 8)}), Limits{}, "megapixels"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := Read(bytes.NewReader(c.data), c.limits)
			var refused *RefusedError
			require.ErrorAs(t, err, &refused)
			require.Contains(t, refused.Reason, c.reason)
			require.Contains(t, refused.Reason, "Nothing of it was stored")
			require.Equal(t, Picture{}, p)
		})
	}
}

func TestReadAcceptsExactlyTheLimits(t *testing.T) {
	jpg := plainJPEG(t, 64, 64)
	_, err := Read(bytes.NewReader(jpg), Limits{Bytes: int64(len(jpg)), Pixels: 64 * 64})
	require.NoError(t, err)
	require.Equal(t, Limits{Bytes: 32_000_000, Pixels: 40_000_000}, Limits{}.orDefault())
}

func TestEveryCutIsRefused(t *testing.T) {
	for mediaType, upload := range map[string][]byte{JPEG: plainJPEG(t, 24, 24), PNG: plainPNG(t, 24, 24), WebP: plainWebP(24, 24)} {
		for n := range upload {
			_, err := Read(bytes.NewReader(upload[:n]), Limits{})
			var refused *RefusedError
			require.ErrorAs(t, err, &refused, "%s cut to %d of %d", mediaType, n, len(upload))
		}
	}
}

// allocated returns the bytes that f allocated in total, freed or not: an upper bound of its memory.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

func TestBombsAreNotInflated(t *testing.T) {
	bomb := zeroPNG(t, 30_000) // 900 million pixels in a few megabytes
	require.Less(t, len(bomb), 8<<20)
	used := allocated(func() {
		_, err := Read(bytes.NewReader(bomb), Limits{})
		require.ErrorContains(t, err, "30000 x 30000 pixels")
	})
	require.Less(t, used, uint64(48<<20))

	plain := plainPNG(t, 16, 16)
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := io.CopyN(z, zeros{}, 256<<20)
	require.NoError(t, err)
	require.NoError(t, z.Close())
	profile := bytes.NewBuffer(bytes.Clone(plain[:33]))
	writePNGChunk(profile, "iCCP", append([]byte("x\x00\x00"), packed.Bytes()...))
	profile.Write(plain[33:])
	used = allocated(func() {
		p, err := Read(profile, Limits{})
		require.NoError(t, err)
		require.Equal(t, []Warning{WarnProfile}, p.Warnings)
		require.NotContains(t, string(p.Original), "iCCP")
	})
	require.Less(t, used, uint64(48<<20))
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

func TestOversizeStreamIsNotReadToItsEnd(t *testing.T) {
	r := &counter{r: io.MultiReader(strings.NewReader("\xff\xd8\xff"), zeros{})}
	_, err := Read(r, Limits{Bytes: 1 << 20})
	require.ErrorContains(t, err, "larger than 1.049 MB")
	require.LessOrEqual(t, r.n, 2<<20)
}

type counter struct {
	r io.Reader
	n int
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += n
	return n, err
}

func FuzzRead(f *testing.F) {
	for _, upload := range phones(f, 12, 8, 6) {
		f.Add(upload)
	}
	f.Add(plainWebP(12, 8))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Read(bytes.NewReader(data), Limits{Bytes: 1 << 20, Pixels: 1 << 16})
		if err != nil {
			var refused *RefusedError
			require.ErrorAs(t, err, &refused)
			return
		}
		require.NotEmpty(t, p.Thumb)
		again, err := Read(bytes.NewReader(p.Original), Limits{})
		require.NoError(t, err, fmt.Sprintf("%x", data))
		require.Equal(t, p.SHA256, again.SHA256)
	})
}
