package photo

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"testing"

	"github.com/kovidgoyal/imaging"
	"github.com/stretchr/testify/require"
)

// shapes is a made-up picture of soft spots; another seed is another picture.
func shapes(seed, w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			u, v := float64(x)/float64(w), float64(y)/float64(h)
			s := float64(seed)
			tone := 128 + 60*math.Sin(7*u+s)*math.Cos(5*v+2*s) + 50*math.Sin(11*u*v*(1+s/3)+s)
			img.SetNRGBA(x, y, color.NRGBA{uint8(tone), uint8(tone * 0.9), uint8(tone * 0.7), 255})
		}
	}
	return img
}

func looked(t *testing.T, img image.Image, quality int) Likeness {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}))
	p, err := Read(&b, Limits{})
	require.NoError(t, err)
	return p.Look
}

func TestLooksOfTheSamePicture(t *testing.T) {
	var all []Likeness
	for seed := range 6 {
		first := looked(t, shapes(seed, 1200, 800), 92)
		require.Len(t, string(first), 32)
		for name, again := range map[string]Likeness{
			"smaller":        looked(t, shapes(seed, 600, 400), 92),
			"of low quality": looked(t, shapes(seed, 1200, 800), 35),
			"brighter":       looked(t, imaging.AdjustBrightness(shapes(seed, 1200, 800), 8), 92),
		} {
			require.LessOrEqual(t, first.Differs(again), Nearly, "%d %s", seed, name)
		}
		for _, other := range all {
			require.Greater(t, first.Differs(other), Nearly)
		}
		all = append(all, first)
	}
	require.Empty(t, looked(t, image.NewGray(image.Rect(0, 0, 100, 100)), 90), "nothing to be told by")
	require.Equal(t, 128, Likeness("").Differs(all[0]))
	require.Equal(t, [4]int64{0x0102, 0x0304, 0x0506, 0x0708}, Likeness("01020304050607080000000000000000").Parts())
}
