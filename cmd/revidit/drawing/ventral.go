package drawing

import "math"

// ventral draws the beetle from below.
func (c *canvas) ventral(p *build) {
	defer c.show("body-length-mm")()
	c.dorsalAntennae(p)
	c.tailSpine(p)
	c.vesicles(p)
	c.elytraRim(p)
	c.ventrites(p)
	c.hindBreast(p)
	c.headBelow(p)
	c.foreBreast(p)
	c.breastBelow(p)
	c.coxae(p)
	c.process(p)
	c.hollowsBelow(p)
	c.ventralLegs(p)
}

// breastEnds are where prosternum, mesosternum and metasternum end, along the body.
func (p *build) breastEnds() (pro, meso, meta float64) {
	return p.pronTo, p.elyFrom + 0.10, p.elyFrom + 0.29
}

func (c *canvas) ventralLegs(p *build) {
	_, meso, meta := p.breastEnds()
	hips := []float64{lerp(p.pronFrom, p.pronTo, 0.7), meso - 0.01, meta + 0.005}
	edge := []float64{p.pronHalf, p.elyHalf, p.elyHalf}
	knees := []pt{{0.12, -0.10}, {0.14, 0.0}, {0.15, 0.10}}
	ankles := []pt{{0.15, -0.24}, {0.22, 0.15}, {0.20, 0.33}}
	headings := []float64{-1.15, 0.75, 1.05}
	for _, side := range []float64{1, -1} {
		for place := range 3 {
			hip := pt{p.hipOut(place), hips[place]}
			base := pt{edge[place], hips[place]}
			knee, ankle := base.add(knees[place]), base.add(ankles[place])
			heading := headings[place] + 0.1*c.jitter("below", place)
			long := 0.155
			if p.is("legs-packed", "yes") {
				knee, ankle = pt{edge[place] * 0.9, hips[place] - 0.02}, pt{edge[place] * 0.4, hips[place] + 0.035}
				heading, long = 0.15, edge[place]*0.5
			}
			draw := func() {
				c.drawLeg(p.leg(place), hip.mirrored(side), knee.mirrored(side), ankle.mirrored(side), heading, long, 0.018, side, p.limb)
			}
			if side > 0 {
				draw()
				continue
			}
			heading = math.Pi - heading
			c.unmarked(draw)
		}
	}
}

// hipOut is how far from the middle a leg joins the body.
func (p *build) hipOut(place int) float64 {
	if place == 0 {
		return p.pronHalf * 0.3
	}
	if place == 2 {
		return p.elyHalf * 0.5
	}
	if p.is("middle-coxae-distance", "touching") {
		return p.elyHalf * 0.15
	}
	return p.elyHalf * 0.34
}

// elytraRim is the edge of the wing cases, which is seen around the abdomen.
func (c *canvas) elytraRim(p *build) {
	if p.cover == "absent" {
		return
	}
	rim := p.elytra.dark(0.8)
	c.fill(outline(p.elyFrom, min(p.elyTo, 0.995), func(y float64) float64 { return p.elytraHalf(y) }), func(q pt) rgba {
		return rim.lit(domed(q.x/max(p.elytraHalf(q.y), 0.01), 0, 0.8))
	})
}

// belowHalf is the half width of breast and abdomen inside the rim.
func (p *build) belowHalf(y float64) float64 {
	w := p.abdomenHalf(y)
	if !p.bare {
		w *= 0.94
	}
	return w
}

func (c *canvas) ventrites(p *build) {
	_, _, meta := p.breastEnds()
	defer c.show("ventrites")()
	n, from, to := p.ventrites, meta-0.005, 0.985
	fused := p.count("ventrites-fused", 0)
	edges := make([]float64, n+1)
	for i := range edges {
		t := float64(i) / float64(n)
		edges[i] = lerp(from, to, t+0.05*math.Sin(math.Pi*t))
	}
	for i := n - 1; i >= 0; i-- {
		done := func() {}
		switch {
		case i == 0:
			done = c.show("first-ventrite", "hind-coxal-plates", "postcoxal-lines")
		case i >= n-2:
			done = c.show("light-organ")
		}
		if i < max(fused, 3) {
			inner := done
			outer := c.show("ventrites-fused")
			done = func() { outer(); inner() }
		}
		c.ventrite(p, i, edges, i >= n-2 && p.is("light-organ", "present"), i+1 < fused)
		done()
	}
}

// ventrite is one plate; its hind edge bows backward, and where it is fused with the next only a faint line remains.
func (c *canvas) ventrite(p *build, i int, edges []float64, glowing, fused bool) {
	y0, y1 := edges[i], edges[i+1]
	last := i == len(edges)-2
	bow := func(x float64) float64 {
		if last {
			return 0
		}
		u := x / max(p.belowHalf(y1), 0.01)
		return 0.010 * (1 - u*u)
	}
	shape := outline(y0-0.02, y1, p.belowHalf)
	if !last {
		for k := range 21 { // bow the hind edge
			x := lerp(-1, 1, float64(k)/20) * p.belowHalf(y1)
			shape = insertEdge(shape, k, pt{x, y1 + bow(x)})
		}
	}
	s := p.under
	if glowing {
		s = skin{rgba{0.93, 0.89, 0.68, 1}, 0.35, false}
	}
	depth := 0.5
	if fused {
		depth = 0.16
	}
	c.fill(shape, func(q pt) rgba {
		n := domed(q.x/max(p.belowHalf(q.y), 0.01), ((q.y-y0)/(y1-y0)-0.45)*1.1, 0.75)
		end := y1 + bow(q.x)
		k := 1 - depth*smooth(end-0.009, end-0.001, q.y)
		k *= 1 - 0.22*dots(q.x, q.y, 0.0125, 0.0032, p.salt()+40)
		return s.lit(n).mul(k)
	})
}

// insertEdge puts the k-th point of a bowed hind edge between the right and the left half of an outline.
func insertEdge(shape []pt, k int, q pt) []pt {
	at := 91 + k
	mirrored := pt{-q.x, q.y} // from right to left
	return append(shape[:at], append([]pt{mirrored}, shape[at:]...)...)
}

func (c *canvas) hindBreast(p *build) {
	pro, meso, meta := p.breastEnds()
	w := func(y float64) float64 { return p.belowHalf(max(y, p.elyFrom+0.02)) * 0.99 }
	plate := func(y0, y1, tone float64) {
		c.fill(outline(y0, y1, w), func(q pt) rgba {
			n := domed(q.x/w(q.y), ((q.y-y0)/(y1-y0)-0.5)*1.2, 0.7)
			k := 1 - 0.25*dots(q.x, q.y, 0.0125, 0.0034, p.salt()+50)
			groove := smooth(0.004, 0.001, math.Abs(q.x)) * 0.45
			side := smooth(0.004, 0.001, math.Abs(math.Abs(q.x)-w(q.y)*0.78)) * 0.45
			edge := 0.5 * smooth(y1-0.007, y1-0.001, q.y)
			return p.under.dark(tone).lit(n).mul(k * (1 - max(max(groove, side), edge)))
		})
	}
	plate(pro-0.005, meso, 0.92)
	plate(meso-0.004, meta, 1)
	c.hindCoxae(p, meta, w(meta))
}

// hindCoxae are two plates across the hind edge of the breast. Where they divide the first ventrite they reach back
// through it, so that its middle is gone.
func (c *canvas) hindCoxae(p *build, meta, w float64) {
	divided := p.is("first-ventrite", "divided")
	plates := p.state("hind-coxal-plates", "absent")
	reach := map[string]float64{"large": 0.19, "narrow": 0.055}[plates]
	for _, side := range []float64{1, -1} {
		draw := func() {
			defer c.show("hind-coxal-plates", "first-ventrite", "hind-coxae-distance")()
			high, gap := 0.030, w*map[string]float64{"narrowly-apart": 0.12, "wide-apart": 0.4}[p.States["hind-coxae-distance"]]
			shape := []pt{{0.004, meta - 0.02}, {w * 0.55, meta - 0.026}, {w * 0.86, meta - 0.01}, {w * 0.86, meta + 0.006}, {w * 0.5, meta + high*0.7}, {0.004, meta + high}}
			if divided {
				shape = []pt{{0.003, meta - 0.022}, {w * 0.6, meta - 0.03}, {w * 0.93, meta - 0.022}, {w * 0.85, meta + 0.012}, {w * 0.45, meta + 0.06}, {w * 0.16, meta + 0.125}, {0.003, meta + 0.13}}
			}
			if reach > 0 {
				shape = []pt{{0.004, meta - 0.02}, {w * 0.6, meta - 0.026}, {w * 0.93, meta - 0.01}, {w * 0.9, meta + reach*0.55}, {w * 0.5, meta + reach}, {w * 0.1, meta + reach*0.8}, {0.004, meta + reach*0.35}}
			}
			for i := range shape {
				shape[i].x = gap + shape[i].x*(w-gap)/w
				shape[i] = shape[i].mirrored(side)
			}
			s := p.under.dark(1.2)
			c.fill(smoothClosed(shape, 7), func(q pt) rgba {
				n := domed((math.Abs(q.x)/w-0.4)*1.4*side, (q.y-meta)/0.06, 0.7)
				return s.lit(n).mul(1 - 0.15*dots(q.x, q.y, 0.010, 0.0026, p.salt()+60))
			})
			c.stroke(append(smoothClosed(shape, 7), shape[0]), 0.0014, 0.0014, p.under.base.mul(0.4))
		}
		if side > 0 {
			draw()
		} else {
			c.unmarked(draw)
		}
	}
	c.postcoxalLines(p, meta, w)
}

func (c *canvas) postcoxalLines(p *build, meta, w float64) {
	if !p.is("postcoxal-lines", "present") {
		return
	}
	defer c.show("postcoxal-lines")()
	for _, side := range []float64{1, -1} {
		line := curve(pt{side * w * 0.12, meta + 0.028}, pt{side * w * 0.42, meta + 0.22}, pt{side * w * 0.9, meta + 0.035}, 24)
		c.stroke(line, 0.0028, 0.0028, p.under.base.mul(0.3))
		for i := range line {
			line[i].y += 0.004
		}
		c.stroke(line, 0.0014, 0.0014, p.under.base.to(rgba{1, 1, 0.9, 1}, 0.35))
	}
}

func (c *canvas) headBelow(p *build) {
	long := p.headTo - p.headFrom
	front := p.headFrom
	if p.is("head-from-above", "hidden") {
		front += 0.015
	}
	c.mouthAbove(p)
	half := func(y float64) float64 {
		t := (y - front) / long
		return p.headHalf * lerp(0.55, 0.95, smooth(0, 0.5, t))
	}
	c.fill(outline(front, p.headTo+0.03, half), func(q pt) rgba {
		k := 1 - 0.4*smooth(0.005, 0.0015, math.Abs(math.Abs(q.x)-p.headHalf*0.24))
		return p.under.dark(0.95).lit(domed(q.x/half(q.y), (q.y-front)/long-0.5, 0.8)).mul(k)
	})
	c.eyesAbove(p, long)
	for _, side := range []float64{1, -1} { // the labial palps are short
		line := sweep(pt{side * p.headHalf * 0.15, front + 0.012}, -math.Pi/2+0.35*side, 0.035, 0.3*side, 2, 0)
		c.tube(line.at(0), line.at(0.25), line.at(0.5), 0.003, 0.004, p.horn)
		c.tube(line.at(0.5), line.at(0.75), line.at(1), 0.004, 0.0035, p.horn)
	}
}

func (c *canvas) foreBreast(p *build) {
	w := func(y float64) float64 { return p.pronotumWidth(y) }
	from := p.pronFrom
	if p.is("head-from-above", "hidden") {
		from = max(from, p.headTo*0.75)
	}
	c.fill(outline(from, p.pronTo, w), func(q pt) rgba {
		u := math.Abs(q.x) / max(w(q.y), 0.01)
		n := domed(q.x/max(w(q.y), 0.01), ((q.y-from)/(p.pronTo-from)-0.5)*1.3, 0.7)
		suture := 0.5 * smooth(0.03, 0.008, math.Abs(u-0.62-0.1*(q.y-from)))
		k := 1 - 0.25*dots(q.x, q.y, 0.012, 0.0034, p.salt()+70)
		return p.under.lit(n).mul(k * (1 - suture) * (1 - 0.4*smooth(0.95, 1, u)))
	})
	if p.is("pronotum-hind-corners", "pointed") {
		for _, side := range []float64{1, -1} {
			x := p.pronHalf * side
			c.fill(smoothClosed([]pt{{x * 0.7, p.pronTo - 0.02}, {x, p.pronTo - 0.04}, {x * 1.07, p.pronTo + 0.038}, {x * 0.86, p.pronTo + 0.002}}, 5),
				tubeShade(pt{x, p.pronTo - 0.05}, pt{x, p.pronTo + 0.05}, p.pronHalf*0.3, p.under))
		}
	}
}
