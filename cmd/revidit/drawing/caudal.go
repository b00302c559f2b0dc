package drawing

import "math"

// caudal is the tip of the abdomen from behind: the arch of the wing cases, the pygidium under it, and the last
// ventrite below.
func (c *canvas) caudal(p *build) {
	w := 0.25
	h := w * clamp(p.height/p.elyHalf*1.25, 0.4, 1.25)
	bare := p.is("pygidium", "exposed") || !p.is("elytra-cover", "whole") && p.States["elytra-cover"] != ""
	arch := func(x float64) float64 { return -h * sqrt(1-x*x/(w*w)) }
	belly := func(x float64) float64 { return h * 0.42 * sqrt(1-x*x/(w*w)) }
	c.fill(sideOutline(-w, w, func(x float64) float64 { return arch(x) * 0.9 }, belly), func(q pt) rgba {
		k := 1.0
		for i := range 3 { // hind edges of the last ventrites
			e := belly(q.x) * (0.92 - 0.3*float64(i))
			k = min(k, 1-0.45*smooth(0.006, 0.001, math.Abs(q.y-e)))
		}
		return p.under.lit(domed(q.x/w, q.y/h, 0.8)).mul(k * (1 - 0.2*dots(q.x, q.y, 0.014, 0.004, 13)))
	})
	c.pygidium(p, w, h, bare)
	if !p.bare {
		c.archElytra(p, w, h, arch, bare)
	}
	c.tailFromBehind(p, w, h)
}

func (c *canvas) pygidium(p *build, w, h float64, bare bool) {
	defer c.show("pygidium", "elytra-cover")()
	size := 0.28
	if bare {
		size = 0.78
	}
	y := h * 0.12
	c.fill(smoothClosed([]pt{{0, y - h*size*1.2}, {w * size * 0.8, y - h*size*0.75}, {w * size * 0.85, y - h*size*0.1}, {0, y + h*size*0.3}, {-w * size * 0.85, y - h*size*0.1}, {-w * size * 0.8, y - h*size*0.75}}, 8), func(q pt) rgba {
		n := domed(q.x/(w*size), (q.y-y+h*size*0.4)/(h*size), 0.9)
		edge := smooth(0.004, 0.001, math.Abs(q.y-(y-h*size*0.1-0.9*math.Abs(q.x)*0.1)))
		return p.under.dark(1.15).lit(n).mul((1 - 0.3*dots(q.x, q.y, 0.013, 0.0042, 19)) * (1 - 0.15*edge))
	})
}

// archElytra are the wing cases seen end on; where the pygidium is bare their ends leave a gap above it.
func (c *canvas) archElytra(p *build, w, h float64, arch func(float64) float64, bare bool) {
	defer c.show("elytra-cover", "elytra-surface")()
	reach := 0.12
	if bare {
		reach = 0.66
	}
	surface := p.state("elytra-surface", "plain")
	px := 1 / c.scale
	for _, side := range []float64{-1, 1} {
		inner := func(x float64) float64 {
			k := math.Abs(x) / w
			return -h * reach * sqrt(1-k*k) * (1 + 0.1*math.Cos(k*math.Pi))
		}
		shape := sideOutline(-0.0005*side, w*side, arch, inner)
		c.fill(shape, func(q pt) rgba {
			u := q.x / w
			s := p.elytra
			v := clamp(q.y/min(arch(q.x), -0.01), 0, 1)
			s.base = p.pattern(s.base, u, 1-0.25*v)
			relief, dark := sculpture(surface, pt{q.x, q.y}, u, 0.8, w, px, p.salt())
			n := norm3(1.1*u*(0.5+0.6*u*u)+relief*side, 0.55*(0.5-v)*1.4, 0.85)
			suture := 0.6 * smooth(0.0028, 0.0008, math.Abs(q.x))
			return p.coat(s.lit(n), q, 0.0125).mul((1 - suture) * (1 - dark*0.8) * (1 - 0.45*smooth(inner(q.x)-0.007, inner(q.x), q.y)))
		})
	}
}

func (c *canvas) tailFromBehind(p *build, w, h float64) {
	c.mark(box{-w * 0.3, -h * 0.15, w * 0.3, h * 0.5}, "abdomen-tip")
	if !p.is("abdomen-tip", "pointed") {
		return
	}
	defer c.show("abdomen-tip")()
	at := pt{0, h * 0.12}
	for i := range 8 { // a spine that comes towards the eye
		r := w * 0.26 * (1 - float64(i)/9)
		centre := at.add(pt{0, h * 0.04 * float64(i)})
		c.ellipse(centre, r, r*0.85, 0, func(q pt) rgba {
			return p.under.dark(1.2).lit(norm3((q.x-centre.x)/r, (q.y-centre.y)/r, 0.8))
		})
	}
}
