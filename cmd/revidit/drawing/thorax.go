package drawing

import "math"

// pronotumWidth is the half width of the pronotum at y.
func (p *build) pronotumWidth(y float64) float64 {
	t := clamp((y-p.pronFrom)/(p.pronTo-p.pronFrom), 0, 1)
	front := 0.74
	if p.form == "parallel" || p.form == "cylindrical" {
		front = 0.86
	}
	if p.hoodOver {
		return p.pronHalf * sqrt(1-math.Pow(1-t, 2.4)) * (1 - 0.03*smooth(0.8, 1, t))
	}
	if p.form == "ant-like" {
		return p.pronHalf * lerp(0.7, 1, math.Sin(math.Pi*clamp(t*0.9, 0, 1))) * lerp(1, 0.72, smooth(0.6, 1, t))
	}
	rise := smooth(0, 0.6, t)
	back := 1 - 0.05*smooth(0.65, 1, t)
	if p.pointed || p.form == "oval" || p.form == "boat-shaped" || p.form == "hemispherical" {
		back = 1 + 0.015*smooth(0.7, 1, t)
	}
	round := sqrt(1 - math.Pow(1-clamp(t/0.13, 0, 1), 2)*0.5)
	return p.pronHalf * lerp(front, 1, rise) * back * round
}

func (c *canvas) pronotumAbove(p *build) {
	defer c.show("pronotum-width", "head-width", "head-from-above")()
	shape := outline(p.pronFrom, p.pronTo, p.pronotumWidth)
	shade := c.pronotumShade(p)
	c.pronotumSides(p)
	if p.is("pronotum-hind-corners", "pointed") {
		done := c.show("pronotum-hind-corners")
		for _, side := range []float64{1, -1} {
			w := p.pronHalf
			c.fill(smoothClosed([]pt{{side * w * 0.55, p.pronTo - 0.012}, {side * w * 0.97, p.pronTo - 0.05}, {side * w * 1.07, p.pronTo + 0.038}, {side * w * 1.03, p.pronTo + 0.043}, {side * w * 0.84, p.pronTo + 0.004}}, 5), shade)
		}
		done()
	}
	done := c.show("lustre", "body-surface", "pronotum-hind-corners")
	c.fill(shape, shade)
	done()
	c.pronotumRim(p)
	c.reliefAbove(p)
}

func (c *canvas) pronotumShade(p *build) shader {
	long := p.pronTo - p.pronFrom
	return func(q pt) rgba {
		w := max(p.pronotumWidth(q.y), 0.01)
		v := ((q.y-p.pronFrom)/long - 0.5) * 1.7
		n := domed(q.x/w, v, max(p.dome, 0.55))
		bump := 0.06 * noise(q.x*60, q.y*60, p.salt())
		n = norm3(n.x+bump, n.y+bump*0.6, n.z)
		col := p.pron.lit(n)
		col = p.coat(col, q, 0.0125)
		return col.mul(1 - 0.30*dots(q.x, q.y, 0.0125, 0.0034, p.salt()) - 0.35*smooth(0.93, 1, math.Abs(q.x/w)))
	}
}

// pronotumRim is the sharp side ridge, all along or in the hind half only.
func (c *canvas) pronotumRim(p *build) {
	from := map[string]float64{"complete": 0.04, "partial": 0.55}[p.state("pronotum-edge", "complete")]
	c.mark(box{p.pronHalf * 0.8, p.pronFrom, p.pronHalf, p.pronTo}, "pronotum-edge")
	if from == 0 {
		return
	}
	for _, side := range []float64{1, -1} {
		var line []pt
		for i := range 25 {
			y := lerp(p.pronFrom, p.pronTo, lerp(from, 0.985, float64(i)/24))
			line = append(line, pt{side * p.pronotumWidth(y) * 0.965, y})
		}
		col := p.pron.base.to(rgba{1, 1, 0.95, 1}, 0.28)
		if side < 0 {
			c.unmarked(func() { c.stroke(line, 0.0017, 0.0017, col) })
			continue
		}
		done := c.show("pronotum-edge")
		c.stroke(line, 0.0017, 0.0017, col)
		done()
	}
}

// hood lets the front of the pronotum overlap the head by drawing its shadow there.
func (c *canvas) hood(p *build) {
	line := make([]pt, 0, 30)
	for i := range 30 {
		x := lerp(-0.8, 0.8, float64(i)/29) * p.pronotumWidth(p.pronFrom+0.01)
		line = append(line, pt{x, p.pronFrom - 0.002})
	}
	c.stroke(line, 0.004, 0.004, rgba{0, 0, 0, 0.45})
}

func (p *build) salt() uint64 { return uint64(p.Seed)*2654435761 + 17 }

// coat lays scales over a colour where the surface is scaly.
func (p *build) coat(col rgba, q pt, cell float64) rgba {
	if !p.scaly {
		return col
	}
	patch := smooth(-0.25, 0.35, noise(q.x*11, q.y*11, p.salt()+3)+0.4*noise(q.x*37, q.y*37, p.salt()+4))
	d := dots(q.x, q.y*0.75, cell*0.62, cell*0.36, p.salt()+9)
	return col.to(p.scaleDark.to(p.scalePale, patch), d*(0.45+0.45*patch))
}
