package drawing

import "math"

// dorsal draws the beetle from above.
func (c *canvas) dorsal(p *build) {
	defer c.show("body-length-mm")()
	c.dorsalLegs(p)
	c.dorsalAntennae(p)
	c.headAbove(p)
	c.abdomenAbove(p)
	c.vesicles(p)
	c.elytraAbove(p)
	c.pronotumAbove(p)
	if p.is("head-from-above", "partly-hidden") {
		c.hood(p)
	}
	c.hairs(p)
}

// outline samples a part that is symmetric about the axis.
func outline(y0, y1 float64, half func(y float64) float64) []pt {
	const n = 90
	shape := make([]pt, 0, 2*n+2)
	for i := 0; i <= n; i++ {
		// Denser at both ends, where the outline turns.
		y := lerp(y0, y1, 0.5-0.5*math.Cos(math.Pi*float64(i)/n))
		shape = append(shape, pt{half(y), y})
	}
	for i := n; i >= 0; i-- {
		shape = append(shape, pt{-shape[i].x, shape[i].y})
	}
	return shape
}

func (c *canvas) dorsalLegs(p *build) {
	w := 0.017 * clamp(1+0.5*(p.elyHalf-0.2), 0.8, 1.2)
	reach := 1.0
	if p.form == "ant-like" {
		reach = 1.25
	}
	if p.form == "hemispherical" {
		reach = 0.8
	}
	span := p.elyFrom - p.pronFrom
	for _, side := range []float64{1, -1} {
		j := func(i int) float64 { return 0.02 * c.jitter("leg", i+10*int(side)) }
		hipY := []float64{p.pronFrom + 0.72*span, p.elyFrom + 0.10, p.elyFrom + 0.27}
		edge := []float64{p.pronHalf, p.elyHalf, p.elyHalf}
		type joints struct{ knee, ankle pt }
		for place, q := range []joints{
			{pt{0.14, -0.10 + j(1)}, pt{0.185 + j(2), -0.27}},
			{pt{0.19, 0.01 + j(3)}, pt{0.27 + j(4), 0.17}},
			{pt{0.20, 0.13 + j(5)}, pt{0.25 + j(6), 0.38}},
		} {
			hip := pt{edge[place] * 0.45, hipY[place]}
			knee := pt{edge[place], hipY[place]}.add(q.knee.mul(reach * 0.8))
			ankle := pt{edge[place], hipY[place]}.add(q.ankle.mul(reach * 0.8))
			heading := []float64{-1.15, 0.75, 1.05}[place]
			if side < 0 {
				heading = math.Pi - heading
			}
			l := p.leg(place)
			if side < 0 {
				c.unmarked(func() {
					c.drawLeg(l, hip.mirrored(side), knee.mirrored(side), ankle.mirrored(side), heading, 0.16*reach, w, side, p.limb)
				})
				continue
			}
			c.drawLeg(l, hip, knee, ankle, heading, 0.16*reach, w, side, p.limb)
		}
	}
}

// unmarked draws the second of a pair: a rectangle needs to show one.
func (c *canvas) unmarked(draw func()) {
	was := c.muted
	c.muted = true
	draw()
	c.muted = was
}

func (c *canvas) dorsalAntennae(p *build) {
	a := p.antenna
	w := antennaWidth(a)
	for _, side := range []float64{1, -1} {
		from := pt{side * p.headHalf * 0.62, p.headFrom + 0.32*(p.headTo-p.headFrom)}
		if p.is("antenna-insertion", "on-rostrum") && !p.is("rostrum", "none") {
			from = pt{side * 0.02, p.headFrom - 0.5*p.rostrumLength()}
		}
		angle := -1.05 + 0.08*c.jitter("antenna", 1)
		turn, elbow := 0.75, 0.0
		switch {
		case a.elbowed:
			angle, elbow, turn = -0.25, -0.95, 0.2
		case a.length > 1:
			angle, turn = -1.0, 2.5
		case a.length > 0.4:
			angle, turn = -1.1, 1.75
		}
		scape := a.shares()[0]
		if side < 0 {
			angle, turn, elbow = math.Pi-angle, -turn, -elbow
		}
		line := sweep(from, angle, a.length, turn, scape, elbow)
		draw := func() { c.drawAntenna(a, line, w, side, p.horn) }
		if side < 0 {
			c.unmarked(draw)
			continue
		}
		done := c.show("antenna-insertion")
		c.ellipse(from, w*1.4, w*1.4, 0, flat(p.head.base.mul(0.5)))
		done()
		draw()
	}
}

func antennaWidth(a antennaSpec) float64 {
	w := 0.0085
	switch {
	case a.length > 1:
		w = 0.0075
	case a.length < 0.4:
		w = 0.0078
	}
	return min(w, 0.33*a.length/float64(a.n))
}

func (p *build) rostrumLength() float64 {
	switch p.state("rostrum", "none") {
	case "long":
		return 0.2
	case "short-broad":
		return 0.075
	}
	return 0
}

func (c *canvas) headAbove(p *build) {
	if p.is("head-from-above", "hidden") {
		return
	}
	c.mouthAbove(p)
	defer c.show("head-from-above", "head-width", "head-neck")()
	long := p.headTo - p.headFrom
	neck := p.is("head-neck", "yes")
	half := func(y float64) float64 {
		t := (y - p.headFrom) / long
		k := lerp(0.52, 1, smooth(0, 0.45, t)) * sqrt(1-math.Pow(1-clamp(t/0.3, 0, 1), 2)*0.9)
		if neck {
			k *= lerp(1, 0.45, smooth(0.66, 0.84, t))
		}
		return p.headHalf * k
	}
	c.fill(outline(p.headFrom, p.headTo+0.03, half), func(q pt) rgba {
		h := half(q.y)
		n := domed(q.x/h, ((q.y-p.headFrom)/long-0.5)*1.5, 0.9)
		d := dots(q.x, q.y, 0.011, 0.0032, 77)
		return p.head.lit(n).mul(1 - 0.28*d)
	})
	c.eyesAbove(p, long)
	c.ocelliAbove(p, long)
}

func (c *canvas) mouthAbove(p *build) {
	long := p.rostrumLength()
	front := p.headFrom
	w := p.headHalf
	c.mark(box{-w * 0.6, front - long - 0.02, w * 0.6, front + 0.02}, "rostrum", "labrum")
	if long > 0 {
		done := c.show("rostrum")
		base, end := p.headHalf*0.62, p.headHalf*0.52
		if p.is("rostrum", "long") {
			base, end = p.headHalf*0.42, p.headHalf*0.24
		}
		half := func(y float64) float64 {
			t := (front - y) / long
			return lerp(base, end, smooth(0, 0.6, t)) * (1 + 0.18*smooth(0.75, 1, t))
		}
		c.fill(outline(front-long, front+0.035, half), func(q pt) rgba {
			return p.head.lit(domed(q.x/half(q.y), 0, 1.1)).mul(1 - 0.2*dots(q.x, q.y, 0.008, 0.0024, 5))
		})
		done()
		front -= long
	}
	c.mandiblesAbove(p, front)
	c.palpsAbove(p, front)
	c.labrumAbove(p, front)
}

func (c *canvas) labrumAbove(p *build, front float64) {
	if !p.is("labrum", "visible") {
		return
	}
	defer c.show("labrum")()
	w := p.headHalf * 0.4
	if p.rostrumLength() > 0 {
		w *= 0.5
	}
	c.fill(smoothClosed([]pt{{-w, front + 0.01}, {-w, front - 0.009}, {0, front - 0.013}, {w, front - 0.009}, {w, front + 0.01}}, 6),
		func(q pt) rgba { return p.horn.dark(1.15).lit(domed(q.x/w, 0, 0.6)) })
}

func (c *canvas) mandiblesAbove(p *build, front float64) {
	kind := p.state("mandibles", "ordinary")
	for _, side := range []float64{1, -1} {
		draw := func() {
			defer c.show("mandibles", "mandible-outer-edge")()
			w := p.headHalf * 0.5
			if p.rostrumLength() > 0 {
				w *= 0.5
			}
			at := pt{side * w, front + 0.015}
			var shape []pt
			switch kind {
			case "antler-like":
				shape = antler(p.headHalf)
			case "projecting":
				shape = []pt{{0.012, 0}, {0.028, -0.045}, {0.012, -0.085}, {-0.018, -0.105}, {-0.002, -0.075}, {-0.012, -0.055}, {0, -0.04}, {-0.014, 0}}
			default:
				shape = []pt{{0.012, 0}, {0.012, -0.018}, {-0.002, -0.032}, {-0.018, -0.034}, {-0.01, -0.02}, {-0.012, 0}}
			}
			for i := range shape {
				shape[i] = at.add(shape[i].mirrored(side))
			}
			c.jawTeeth(p, at.add(pt{side * 0.008, -0.004}), pt{0, -0.016}, side*0.02)
			c.fill(smoothClosed(shape, 6), tubeShade(at, at.add(pt{0, -1}), 0.05, p.horn.dark(0.75)))
		}
		if side < 0 {
			c.unmarked(draw)
		} else {
			draw()
		}
	}
}

// antler is the outline of a right mandible with a tooth inside and a forked tip.
func antler(half float64) []pt {
	k := clamp(half/0.1, 0.8, 1.6)
	shape := []pt{
		{0.02, 0}, {0.045, -0.06}, {0.055, -0.13}, {0.035, -0.2}, {0.004, -0.245}, {-0.006, -0.235}, {0.012, -0.195},
		{-0.012, -0.20}, {-0.014, -0.188}, {0.022, -0.165}, {0.028, -0.12}, {-0.008, -0.10}, {-0.008, -0.088}, {0.022, -0.08}, {0.01, -0.04}, {-0.014, 0},
	}
	for i := range shape {
		shape[i] = shape[i].mul(k)
	}
	return shape
}

// jawTeeth stand out from the outer edge of a jaw: three of them, each by step from the one before.
func (c *canvas) jawTeeth(p *build, at, step pt, out float64) {
	if !p.is("mandible-outer-edge", "toothed") {
		return
	}
	for i := range 3 {
		base := at.add(step.mul(float64(i)))
		c.fill([]pt{base.sub(step.mul(0.45)), base.add(pt{out, 0}), base.add(step.mul(0.45))}, flat(p.horn.base.mul(0.6)))
	}
}

func (c *canvas) palpsAbove(p *build, front float64) {
	long := 0.045
	if p.is("maxillary-palps", "equal-or-longer") {
		long = max(0.26, p.antenna.length)
	}
	for _, side := range []float64{1, -1} {
		draw := func() {
			defer c.show("maxillary-palps", "palp-tip")()
			angle, turn := -1.3, 0.7
			if side < 0 {
				angle, turn = math.Pi-angle, -turn
			}
			w := p.headHalf * 0.36
			if p.rostrumLength() > 0 {
				w *= 0.5
			}
			c.palp(p, sweep(pt{side * w, front + 0.004}, angle, long, turn, 2, 0), 0.0055)
		}
		if side < 0 {
			c.unmarked(draw)
		} else {
			draw()
		}
	}
}

// palp draws four segments, the last of the shape that palp-tip says.
func (c *canvas) palp(p *build, line path, w float64) {
	s := p.horn.dark(1.25)
	for i := range 3 {
		t := float64(i) / 4
		c.tube(line.at(t), line.at(t+0.12), line.at(t+0.235), w*0.7, w, s)
	}
	from, to := line.at(0.75), line.at(1)
	d := to.sub(from).unit()
	switch p.state("palp-tip", "slender") {
	case "hatchet":
	case "needle":
		c.stroke([]pt{from, to}, w*0.4, w*0.08, s.base.mul(0.8))
		return
	case "plume":
		for i := range 6 {
			base := mix(from, to, float64(i)/6)
			c.stroke([]pt{base, base.along(d, w*1.6, w*3.4)}, w*0.24, w*0.08, s.base)
			c.stroke([]pt{base, base.along(d, w*1.6, -w*3.4)}, w*0.24, w*0.08, s.base)
		}
		return
	default:
		c.tube(from, mix(from, to, 0.5), to, w, w*0.6, s)
		return
	}
	c.fill(smoothClosed([]pt{from.along(d, 0, w*0.6), to.along(d, -w, w*2.6), to.along(d, w*1.2, w*1.2), to.along(d, w*0.4, -w*2), from.along(d, 0, -w*0.6)}, 5), tubeShade(from, to, w*2.8, s))
}

func (c *canvas) eyesAbove(p *build, long float64) {
	state := p.state("eyes", "entire")
	c.mark(box{p.headHalf * 0.66, p.headFrom + long*0.26, p.headHalf * 1.06, p.headFrom + long*0.78}, "eyes")
	if state == "absent" {
		return
	}
	for _, side := range []float64{1, -1} {
		draw := func() {
			defer c.show("eyes")()
			at := pt{side * p.headHalf * 0.86, p.headFrom + long*0.52}
			c.eye(at, p.headHalf*0.2, long*0.26, side, state, p)
		}
		if side < 0 {
			c.unmarked(draw)
		} else {
			draw()
		}
	}
}

// eye draws one compound eye; notches open towards -side.
func (c *canvas) eye(at pt, rx, ry, side float64, state string, p *build) {
	defer c.show("eye-facets", "eyes-hairy")()
	s := skin{rgba{0.11, 0.085, 0.075, 1}, 1, false}
	facets, relief := 34.0, 0.10
	if p.is("eye-facets", "coarse") {
		facets, relief = 11, 0.5
	}
	if p.is("eyes-hairy", "hairy") {
		for i := range 22 {
			along := polar(2*math.Pi*float64(i)/22, 1)
			c.stroke([]pt{at.add(pt{along.x * rx * 0.9, along.y * ry * 0.9}), at.add(pt{along.x * rx * 1.28, along.y * ry * 1.28})}, rx*0.03, 0, rgba{0.8, 0.72, 0.5, 1})
		}
	}
	shade := func(q pt) rgba {
		u, v := (q.x-at.x)/rx, (q.y-at.y)/ry
		facet := relief * math.Sin(q.x/rx*facets) * math.Sin((q.y/ry+0.5*q.x/rx)*facets)
		col := s.lit(norm3(1.1*u, 1.1*v, 0.8))
		return rgba{col.r + facet*0.3, col.g + facet*0.28, col.b + facet*0.26, 1}
	}
	if state == "divided" {
		c.fill(ellipse(at.add(pt{0, -ry * 0.62}), rx, ry*0.5, 0), shade)
		c.fill(ellipse(at.add(pt{0, ry * 0.62}), rx, ry*0.5, 0), shade)
		return
	}
	depth := map[string]float64{"notched": 0.55, "kidney-shaped": 1.35}[state]
	const n = 60
	shape := make([]pt, n)
	for i := range shape {
		a := 2 * math.Pi * float64(i) / n
		r := 1.0
		if depth > 0 {
			off := math.Abs(math.Remainder(a-math.Pi, 2*math.Pi))
			r = 1 - depth*0.55*math.Exp(-off*off/0.16)
		}
		shape[i] = at.add(pt{side * rx * r * math.Cos(a), ry * r * math.Sin(a)})
	}
	c.fill(shape, shade)
}

func (c *canvas) ocelliAbove(p *build, long float64) {
	n := map[string]int{"one": 1, "two": 2}[p.state("ocellus", "none")]
	at := p.headFrom + long*0.55
	c.mark(box{-p.headHalf * 0.4, at - 0.015, p.headHalf * 0.4, at + 0.015}, "ocellus")
	if n == 0 {
		return
	}
	defer c.show("ocellus")()
	for i := range n {
		x := (float64(i) - float64(n-1)/2) * p.headHalf * 0.5
		c.ellipse(pt{x, p.headFrom + long*0.55}, 0.0075, 0.0075, 0, func(q pt) rgba {
			return skin{rgba{0.75, 0.55, 0.25, 1}, 1, false}.lit(norm3((q.x-x)/0.009, (q.y-p.headFrom-long*0.55)/0.009, 0.8))
		})
	}
}
