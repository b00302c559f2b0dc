package drawing

import "math"

// reliefAbove draws what stands up or is sunk on the pronotum, and what its sides bear.
func (c *canvas) reliefAbove(p *build) {
	whole := box{-p.pronHalf, p.pronFrom, p.pronHalf, p.pronTo}
	c.mark(whole, "pronotum-sides", "pronotum-side-line")
	c.mark(box{-p.pronHalf * 0.9, lerp(p.pronFrom, p.pronTo, 0.4), p.pronHalf * 0.9, p.pronTo}, "pronotum-base", "pronotum-cross-keel")
	c.pronotumHollows(p)
	dark := p.pron.base.mul(0.35)
	if p.is("pronotum-side-line", "present") {
		done := c.show("pronotum-side-line")
		for _, side := range []float64{1, -1} {
			c.stroke(p.alongPronotum(side*0.72, 0.06, 0.96), 0.003, 0.003, dark)
		}
		done()
	}
	if p.is("pronotum-cross-keel", "present") {
		done := c.show("pronotum-cross-keel")
		line := curve(p.onPronotum(-0.86, 0.72), p.onPronotum(0, 1.02), p.onPronotum(0.86, 0.72), 24)
		c.stroke(line, 0.0036, 0.0036, dark)
		for i := range line {
			line[i].y -= 0.004
		}
		c.stroke(line, 0.002, 0.002, p.pron.base.to(rgba{1, 1, 0.95, 1}, 0.4))
		done()
	}
}

// onPronotum is the point at u (-1 to 1 across) and t (0 to 1 from front to back).
func (p *build) onPronotum(u, t float64) pt {
	y := lerp(p.pronFrom, p.pronTo, t)
	return pt{u * p.pronotumWidth(y), y}
}

// alongPronotum is a line from front to back at u.
func (p *build) alongPronotum(u, from, to float64) []pt {
	line := make([]pt, 20)
	for i := range line {
		line[i] = p.onPronotum(u, lerp(from, to, float64(i)/19))
	}
	return line
}

func (c *canvas) pronotumHollows(p *build) {
	defer c.show("pronotum-base")()
	dark := p.pron.base.mul(0.35)
	switch p.state("pronotum-base", "plain") {
	case "pits":
		for _, side := range []float64{1, -1} {
			c.ellipse(p.onPronotum(side*0.48, 0.8), p.pronHalf*0.11, p.pronHalf*0.12, 0, flat(dark))
		}
	case "grooves":
		for _, side := range []float64{1, -1} {
			c.stroke(p.alongPronotum(side*0.5, 0.72, 0.97), 0.004, 0.004, dark)
		}
		c.stroke([]pt{p.onPronotum(-0.5, 0.82), p.onPronotum(0, 0.85), p.onPronotum(0.5, 0.82)}, 0.003, 0.003, dark)
	case "furrows":
		for _, u := range []float64{-0.66, -0.33, 0, 0.33, 0.66} {
			c.stroke(p.alongPronotum(u, 0.1, 0.95), 0.004, 0.004, dark)
		}
	}
}

// pronotumSides are drawn beneath the pronotum, so that only what stands out beyond it shows.
func (c *canvas) pronotumSides(p *build) {
	defer c.show("pronotum-sides")()
	state := p.state("pronotum-sides", "plain")
	for _, side := range []float64{1, -1} {
		switch state {
		case "toothed":
			for i := range 5 {
				t := 0.2 + 0.17*float64(i)
				base, tip := p.onPronotum(side*0.9, t), p.onPronotum(side, t).add(pt{side * p.pronHalf * 0.16, 0.004})
				c.fill([]pt{base.add(pt{0, -0.012}), tip, base.add(pt{0, 0.012})}, flat(p.pron.base.mul(0.7)))
			}
		case "spread":
			brim := p.alongPronotum(side*0.9, 0.08, 0.98)
			for i := range brim {
				k := math.Sin(math.Pi * clamp(0.15+0.75*float64(i)/float64(len(brim)-1), 0, 1))
				brim[i].x += side * p.pronHalf * 0.3 * k
			}
			edge := p.alongPronotum(side*0.85, 0.08, 0.98)
			for i := len(edge) - 1; i >= 0; i-- {
				brim = append(brim, edge[i])
			}
			c.fill(brim, flat(p.pron.base.to(rgba{1, 0.9, 0.7, 1}, 0.25)))
		}
	}
}

// breastBelow draws the front edge of the breast, and grooves that take the antennae.
func (c *canvas) breastBelow(p *build) {
	front := max(p.pronFrom, p.headTo*0.75)
	w := p.pronHalf
	c.mark(box{-w * 0.4, front - 0.05, w * 0.4, front + 0.03}, "prosternum-front")
	c.mark(box{w * 0.28, front - 0.045, w * 0.72, lerp(front, p.pronTo, 0.5)}, "antenna-grooves")
	if p.is("prosternum-front", "lobed") {
		done := c.show("prosternum-front")
		c.fill(smoothClosed([]pt{{-w * 0.42, front + 0.03}, {-w * 0.3, front - 0.02}, {0, front - 0.05}, {w * 0.3, front - 0.02}, {w * 0.42, front + 0.03}}, 6),
			func(q pt) rgba { return p.under.dark(1.15).lit(domed(q.x/(w*0.45), (q.y-front)/0.06, 0.7)) })
		done()
	}
	if !p.is("antenna-grooves", "present") {
		return
	}
	defer c.show("antenna-grooves")()
	for _, side := range []float64{1, -1} {
		c.stroke([]pt{{side * w * 0.36, front - 0.03}, {side * w * 0.5, front + 0.02}, {side * w * 0.56, lerp(front, p.pronTo, 0.5)}}, w*0.09, w*0.07, p.under.base.mul(0.2))
	}
}

// hollowsBelow are the hollows for the legs: of the thighs alone, or of all that is folded.
func (c *canvas) hollowsBelow(p *build) {
	c.mark(box{-p.elyHalf, p.elyFrom, p.elyHalf, 0.9}, "legs-packed")
	state := p.state("legs-packed", "no")
	if state == "no" {
		return
	}
	defer c.show("legs-packed")()
	_, meso, meta := p.breastEnds()
	for _, side := range []float64{1, -1} {
		for _, y := range []float64{meso, meta + 0.04} {
			c.ellipse(pt{side * p.elyHalf * 0.55, y}, p.elyHalf*0.36, 0.026, -0.15*side, flat(p.under.base.mul(0.25)))
			if state == "yes" {
				c.ellipse(pt{side * p.elyHalf * 0.55, y + 0.055}, p.elyHalf*0.34, 0.018, 0.1*side, flat(p.under.base.mul(0.3)))
			}
		}
	}
}
