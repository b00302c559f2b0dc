package drawing

import (
	"image"
	"math"

	"golang.org/x/image/vector"
)

// shader gives the colour at a point of a shape.
type shader func(p pt) rgba

func flat(c rgba) shader { return func(pt) rgba { return c } }

// pass says what a run of a model is for: the same code measures, casts the shadow and paints.
type pass int

const (
	measuring pass = iota
	shadowing
	painting
)

type box struct{ x0, y0, x1, y1 float64 }

var nobox = box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}

func (b *box) take(p pt) {
	b.x0, b.y0 = min(b.x0, p.x), min(b.y0, p.y)
	b.x1, b.y1 = max(b.x1, p.x), max(b.y1, p.y)
}

func (b box) pad(k float64) box { return box{b.x0 - k, b.y0 - k, b.x1 + k, b.y1 + k} }

// canvas paints shapes given in body units.
type canvas struct {
	pass   pass
	dst    *image.RGBA
	shadow *image.Alpha
	scale  float64 // pixels per body unit
	origin pt      // of the body, in pixels
	sin    float64 // of the small angle at which the specimen lies
	cos    float64
	seed   uint64

	bounds  box // of everything drawn, body units
	showing []string
	muted   bool            // what is drawn counts for no character
	marks   map[string]*box // body units of the image plane, by character

	raster vector.Rasterizer
	cover  image.Alpha
}

func (c *canvas) device(p pt) pt {
	return pt{c.origin.x + c.scale*(p.x*c.cos-p.y*c.sin), c.origin.y + c.scale*(p.x*c.sin+p.y*c.cos)}
}

func (c *canvas) body(x, y float64) pt {
	x, y = (x-c.origin.x)/c.scale, (y-c.origin.y)/c.scale
	return pt{x*c.cos + y*c.sin, y*c.cos - x*c.sin}
}

// show lets everything drawn until the returned function is called count as a place where the characters are seen.
func (c *canvas) show(characters ...string) func() {
	n := len(c.showing)
	c.showing = append(c.showing, characters...)
	return func() { c.showing = c.showing[:n] }
}

// jitter is a number from -1 to 1 that depends on the seed and the name only, so that every pass sees the same.
func (c *canvas) jitter(name string, i int) float64 {
	h := c.seed*0x9e3779b97f4a7c15 + uint64(i)*0xd1b54a32d192ed03
	for _, b := range []byte(name) {
		h = (h ^ uint64(b)) * 0x100000001b3
	}
	return float64(scramble(h)>>11)/(1<<52) - 1
}

func scramble(h uint64) uint64 {
	h = (h ^ h>>30) * 0xbf58476d1ce4e5b9
	h = (h ^ h>>27) * 0x94d049bb133111eb
	return h ^ h>>31
}

func (c *canvas) note(shape []pt) {
	for _, p := range shape {
		c.bounds.take(p)
		if c.muted {
			continue
		}
		for _, id := range c.showing {
			if c.marks[id] == nil {
				b := nobox
				c.marks[id] = &b
			}
			c.marks[id].take(p)
		}
	}
}

// mark lets a box count as the place where characters are to be looked for, whether or not there is anything.
func (c *canvas) mark(b box, characters ...string) {
	defer c.show(characters...)()
	bounds := c.bounds
	c.note([]pt{{b.x0, b.y0}, {b.x1, b.y1}})
	c.bounds = bounds
}

// fill paints a closed shape.
func (c *canvas) fill(shape []pt, s shader) {
	c.note(shape)
	switch c.pass {
	case measuring:
	case shadowing:
		c.rasterize(shape, c.shadow.Bounds(), func(x, y int, a uint8) {
			at := c.shadow.PixOffset(x, y)
			c.shadow.Pix[at] = max(c.shadow.Pix[at], a)
		})
	case painting:
		c.rasterize(shape, c.dst.Bounds(), func(x, y int, a uint8) {
			col := s(c.body(float64(x)+0.5, float64(y)+0.5))
			blend(c.dst, x, y, col, float64(a)/255)
		})
	}
}

// rasterize calls plot for every pixel that the shape covers, with its coverage.
func (c *canvas) rasterize(shape []pt, within image.Rectangle, plot func(x, y int, a uint8)) {
	b := nobox
	for _, p := range shape {
		b.take(c.device(p))
	}
	r := image.Rect(int(math.Floor(clamp(b.x0, -1e6, 1e6))), int(math.Floor(clamp(b.y0, -1e6, 1e6))),
		int(math.Ceil(clamp(b.x1, -1e6, 1e6)))+1, int(math.Ceil(clamp(b.y1, -1e6, 1e6)))+1).Intersect(within)
	if r.Empty() {
		return
	}
	c.raster.Reset(r.Dx(), r.Dy())
	for i, p := range shape {
		d := c.device(p)
		x, y := float32(d.x-float64(r.Min.X)), float32(d.y-float64(r.Min.Y))
		if i == 0 {
			c.raster.MoveTo(x, y)
			continue
		}
		c.raster.LineTo(x, y)
	}
	c.raster.ClosePath()
	if n := r.Dx() * r.Dy(); cap(c.cover.Pix) < n {
		c.cover.Pix = make([]uint8, n)
	}
	c.cover.Pix = c.cover.Pix[:r.Dx()*r.Dy()]
	clear(c.cover.Pix)
	c.cover.Stride, c.cover.Rect = r.Dx(), image.Rect(0, 0, r.Dx(), r.Dy())
	c.raster.Draw(&c.cover, c.cover.Rect, image.Opaque, image.Point{})
	for y := range r.Dy() {
		row := c.cover.Pix[y*r.Dx() : (y+1)*r.Dx()]
		for x, a := range row {
			if a != 0 {
				plot(r.Min.X+x, r.Min.Y+y, a)
			}
		}
	}
}

func blend(dst *image.RGBA, x, y int, c rgba, cover float64) {
	a := clamp(c.a, 0, 1) * cover
	at := dst.PixOffset(x, y)
	p := dst.Pix[at : at+4 : at+4]
	p[0] = byte(lerp(float64(p[0]), 255*clamp(c.r, 0, 1), a) + 0.5)
	p[1] = byte(lerp(float64(p[1]), 255*clamp(c.g, 0, 1), a) + 0.5)
	p[2] = byte(lerp(float64(p[2]), 255*clamp(c.b, 0, 1), a) + 0.5)
}

// stroke paints a line through the points, w0 wide at its beginning and w1 at its end (body units, half widths), never
// thinner than half a pixel.
func (c *canvas) stroke(points []pt, w0, w1 float64, col rgba) {
	if len(points) < 2 {
		return
	}
	thinnest := 0.0
	if c.pass == painting {
		thinnest = 0.55 / c.scale
	}
	left := make([]pt, 0, 2*len(points))
	right := make([]pt, 0, len(points))
	for i, p := range points {
		d := points[min(i+1, len(points)-1)].sub(points[max(i-1, 0)]).unit().left()
		w := max(lerp(w0, w1, float64(i)/float64(len(points)-1)), thinnest)
		left = append(left, p.add(d.mul(w)))
		right = append(right, p.sub(d.mul(w)))
	}
	for i := len(right) - 1; i >= 0; i-- {
		left = append(left, right[i])
	}
	c.fill(left, flat(col))
}

func (c *canvas) ellipse(at pt, rx, ry, angle float64, s shader) {
	c.fill(ellipse(at, rx, ry, angle), s)
}
