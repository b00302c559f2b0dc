package drawing

import (
	"fmt"
	"image"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// smallest is the body length in millimetres from which a beetle is pinned through; smaller ones are glued to a card
// (common practice, no source).
const smallest = 5

// cardMargin is how far the card reaches beyond the beetle, in body lengths.
const cardMargin = 0.05

var ink = rgba{0.16, 0.15, 0.14, 1}

// ground is a sheet of pale card with a little grain and a soft fall of light.
func ground(w, h int, seed int64) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	salt := uint64(seed)*31 + 7
	warm := 0.006 * lattice(seed, 1, 99)
	for y := range h {
		for x := range w {
			fx, fy := float64(x)/float64(w)-0.42, float64(y)/float64(h)-0.4
			k := 0.945 - 0.11*(fx*fx+fy*fy)
			k += float64(int8(scramble(uint64(y*w+x)^salt))) / 128 * 0.007
			at := img.PixOffset(x, y)
			img.Pix[at] = byte(255 * (k + 0.012 + warm))
			img.Pix[at+1] = byte(255 * k)
			img.Pix[at+2] = byte(255 * (k - 0.035 - warm))
			img.Pix[at+3] = 255
		}
	}
	return img
}

// shadowScale is how much coarser than the picture the shadow is worked out.
const shadowScale = 6

func (c *canvas) castShadow(draw func()) {
	scale, origin := c.scale, c.origin
	b := c.dst.Bounds()
	c.shadow = image.NewAlpha(image.Rect(0, 0, b.Dx()/shadowScale+1, b.Dy()/shadowScale+1))
	c.scale, c.origin, c.pass = scale/shadowScale, origin.mul(1.0/shadowScale), shadowing
	draw()
	c.scale, c.origin = scale, origin
	reach := float64(b.Dy()) / 1200
	near := blurred(c.shadow, max(int(2*reach), 1))
	far := blurred(near, max(int(5*reach), 1))
	dark := image.NewAlpha(c.shadow.Rect)
	dx, dy := 16*reach/shadowScale, 20*reach/shadowScale
	for y := range dark.Rect.Dy() {
		for x := range dark.Rect.Dx() {
			fx, fy := float64(x)+0.5, float64(y)+0.5
			s := 0.42*sample(near, fx-dx*0.5, fy-dy*0.5) + 0.34*sample(far, fx-dx*1.6, fy-dy*1.6)
			dark.Pix[y*dark.Stride+x] = uint8(255 * s)
		}
	}
	c.darken(dark)
}

// darken lays a coarse shadow over the picture, skipping the large parts where there is none.
func (c *canvas) darken(shadow *image.Alpha) {
	b := c.dst.Bounds()
	col := rgba{0.20, 0.17, 0.16, 1}
	for y := range b.Dy() {
		for x := range b.Dx() {
			fx, fy := (float64(x)+0.5)/shadowScale, (float64(y)+0.5)/shadowScale
			if i := int(fy)*shadow.Stride + int(fx); !nearShadow(shadow, i) {
				continue
			}
			blend(c.dst, x, y, col, sample(shadow, fx, fy))
		}
	}
}

// nearShadow tells whether the cell i of a mask or one beside it is not clear.
func nearShadow(m *image.Alpha, i int) bool {
	s := m.Stride
	if i < s+1 || i+s+1 >= len(m.Pix) {
		return true
	}
	p := m.Pix
	return p[i]|p[i-1]|p[i+1]|p[i-s]|p[i+s]|p[i-s-1]|p[i-s+1]|p[i+s-1]|p[i+s+1] != 0
}

// blurred is three box blurs, close to a Gaussian.
func blurred(src *image.Alpha, r int) *image.Alpha {
	out := image.NewAlpha(src.Rect)
	copy(out.Pix, src.Pix)
	w, h := src.Rect.Dx(), src.Rect.Dy()
	line := make([]uint8, max(w, h))
	for range 3 {
		for y := range h {
			boxLine(out.Pix[y*w:], 1, w, r, line)
		}
		for x := range w {
			boxLine(out.Pix[x:], w, h, r, line)
		}
	}
	return out
}

func boxLine(pix []uint8, step, n, r int, line []uint8) {
	for i := range n {
		line[i] = pix[i*step]
	}
	sum := 0
	for i := -r; i <= r; i++ {
		sum += int(line[min(max(i, 0), n-1)])
	}
	for i := range n {
		pix[i*step] = uint8(sum / (2*r + 1))
		sum += int(line[min(i+r+1, n-1)]) - int(line[max(i-r, 0)])
	}
}

// sample reads a mask between its pixels, 0 to 1.
func sample(m *image.Alpha, x, y float64) float64 {
	w, h := m.Rect.Dx(), m.Rect.Dy()
	x, y = clamp(x-0.5, 0, float64(w-2)), clamp(y-0.5, 0, float64(h-2))
	i, j := int(x), int(y)
	fx, fy := x-float64(i), y-float64(j)
	at := j*m.Stride + i
	p := m.Pix
	return lerp(lerp(float64(p[at]), float64(p[at+1]), fx), lerp(float64(p[at+m.Stride]), float64(p[at+m.Stride+1]), fx), fy) / 255
}

// card lies under a beetle that is too small for a pin.
func (c *canvas) card(p *build) {
	if p.LengthMM >= smallest {
		return
	}
	b := c.bounds.pad(cardMargin)
	corners := []pt{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
	was, marks, bounds := c.pass, c.marks, c.bounds
	c.marks = map[string]*box{}
	c.castShadow(func() { c.fill(corners, flat(ink)) })
	c.pass = painting
	c.fill(corners, func(q pt) rgba {
		k := 0.985 + 0.006*noise(q.x*90, q.y*90, c.seed)
		return rgba{k, k, k - 0.015, 1}
	})
	c.pass, c.marks, c.bounds = was, marks, bounds
}

// pin goes through the right wing case; its head is seen from above.
func (c *canvas) pin(p *build) {
	if p.LengthMM < smallest {
		return
	}
	at := pt{p.elyHalf * 0.42, p.elyFrom + 0.13}
	r := clamp(0.75/p.LengthMM, 0.012, 0.045) * 0.8
	c.showing = nil
	c.ellipse(at.add(pt{r * 0.9, r * 1.1}), r*1.15, r*1.15, 0, flat(rgba{0, 0, 0, 0.35}))
	steel := skin{rgba{0.25, 0.25, 0.27, 1}, 1, false}
	c.ellipse(at, r, r, 0, func(q pt) rgba { return steel.lit(norm3(1.2*(q.x-at.x)/r, 1.2*(q.y-at.y)/r, 0.8)) })
}

// scaleBar is a bar of a round number of millimetres at the bottom right.
func (c *canvas) scaleBar(lengthMM float64) {
	b := c.dst.Bounds()
	perMM := c.scale / lengthMM
	wanted := 0.2 * float64(b.Dx()) / perMM
	mm := math.Pow(10, math.Floor(math.Log10(wanted)))
	for _, k := range []float64{5, 2} {
		if mm*k <= wanted {
			mm *= k
			break
		}
	}
	unit := float64(b.Dy()) / 1200
	c.barGround(mm*perMM, unit)
	long, right, y := mm*perMM, float64(b.Dx())-60*unit, float64(b.Dy())-48*unit
	fillRect(c.dst, right-long, y, right, y+5*unit)
	fillRect(c.dst, right-long, y-8*unit, right-long+3*unit, y+13*unit)
	fillRect(c.dst, right-3*unit, y-8*unit, right, y+13*unit)
	text := fmt.Sprintf("%g mm", mm)
	face := faceOf(30 * unit)
	width := float64(font.MeasureString(face, text)) / 64
	write(c.dst, face, right-long/2-width/2, y-14*unit, text, ink)
}

// barGround is a strip of pale card under the bar, so that it can be read over the specimen.
func (c *canvas) barGround(long, unit float64) {
	b := c.dst.Bounds()
	r := image.Rect(b.Max.X-int(60*unit+max(long, 90*unit)+26*unit), b.Max.Y-int(102*unit), b.Max.X-int(34*unit), b.Max.Y-int(22*unit)).Intersect(b)
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			blend(c.dst, x, y, rgba{0.945, 0.94, 0.92, 1}, 0.85)
		}
	}
}

func fillRect(dst *image.RGBA, x0, y0, x1, y1 float64) {
	r := image.Rect(int(x0), int(y0), max(int(x1), int(x0)+1), max(int(y1), int(y0)+1)).Intersect(dst.Bounds())
	for y := r.Min.Y; y < r.Max.Y; y++ {
		for x := r.Min.X; x < r.Max.X; x++ {
			blend(dst, x, y, ink, 1)
		}
	}
}

// regular is the Go font, which is free and comes with golang.org/x/image.
var regular = mustFont(goregular.TTF)

func mustFont(ttf []byte) *opentype.Font {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic(fmt.Sprintf("drawing: embedded font: %v", err))
	}
	return f
}

func faceOf(pixels float64) font.Face {
	face, err := opentype.NewFace(regular, &opentype.FaceOptions{Size: max(pixels, 6), DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(fmt.Sprintf("drawing: embedded font: %v", err))
	}
	return face
}

func write(dst *image.RGBA, face font.Face, x, y float64, text string, col rgba) {
	d := font.Drawer{Dst: dst, Src: image.NewUniform(toColor(col)), Face: face, Dot: fixed.Point26_6{X: fixed.Int26_6(x * 64), Y: fixed.Int26_6(y * 64)}}
	d.DrawString(text)
}
