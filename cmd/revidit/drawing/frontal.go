package drawing

import "math"

// frontal is the head seen from the front, with the pronotum behind it.
func (c *canvas) frontal(p *build) {
	w := 0.2
	thorax := w * clamp(p.pronHalf/p.headHalf, 0.85, 1.35)
	c.ellipse(pt{0, -0.02}, thorax, thorax*clamp(p.height/p.elyHalf, 0.45, 0.72), 0, func(q pt) rgba {
		return p.pron.lit(domed(q.x/thorax, q.y/thorax, 0.9)).mul(0.62 * (1 - 0.25*dots(q.x, q.y, 0.014, 0.004, 3)))
	})
	c.mouthFront(p, w)
	shape := smoothClosed([]pt{{0, -w * 0.72}, {w * 0.55, -w * 0.66}, {w * 0.86, -w * 0.3}, {w * 0.82, w * 0.2}, {w * 0.48, w * 0.6}, {0, w * 0.68},
		{-w * 0.48, w * 0.6}, {-w * 0.82, w * 0.2}, {-w * 0.86, -w * 0.3}, {-w * 0.55, -w * 0.66}}, 8)
	c.fill(shape, func(q pt) rgba {
		k := 1 - 0.28*dots(q.x, q.y, 0.014, 0.0042, p.salt()+11)
		k *= 1 - 0.4*smooth(0.004, 0.001, math.Abs(q.y-w*0.40-0.3*q.x*q.x))*smooth(w*0.5, w*0.4, math.Abs(q.x))
		return p.head.lit(domed(q.x/(w*0.9), q.y/(w*0.8), 0.95)).mul(k)
	})
	c.stroke(append(shape, shape[0]), 0.0022, 0.0022, p.head.base.mul(0.3))
	c.eyesFront(p, w)
	c.ocelliFront(p, w)
	c.snoutFront(p, w)
	c.antennaeFront(p, w)
}

func (c *canvas) eyesFront(p *build, w float64) {
	state := p.state("eyes", "entire")
	c.mark(box{w * 0.54, -w * 0.48, w * 0.98, w * 0.24}, "eyes", "eye-facets", "eyes-hairy")
	if state == "absent" {
		return
	}
	for _, side := range []float64{1, -1} {
		draw := func() {
			defer c.show("eyes")()
			c.eye(pt{side * w * 0.76, -w * 0.12}, w*0.22, w*0.36, side, state, p)
		}
		if side > 0 {
			draw()
		} else {
			c.unmarked(draw)
		}
	}
}

func (c *canvas) ocelliFront(p *build, w float64) {
	n := map[string]int{"one": 1, "two": 2}[p.state("ocellus", "none")]
	c.mark(box{-w * 0.3, -w * 0.6, w * 0.3, -w * 0.4}, "ocellus")
	defer c.show("ocellus")()
	for i := range n {
		at := pt{(float64(i) - float64(n-1)/2) * w * 0.35, -w * 0.5}
		c.ellipse(at, w*0.055, w*0.05, 0, func(q pt) rgba {
			return skin{rgba{0.78, 0.58, 0.28, 1}, 1, false}.lit(norm3((q.x-at.x)/(w*0.06), (q.y-at.y)/(w*0.06), 0.8))
		})
	}
}

// mouthFront draws mandibles, labrum and palps under the edge of the head.
func (c *canvas) mouthFront(p *build, w float64) {
	kind := p.state("mandibles", "ordinary")
	c.mark(box{-w * 0.35, w * 0.55, w * 0.35, w * 0.85}, "labrum")
	long := map[string]float64{"ordinary": 0.28, "projecting": 0.5, "antler-like": 1.0}[kind]
	if p.rostrumLength() > 0 {
		return
	}
	for _, side := range []float64{1, -1} {
		draw := func() {
			done := c.show("mandibles", "mandible-outer-edge")
			shape := []pt{{0.42, 0.45}, {0.46, 0.62}, {0.34, 0.62 + long*0.7}, {0.05, 0.66 + long}, {0.16, 0.62 + long*0.6}, {0.12, 0.5}}
			if kind == "antler-like" {
				shape = []pt{{0.42, 0.45}, {0.62, 0.8}, {0.66, 1.2}, {0.42, 1.62}, {0.3, 1.66}, {0.5, 1.25}, {0.28, 1.12}, {0.26, 1.04}, {0.46, 1.02}, {0.38, 0.75}, {0.14, 0.5}}
			}
			for i := range shape {
				shape[i] = shape[i].mul(w).mirrored(side)
			}
			c.jawTeeth(p, pt{side * w * 0.4, w * 0.66}, pt{-side * w * 0.05, w * 0.1}, side*w*0.16)
			c.fill(smoothClosed(shape, 7), tubeShade(pt{side * w * 0.35, 0}, pt{side * w * 0.35, 1}, w*0.35, p.horn.dark(0.8)))
			done()
			defer c.show("maxillary-palps", "palp-tip")()
			size := w * 0.55
			if p.is("maxillary-palps", "equal-or-longer") {
				size = w * 2
			}
			c.palp(p, sweep(pt{side * w * 0.46, w * 0.5}, math.Pi/2-side*0.45, size, side*0.5, 2, 0), w*0.045)
		}
		if side > 0 {
			draw()
		} else {
			c.unmarked(draw)
		}
	}
	if p.is("labrum", "visible") {
		done := c.show("labrum")
		c.fill(smoothClosed([]pt{{-w * 0.3, w * 0.6}, {-w * 0.28, w * 0.76}, {0, w * 0.82}, {w * 0.28, w * 0.76}, {w * 0.3, w * 0.6}}, 6), func(q pt) rgba {
			return p.horn.dark(1.2).lit(domed(q.x/(w*0.3), 0.2, 0.6))
		})
		done()
	}
}

// snoutFront is a rostrum hanging down, with the mouth at its end.
func (c *canvas) snoutFront(p *build, w float64) {
	long := map[string]float64{"long": 1.5, "short-broad": 0.55}[p.state("rostrum", "none")] * w
	if long == 0 {
		return
	}
	defer c.show("rostrum")()
	base, end := w*0.5, w*0.4
	if p.is("rostrum", "long") {
		base, end = w*0.26, w*0.17
	}
	y0 := w * 0.2
	half := func(y float64) float64 {
		t := (y - y0) / (long + w*0.4)
		return lerp(base, end, smooth(0, 0.5, t)) * (1 + 0.25*smooth(0.8, 1, t)) * tip(t, 0.93)
	}
	c.fill(outline(y0, y0+long+w*0.4, half), func(q pt) rgba {
		return p.head.lit(domed(q.x/max(half(q.y), 0.01), 0, 1.1)).mul(1 - 0.22*dots(q.x, q.y, 0.011, 0.0034, 8))
	})
}

// antennaeFront places each antenna where antenna-insertion says.
func (c *canvas) antennaeFront(p *build, w float64) {
	at := map[string]pt{
		"above-mandible": {0.44, 0.38}, "between-eye-and-mandible": {0.54, 0.22}, "under-ridge": {0.5, 0.16},
		"in-eye-notch": {0.52, -0.12}, "on-rostrum": {0.22, 0.95}, "front-of-head": {0.17, -0.08},
	}[p.state("antenna-insertion", "between-eye-and-mandible")]
	if at == (pt{}) {
		at = pt{0.54, 0.22}
	}
	a := p.antenna
	a.length = map[bool]float64{true: 0.75, false: 0.55}[a.length > 0.4]
	size := min(0.013, 0.36*a.length/float64(a.n))
	for _, side := range []float64{1, -1} {
		draw := func() {
			from := at.mul(w).mirrored(side)
			done := c.show("antenna-insertion")
			c.ellipse(from, w*0.085, w*0.085, 0, flat(p.head.base.mul(0.35)))
			if p.is("antenna-insertion", "under-ridge") {
				c.stroke(curve(from.add(pt{-w * 0.16 * side, -w * 0.05}), from.add(pt{0, -w * 0.14}), from.add(pt{w * 0.18 * side, w * 0.02}), 10), w*0.045, w*0.03, p.head.base.mul(1.35))
			}
			done()
			angle, turn, elbow := -0.02, -1.0, 0.0
			if a.elbowed {
				angle, turn, elbow = -0.35, 0.1, 1.35
			}
			if side < 0 {
				angle, turn, elbow = math.Pi-angle, -turn, -elbow
			}
			c.drawAntenna(a, sweep(from, angle, a.length, turn, a.shares()[0], elbow), size, side, p.horn)
		}
		if side > 0 {
			draw()
		} else {
			c.unmarked(draw)
		}
	}
}
