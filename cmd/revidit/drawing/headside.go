package drawing

import "math"

func (c *canvas) headSide(p *build) {
	hidden := p.is("head-from-above", "hidden")
	long := p.headTo - p.headFrom + 0.03
	h := p.height * 0.58
	h = max(h, 0.055)
	mid := pt{p.headFrom + long*0.5, p.height * 0.08}
	if hidden {
		mid = mid.add(pt{0.005, p.height * 0.35})
	}
	c.snoutSide(p, mid, long, h)
	c.mark(box{mid.x - long*0.2, mid.y - h*0.7, mid.x + long*0.4, mid.y + h*0.4}, "eyes", "eye-facets", "eyes-hairy")
	front := mid.x - long*0.5
	top := func(x float64) float64 {
		t := clamp((x-front)/long, 0, 1)
		neck := 0.0
		if p.is("head-neck", "yes") {
			neck = 0.45 * smooth(0.68, 0.86, t)
		}
		return mid.y - h*sqrt(1-math.Pow(1-clamp(t/0.65, 0, 1), 2.2))*(1-neck)
	}
	bottom := func(x float64) float64 {
		t := clamp((x-front)/long, 0, 1)
		return mid.y + h*0.8*sqrt(1-math.Pow(1-clamp(t/0.4, 0, 1), 2))*(1-0.2*smooth(0.7, 1, t))
	}
	shown := c.show("head-neck")
	c.fill(sideOutline(front, front+long, top, bottom), func(q pt) rgba {
		return p.head.lit(sideNormal((q.y-mid.y)/h, (q.x-mid.x)/long)).mul(1 - 0.25*dots(q.x, q.y, 0.010, 0.003, p.salt()+90))
	})
	shown()
	if s := p.state("eyes", "entire"); s != "absent" {
		done := c.show("eyes")
		c.eye(mid.add(pt{long * 0.08, -h * 0.12}), long*0.24, h*0.48, 1, s, p)
		done()
	}
	c.antennaSide(p, mid, long, h)
}

// snoutSide draws rostrum, mandible and palp.
func (c *canvas) snoutSide(p *build, mid pt, long, h float64) {
	front := mid.add(pt{-long * 0.42, h * 0.3})
	c.mark(box{front.x - 0.04, front.y - 0.04, front.x + 0.05, front.y + 0.04}, "rostrum")
	if r := p.rostrumLength(); r > 0 {
		done := c.show("rostrum")
		w := h * 0.55
		if p.is("rostrum", "long") {
			w = h * 0.3
		}
		end := front.add(pt{-r * 0.82, r * 0.5})
		line := curve(front.add(pt{long * 0.25, -h * 0.1}), front.add(pt{-r * 0.55, r * 0.02}), end, 18)
		for i := range 18 {
			a, b := line[i], line[i+1]
			d := b.sub(a).unit()
			k := lerp(w, w*0.8, float64(i)/17)
			c.fill([]pt{a.along(d, -0.001, k), b.along(d, 0.001, k), b.along(d, 0.001, -k), a.along(d, -0.001, -k)}, tubeShade(a, b, k, p.head))
		}
		front = end
		done()
	}
	done := c.show("mandibles")
	size := map[string]float64{"projecting": 0.08, "antler-like": 0.24}[p.state("mandibles", "ordinary")]
	size = max(size, 0.03)
	c.fill(smoothClosed([]pt{front.add(pt{0.012, -0.012}), front.add(pt{-size * 0.6, -0.014 - size*0.12}), front.add(pt{-size, -size * 0.05}), front.add(pt{-size * 0.55, 0.006}), front.add(pt{0.012, 0.014})}, 6),
		tubeShade(front, front.add(pt{-1, 0}), 0.02, p.horn.dark(0.75)))
	done()
	defer c.show("maxillary-palps", "palp-tip")()
	size = 0.07
	if p.is("maxillary-palps", "equal-or-longer") {
		size = max(0.26, p.antenna.length)
	}
	c.palp(p, sweep(front.add(pt{0.018, 0.016}), 2.3, size, -0.5, 2, 0), 0.0065)
}

func (c *canvas) antennaSide(p *build, mid pt, long, h float64) {
	a := p.antenna
	from := mid.add(pt{-long * 0.26, h * 0.05})
	switch p.States["antenna-insertion"] {
	case "above-mandible":
		from = mid.add(pt{-long * 0.38, h * 0.22})
	case "in-eye-notch":
		from = mid.add(pt{-long * 0.10, -h * 0.1})
	case "under-ridge":
		from = mid.add(pt{-long * 0.32, h * 0.02})
		c.stroke([]pt{from.add(pt{-0.02, -0.008}), from.add(pt{0.02, -0.012})}, 0.006, 0.004, p.head.base.mul(1.25))
	case "front-of-head":
		from = mid.add(pt{-long * 0.40, -h * 0.2})
	case "on-rostrum":
		r := p.rostrumLength()
		from = mid.add(pt{-long*0.42 - r*0.42, h*0.3 + r*0.13})
	}
	angle, turn, elbow := 3.75, 1.2, 0.0
	switch {
	case a.elbowed:
		angle, turn, elbow = 3.5, -0.2, -1.5
	case a.length > 1:
		angle, turn = 3.9, 1.9
	}
	done := c.show("antenna-insertion")
	w := antennaWidth(a)
	c.ellipse(from, w*1.5, w*1.5, 0, flat(p.head.base.mul(0.4)))
	done()
	c.drawAntenna(a, sweep(from, angle, a.length, turn, a.shares()[0], elbow), w, 1, p.horn)
}
