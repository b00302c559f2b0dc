package drawing

import "math"

func (c *canvas) abdomenAbove(p *build) {
	cover := p.cover
	if cover == "whole" {
		c.tailSpine(p)
		if p.is("elytra-texture", "soft") { // seen where the wing cases gape
			c.plates(p.elyFrom+0.25, 0.965, 6, func(y float64) float64 { return p.abdomenHalf(y) * 0.9 }, p.under, p)
		}
		return
	}
	defer c.show("elytra-cover", "pygidium")()
	c.tailSpine(p)
	from := p.elyTo - 0.05
	n := 2
	switch cover {
	case "short":
		n = 6
	case "absent":
		from, n = p.elyFrom, 9
	}
	c.plates(from, 1, n, p.abdomenHalf, p.under.dark(1.05), p)
}

// plates draws a body of n rings, each overlapping the next.
func (c *canvas) plates(from, to float64, n int, half func(y float64) float64, s skin, p *build) {
	for i := n - 1; i >= 0; i-- {
		y0, y1 := lerp(from, to, float64(i)/float64(n)), lerp(from, to, float64(i+1)/float64(n))
		c.fill(outline(y0-0.01, y1, half), func(q pt) rgba {
			n3 := domed(q.x/max(half(q.y), 0.01), ((q.y-y0)/(y1-y0)-0.3)*1.1, 0.9)
			col := s.lit(n3).mul(1 - 0.2*dots(q.x, q.y, 0.011, 0.003, p.salt()+21))
			return col.mul(1 - 0.45*smooth(y1-0.007, y1-0.001, q.y))
		})
	}
}

func (c *canvas) tailSpine(p *build) {
	c.mark(box{-p.elyHalf * 0.4, 0.93, p.elyHalf * 0.4, 1.01}, "abdomen-tip")
	if !p.is("abdomen-tip", "pointed") {
		return
	}
	defer c.show("abdomen-tip")()
	c.fill(smoothClosed([]pt{{-p.elyHalf * 0.3, 0.93}, {-0.012, 1.04}, {0, 1.12}, {0.012, 1.04}, {p.elyHalf * 0.3, 0.93}}, 6),
		tubeShade(pt{0, 0.9}, pt{0, 1.1}, p.elyHalf*0.3, p.under))
}

// vesicles are soft orange bladders pushed out between pronotum and elytra and at the abdomen.
func (c *canvas) vesicles(p *build) {
	c.mark(box{p.elyHalf * 0.8, p.elyFrom - 0.07, p.elyHalf + 0.05, p.elyFrom + 0.32}, "side-vesicles")
	if !p.is("side-vesicles", "present") {
		return
	}
	defer c.show("side-vesicles")()
	s := skin{rgba{0.88, 0.42, 0.14, 1}, 0.8, false}
	for _, side := range []float64{1, -1} {
		for i, y := range []float64{p.elyFrom - 0.03, p.elyFrom + 0.28} {
			at := pt{side * (p.elyHalf + 0.005), y}
			r := 0.035 - 0.008*float64(i)
			c.ellipse(at, r*1.2, r*0.8, 0.2*side, func(q pt) rgba { return s.lit(norm3((q.x-at.x)/r, (q.y-at.y)/r, 0.9)) })
		}
	}
}

func (c *canvas) elytraAbove(p *build) {
	c.mark(box{-p.elyHalf, p.elyFrom, p.elyHalf, 1}, "elytra-cover", "body-form")
	c.mark(box{-p.elyHalf * 0.5, 0.85, p.elyHalf * 0.5, 1}, "pygidium")
	if p.cover == "absent" {
		return
	}
	defer c.show("elytra-cover", "elytra-sides", "elytra-surface", "elytra-texture", "body-form", "lustre", "body-surface")()
	soft := p.is("elytra-texture", "soft")
	shade := c.elytraShade(p)
	for _, side := range []float64{-1, 1} {
		c.fill(c.elytron(p, side, soft), shade)
	}
	c.scutellum(p)
}

// elytron is the outline of one wing case; soft ones gape and are a little warped.
func (c *canvas) elytron(p *build, side float64, soft bool) []pt {
	const n = 110
	var shape []pt
	gape := func(t float64) float64 {
		if !soft {
			return 0
		}
		return 0.05 * p.elyHalf / 0.2 * math.Pow(t, 2.2)
	}
	at := func(t float64) float64 { return lerp(p.elyFrom, p.elyTo, t) }
	for i := 0; i <= n; i++ {
		t := 0.5 - 0.5*math.Cos(math.Pi*float64(i)/n)
		x := p.elytraHalf(at(t)) + gape(t)*0.7
		if soft {
			x *= 1 + 0.012*math.Sin(t*23+2*c.jitter("warp", int(side)))
		}
		shape = append(shape, pt{side * x, at(t)})
	}
	end := p.elytraHalf(p.elyTo)
	if end > 0.02 { // cut off: rounded inner corner
		for _, q := range []pt{{0.75, 0.012}, {0.4, 0.014}, {0.14, 0.008}} {
			shape = append(shape, pt{side * (end*q.x + gape(1)*0.9), p.elyTo + q.y})
		}
	}
	for i := n; i >= 0; i-- {
		t := float64(i) / n
		shape = append(shape, pt{side * gape(t) * 0.8, at(t)})
	}
	return shape
}

func (c *canvas) elytraShade(p *build) shader {
	base := p.elytra
	long := p.elyTo - p.elyFrom
	surface := p.state("elytra-surface", "plain")
	px := 1 / c.scale
	return func(q pt) rgba {
		w := max(p.elytraHalf(q.y), 0.015)
		u := q.x / w
		t := (q.y - p.elyFrom) / long
		n := domed(u, (t-0.42)*1.25, p.dome)
		s := base
		s.base = p.pattern(s.base, u, t)
		relief, ink := sculpture(surface, q, u, t, w, px, p.salt())
		n = norm3(n.x+relief*sign(q.x), n.y+0.05*noise(q.x*55, q.y*30, p.salt()), n.z)
		col := p.coat(s.lit(n), q, 0.0125)
		suture := smooth(max(0.0022, 0.9*px), 0, math.Abs(q.x))
		edge := smooth(0.955, 1, math.Abs(u))
		return col.mul((1 - 0.6*suture) * (1 - ink) * (1 - 0.4*edge))
	}
}

func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}

// sculpture gives the sideways tilt and the darkening of the surface at a point.
func sculpture(kind string, q pt, u, t, w, px float64, salt uint64) (relief, ink float64) {
	const rows = 9 // striae of one elytron, the usual number in the order (common practice, no source)
	k := math.Abs(u) * rows
	fine := 0.22 * dots(q.x, q.y, 0.0105, 0.0026, salt+31)
	fade := smooth(0, 0.05, t) * smooth(1, 0.93, t) * smooth(1, 0.95, math.Abs(u))
	f := k - math.Floor(k) - 0.5 // 0 on the line
	wide := max(0.11, 1.2*px*rows/w)
	switch kind {
	case "striate":
		line := smooth(wide*1.5, wide*0.3, math.Abs(f))
		return fade * 0.30 * math.Sin(2*math.Pi*f), fade*0.62*line + 0.25*fine
	case "punctate-rows":
		step := w / rows * 1.25
		phase := q.y/step + 0.5*math.Mod(math.Floor(k), 2)
		g := phase - math.Floor(phase) - 0.5
		hole := smooth(0.34, 0.20, math.Hypot(f*1.0, g*1.0))
		return fade * 0.05 * math.Sin(2*math.Pi*f), fade * 0.62 * hole
	case "ridged":
		kk := math.Abs(u) * 3.6
		g := kk - math.Floor(kk) - 0.5
		ridge := math.Exp(-g * g / 0.012)
		return fade * -0.9 * g * ridge * 6 * 0.55, 0.5*fine + fade*0.22*(1-ridge)*smooth(0.5, 0.1, math.Abs(g))
	case "net-veined":
		kk := math.Abs(u) * 4
		g := kk - math.Floor(kk) - 0.5
		along := math.Exp(-g * g / 0.014)
		cell := w / 4 * 0.8
		ph := q.y/cell + 0.4*noise(math.Floor(kk)*3.7, q.y*9, salt)
		h := ph - math.Floor(ph) - 0.5
		cross := math.Exp(-h * h / 0.010)
		vein := max(along, cross)
		return fade * -1.6 * g * along, fade * 0.42 * (1 - vein)
	}
	return 0, fine
}

var (
	spotBlack  = hsl(20, 0.2, 0.07)
	bandPale   = hsl(40, 0.55, 0.6)
	bandOrange = hsl(24, 0.9, 0.48)
)

// pattern changes the ground colour where the livery has spots, bands or blotches.
func (p *build) pattern(base rgba, u, t float64) rgba {
	switch p.spots {
	case "":
		return base
	case "spots":
		for _, s := range []pt{{0, 0.07}, {0.52, 0.20}, {0.38, 0.50}, {0.72, 0.55}, {0.42, 0.80}} {
			d := math.Hypot(math.Abs(u)-s.x, (t-s.y)*1.25)
			if d < 0.17 {
				return base.to(spotBlack, smooth(0.16, 0.135, d))
			}
		}
	case "bands":
		wave := 0.035*math.Sin(math.Abs(u)*8+1) + 0.02*noise(u*9, t*9, p.salt())
		pale := base.to(bandPale, 0.75)
		for _, y := range []float64{0.28, 0.62} {
			if d := math.Abs(t - y + wave); d < 0.07 {
				return base.to(pale, smooth(0.065, 0.045, d))
			}
		}
	case "orange":
		wave := 0.045 * math.Sin(math.Abs(u)*9)
		for _, y := range []float64{0.2, 0.68} {
			if d := math.Abs(t - y + wave); d < 0.12 && math.Abs(u) > 0.1 {
				return base.to(bandOrange, smooth(0.115, 0.09, d)*smooth(0.1, 0.2, math.Abs(u)))
			}
		}
	case "blotch":
		k := noise(u*3.1, t*5.3, p.salt()+6) + 0.5*noise(u*9, t*12, p.salt()+7)
		return base.mul(0.75).to(base.mul(1.5), smooth(-0.3, 0.5, k))
	}
	return base
}

func (c *canvas) scutellum(p *build) {
	w := p.elyHalf * 0.13
	y := p.pronTo - 0.008
	c.mark(box{-w * 1.6, y, w * 1.6, y + w*2.4}, "scutellum")
	state := p.state("scutellum", "visible")
	if state == "hidden" {
		return
	}
	defer c.show("scutellum")()
	shape := []pt{{-w, y}, {-w * 0.9, y + w*0.6}, {0, y + w*1.9}, {w * 0.9, y + w*0.6}, {w, y}}
	if state == "heart-shaped" {
		y := y + 0.012
		shape = []pt{{0, y + w*0.5}, {-w * 0.6, y}, {-w * 1.1, y + w*0.4}, {-w * 0.9, y + w}, {0, y + w*2}, {w * 0.9, y + w}, {w * 1.1, y + w*0.4}, {w * 0.6, y}}
	}
	c.fill(smoothClosed(shape, 5), func(q pt) rgba {
		return p.pron.lit(domed(q.x/w, (q.y-y-w)/w, 0.5)).mul(1 - 0.5*smooth(w*0.75, w*1.1, math.Abs(q.x)+(q.y-y)*0.4))
	})
}

// hairs are drawn last, over the body.
func (c *canvas) hairs(p *build) {
	if !p.is("body-surface", "hairy") || c.pass != painting {
		return
	}
	defer c.show("body-surface")()
	col := hsl(40, 0.4, 0.62)
	for i := range 900 {
		y := lerp(p.pronFrom+0.02, 0.985, 0.5+0.5*c.jitter("hair-y", i))
		w := p.elytraHalf(y)
		if y < p.pronTo {
			w = p.pronotumWidth(y)
		}
		x := w * 1.0 * c.jitter("hair-x", i)
		long := 0.022 * (1 + 0.35*c.jitter("hair-l", i))
		lean := pt{0.35*x/max(w, 0.01) + 0.25*c.jitter("hair-d", i), 1}.unit()
		a := pt{x, y}
		col.a = 0.55 + 0.25*c.jitter("hair-a", i)
		c.stroke([]pt{a, a.add(lean.mul(long * 0.5)).add(pt{0.12 * long * sign(x), 0}), a.add(lean.mul(long))}, 0.0009, 0.0002, col)
	}
}
