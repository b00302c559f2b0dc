package drawing

import "math"

// lateral draws the beetle from its left side: x runs from head to tail, y downward.
func (c *canvas) lateral(p *build) {
	defer c.show("body-length-mm", "body-profile", "body-form")()
	c.lateralLegs(p, true)
	c.abdomenSide(p)
	c.headSide(p)
	c.pronotumSide(p)
	c.elytraSide(p)
	c.lateralLegs(p, false)
}

// topAt is the height of the back over the middle line at x.
func (p *build) topAt(x float64) float64 {
	h := p.height
	if x < p.pronTo {
		t := clamp((x-p.pronFrom)/(p.pronTo-p.pronFrom), 0, 1)
		return h * lerp(0.62, 0.9, math.Sin(t*math.Pi/2)) * (1 - 0.05*smooth(0.8, 1, t))
	}
	t := clamp((x-p.elyFrom)/(1-p.elyFrom), 0, 1)
	if p.bare {
		return h * lerp(0.88, 0.45, t*t) * tip(t, 0.8)
	}
	rise := lerp(0.86, 1, smooth(0, 0.35, t))
	from := 0.38
	if p.state("body-profile", profileOf(p.form)) == "cylindrical" {
		from = 0.72
	}
	return h * rise * tip(t, from)
}

// bellyAt is the depth under the middle line at x.
func (p *build) bellyAt(x float64) float64 {
	t := clamp((x-p.pronFrom)/(1-p.pronFrom), 0, 1)
	depth := 0.62
	if p.state("body-profile", profileOf(p.form)) == "cylindrical" {
		depth = 0.85
	}
	return p.height * depth * lerp(0.7, 1, smooth(0, 0.45, t)) * tip(t, 0.6)
}

// sideOutline is a part between two profiles.
func sideOutline(x0, x1 float64, top, bottom func(x float64) float64) []pt {
	const n = 80
	shape := make([]pt, 0, 2*n+2)
	for i := 0; i <= n; i++ {
		x := lerp(x0, x1, 0.5-0.5*math.Cos(math.Pi*float64(i)/n))
		shape = append(shape, pt{x, top(x)})
	}
	for i := n; i >= 0; i-- {
		shape = append(shape, pt{shape[i].x, bottom(shape[i].x)})
	}
	return shape
}

// sideNormal is the normal of a body that is round from back (v = -1) to belly (v = 1).
func sideNormal(v, u float64) vec3 {
	v = clamp(v, -1, 1)
	return norm3(0.5*u*u*u, 1.15*v*(0.55+0.6*v*v), 1)
}

func (c *canvas) abdomenSide(p *build) {
	from := p.elyFrom - 0.02
	bare := p.bare
	c.mark(box{0.9, -p.height * 0.35, 1.02, p.height * 0.35}, "abdomen-tip", "pygidium")
	c.mark(box{p.pronTo - 0.03, -p.height * 0.2, p.pronTo + 0.3, p.height * 0.4}, "side-vesicles")
	if p.is("side-vesicles", "present") {
		s := skin{rgba{0.88, 0.42, 0.14, 1}, 0.8, false}
		c.knob(pt{p.elyFrom, p.height * 0.45}, 0.035, 0.028, 0, s)
		c.knob(pt{p.elyFrom + 0.27, p.height * 0.5}, 0.03, 0.024, 0, s)
	}
	if p.is("abdomen-tip", "pointed") {
		done := c.show("abdomen-tip")
		c.fill(smoothClosed([]pt{{0.93, -p.height * 0.2}, {1.04, -p.height * 0.02}, {1.12, p.height * 0.02}, {1.04, p.height * 0.08}, {0.93, p.height * 0.25}}, 6), tubeShade(pt{0.9, 0}, pt{1.1, 0}, p.height*0.3, p.under))
		done()
	}
	top := func(x float64) float64 { return -p.topAt(x) * 0.94 }
	defer c.show("elytra-cover", "pygidium")()
	_, _, meta := p.breastEnds()
	n := float64(p.ventrites)
	c.fill(sideOutline(from, 0.99, top, p.bellyAt), func(q pt) rgba {
		v := (q.y + 0.1*p.height) / (p.height * 0.9)
		col := p.under.lit(sideNormal(v, 0)).mul(1 - 0.2*dots(q.x, q.y, 0.012, 0.003, p.salt()+81))
		k := (q.x - meta - 0.15*(q.y)) / (0.99 - meta) * n
		if q.x > meta || bare {
			f := k - math.Floor(k)
			col = col.mul(1 - 0.5*smooth(0.88, 0.985, f)*smooth(1.0, 0.99, f))
		}
		if k > n-2 && q.y > 0 && p.is("light-organ", "present") {
			col = rgba{0.93, 0.89, 0.68, 1}.mul(0.9)
		}
		return col
	})
}

func (c *canvas) pronotumSide(p *build) {
	top := func(x float64) float64 { return -p.topAt(x) }
	bottom := func(x float64) float64 {
		t := (x - p.pronFrom) / (p.pronTo - p.pronFrom)
		return p.height * (0.30 + 0.28*math.Sin(math.Pi*clamp(t, 0, 1)))
	}
	ridge := func(x float64) float64 { return p.height * (0.02 + 0.12*(x-p.pronFrom)/(p.pronTo-p.pronFrom)) }
	done := c.show("fore-coxae")
	c.knob(pt{lerp(p.pronFrom, p.pronTo, 0.7), p.height * 0.55}, 0.03, 0.035, 0, p.under)
	done()
	defer c.show("pronotum-edge", "prosternal-process")()
	c.fill(sideOutline(p.pronFrom, p.pronTo, top, bottom), func(q pt) rgba {
		v := (q.y + 0.15*p.height) / (p.height * 0.85)
		s := p.pron
		if q.y > ridge(q.x) {
			s = p.under
		}
		return p.coat(s.lit(sideNormal(v, 0)), q, 0.0125).mul(1 - 0.28*dots(q.x, q.y, 0.0125, 0.0034, p.salt()+82))
	})
	if p.is("pronotum-hind-corners", "pointed") {
		c.fill(smoothClosed([]pt{{p.pronTo - 0.03, -p.height * 0.1}, {p.pronTo + 0.05, p.height * 0.12}, {p.pronTo + 0.04, p.height * 0.17}, {p.pronTo - 0.03, p.height * 0.25}}, 5), tubeShade(pt{p.pronTo, 0}, pt{p.pronTo, p.height}, 0.06, p.pron))
	}
	c.sideRidge(p, ridge)
}

func (c *canvas) sideRidge(p *build, ridge func(x float64) float64) {
	begin := map[string]float64{"complete": 0.03, "partial": 0.5}[p.state("pronotum-edge", "complete")]
	c.mark(box{p.pronFrom, -p.height * 0.1, p.pronTo, p.height * 0.3}, "pronotum-edge")
	if begin == 0 {
		return
	}
	var line []pt
	for i := range 20 {
		x := lerp(p.pronFrom, p.pronTo, lerp(begin, 0.99, float64(i)/19))
		line = append(line, pt{x, ridge(x)})
	}
	c.stroke(line, 0.0032, 0.0032, p.pron.base.mul(0.25))
	for i := range line {
		line[i].y -= 0.004
	}
	c.stroke(line, 0.0018, 0.0018, p.pron.base.to(rgba{1, 1, 0.95, 1}, 0.5))
}

func (c *canvas) elytraSide(p *build) {
	if p.cover == "absent" {
		return
	}
	defer c.show("elytra-cover", "elytra-texture", "elytra-surface", "lustre", "body-surface", "pygidium")()
	long := p.elyTo - p.elyFrom
	top := func(x float64) float64 { return -p.topAt(x) - 0.004 }
	edge := func(x float64) float64 {
		t := (x - p.elyFrom) / long
		return p.height * (0.20 - 0.10*t) * tip(t, 0.9)
	}
	if p.elyTo > 0.99 {
		inner := edge
		edge = func(x float64) float64 { return max(inner(x), top(x)) }
	}
	px := 1 / c.scale
	surface := p.state("elytra-surface", "plain")
	c.fill(sideOutline(p.elyFrom, p.elyTo, top, edge), func(q pt) rgba {
		t := (q.x - p.elyFrom) / long
		h := max(p.topAt(q.x), 0.01)
		up := clamp(-q.y/h, -0.3, 1)
		u := 1 - math.Asin(clamp(up, 0, 1))*2/math.Pi*0.95 - 0.03 // lateral position on the dome that is seen here
		if up < 0 {
			u = 1
		}
		s := p.elytra
		s.base = p.pattern(s.base, u*0.95, t)
		relief, dark := sculpture(surface, pt{q.y, q.x}, u*0.93, t, p.elyHalf, px*1.6, p.salt())
		n := sideNormal(-up*1.0+0.1, (t-0.4)*1.3)
		n = norm3(n.x, n.y-relief*0.8, n.z)
		return p.coat(s.lit(n), q, 0.0125).mul((1 - dark) * (1 - 0.4*smooth(edge(q.x)-0.008, edge(q.x), q.y)))
	})
}

func (c *canvas) lateralLegs(p *build, far bool) {
	if far {
		was := c.muted
		c.muted = true
		defer func() { c.muted = was }()
	}
	_, meso, meta := p.breastEnds()
	hips := []float64{lerp(p.pronFrom, p.pronTo, 0.72), meso + 0.01, meta + 0.01}
	knees := []pt{{-0.13, 0.04}, {-0.03, 0.13}, {0.14, 0.07}}
	ankles := []pt{{-0.22, 0.20}, {-0.02, 0.29}, {0.21, 0.26}}
	headings := []float64{2.75, 2.85, 0.3}
	s, w := p.limb, 0.019
	if far {
		s, w = s.dark(0.75), 0.017
	}
	for place := range 3 {
		hip := pt{hips[place], p.bellyAt(hips[place]) * 0.85}
		shift := pt{}
		if far {
			shift = pt{0.03, -0.02}
		}
		base := hip.add(shift)
		outer := 1.0
		if place < 2 {
			outer = -1
		}
		c.drawLeg(p.leg(place), hip, base.add(knees[place]), base.add(ankles[place]), headings[place], 0.15, w, outer, s)
	}
}
