package drawing

// coxae are the first segments of the legs, seen as knobs in their sockets.
func (c *canvas) coxae(p *build) {
	_, meso, _ := p.breastEnds()
	fore := pt{p.hipOut(0), 0.3*p.pronFrom + 0.7*p.pronTo}
	middle := pt{p.hipOut(1), meso - 0.012}
	for _, side := range []float64{1, -1} {
		draw := func() {
			done := c.show("fore-coxae", "fore-coxal-cavities")
			c.foreCavity(p, fore.mirrored(side), side)
			c.foreCoxa(p, fore.mirrored(side), side)
			done()
			done = c.show("middle-coxae-distance")
			c.knob(middle.mirrored(side), p.elyHalf*0.13, p.elyHalf*0.11, 0.2*side, p.under.dark(1.15))
			done()
		}
		if side > 0 {
			draw()
		} else {
			c.unmarked(draw)
		}
	}
}

// foreCavity is the dark socket; an open one has a gap to the hind edge of the prothorax, a closed one a bar behind it.
func (c *canvas) foreCavity(p *build, at pt, side float64) {
	w := p.pronHalf
	c.ellipse(at, w*0.27, w*0.24, 0, flat(p.under.base.mul(0.28)))
	if p.is("fore-coxal-cavities", "open") {
		c.fill([]pt{{at.x - side*w*0.12, at.y}, {at.x + side*w*0.14, at.y}, {at.x + side*w*0.10, p.pronTo + 0.002}, {at.x - side*w*0.20, p.pronTo + 0.002}}, flat(p.under.base.mul(0.28)))
	}
}

func (c *canvas) foreCoxa(p *build, at pt, side float64) {
	w := p.pronHalf
	s := p.under.dark(1.3)
	switch p.state("fore-coxae", "round") {
	case "transverse":
		c.knob(at.add(pt{side * w * 0.05, 0}), w*0.33, w*0.13, -0.1*side, s)
	case "projecting":
		c.fill(smoothClosed([]pt{
			{at.x + side*w*0.22, at.y - w*0.2}, {at.x - side*w*0.02, at.y - w*0.22}, {at.x - side*w*0.2, at.y + w*0.05},
			{at.x - side*w*0.24, at.y + w*0.36}, {at.x - side*w*0.12, at.y + w*0.42}, {at.x + side*w*0.1, at.y + w*0.2},
		}, 6), func(q pt) rgba {
			return s.lit(domed((q.x-at.x)/(w*0.24), (q.y-at.y)/(w*0.4), 1.4))
		})
	default:
		c.knob(at, w*0.2, w*0.19, 0, s)
	}
}

func (c *canvas) knob(at pt, rx, ry, angle float64, s skin) {
	c.ellipse(at, rx*1.1, ry*1.1, angle, flat(s.base.mul(0.35)))
	c.ellipse(at, rx, ry, angle, func(q pt) rgba {
		return s.lit(norm3((q.x-at.x)/(rx*0.95), (q.y-at.y)/(ry*0.95), 0.75))
	})
}

// process is the backward process of the prosternum between the fore coxae: a spine that stands free in an open pit,
// one that is fitted into a groove, or nearly nothing.
func (c *canvas) process(p *build) {
	defer c.show("prosternal-process")()
	w, y := p.pronHalf, p.pronTo
	s := p.under.dark(1.25)
	dark := flat(p.under.base.mul(0.18))
	start := p.pronFrom*0.4 + p.pronTo*0.6
	switch p.state("prosternal-process", "absent-or-short") {
	case "click-spine":
		// The prothorax is loosely joined: a dark gap all across.
		c.fill([]pt{{-w * 0.92, y - 0.004}, {w * 0.92, y - 0.004}, {w * 0.92, y + 0.008}, {-w * 0.92, y + 0.008}}, dark)
		c.fill(smoothClosed([]pt{{-w * 0.16, y + 0.004}, {w * 0.16, y + 0.004}, {w * 0.15, y + 0.05}, {0, y + 0.088}, {-w * 0.15, y + 0.05}}, 6), dark)
		c.fill(smoothClosed([]pt{{-w * 0.11, start}, {w * 0.11, start}, {w * 0.085, y}, {w * 0.045, y + 0.045}, {0, y + 0.066}, {-w * 0.045, y + 0.045}, {-w * 0.085, y}}, 6),
			tubeShade(pt{0, start}, pt{0, y}, w*0.11, s))
	case "fixed-spine":
		c.fill(smoothClosed([]pt{{-w * 0.17, start}, {w * 0.17, start}, {w * 0.18, y}, {w * 0.11, y + 0.045}, {0, y + 0.064}, {-w * 0.11, y + 0.045}, {-w * 0.18, y}}, 6),
			tubeShade(pt{0, start}, pt{0, y}, w*0.22, s))
		c.stroke([]pt{{-w * 0.185, y - 0.01}, {-w * 0.12, y + 0.046}, {0, y + 0.067}, {w * 0.12, y + 0.046}, {w * 0.185, y - 0.01}}, 0.0018, 0.0018, p.under.base.mul(0.4))
	default:
		c.fill(smoothClosed([]pt{{-w * 0.06, start}, {w * 0.06, start}, {w * 0.03, y - 0.035}, {-w * 0.03, y - 0.035}}, 5), tubeShade(pt{0, start}, pt{0, y}, w*0.07, s))
	}
}
