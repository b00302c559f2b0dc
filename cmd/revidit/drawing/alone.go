package drawing

import (
	"image"
	"math"
	"strings"

	"golang.org/x/image/font"
)

// antennaAlone is one antenna, spread out along a gentle bow, with the edge of the head it sits on.
func (c *canvas) antennaAlone(p *build) {
	a := p.antenna
	a.length = 0.62
	angle, elbow := -0.16, 0.0
	turn := 0.36
	if a.elbowed {
		angle, elbow, turn = -0.75, 1.25, 0.15
	}
	from := pt{0, 0}
	w := min(0.019, 0.42*a.length/float64(a.n))
	at := pt{-0.055, 0.035}
	c.ellipse(at, 0.062, 0.075, 0.3, func(q pt) rgba {
		n := norm3((q.x-at.x)/0.07, (q.y-at.y)/0.085, 0.75)
		return p.head.lit(n).mul(1 - 0.25*dots(q.x, q.y, 0.009, 0.0026, 5))
	})
	done := c.show("antenna-insertion")
	c.ellipse(from, w*1.5, w*1.5, 0, flat(p.head.base.mul(0.4)))
	done()
	c.drawAntenna(a, sweep(from, angle, a.length, turn, a.shares()[0], elbow), w, -1, p.horn)
}

// legAlone is one leg on its card, large enough to count the segments of its tarsus.
func (c *canvas) legAlone(p *build, place int) {
	w := 0.032
	hip := pt{0, 0}
	knee := pt{0.15, -0.13 - 0.02*c.jitter("knee", place)}
	ankle := knee.add(pt{0.22, 0.10 + 0.015*c.jitter("ankle", place)})
	coxa := pt{-0.02, 0.012}
	c.ellipse(coxa, 0.038, 0.030, -0.4, func(q pt) rgba {
		return p.under.lit(norm3((q.x-coxa.x)/0.042, (q.y-coxa.y)/0.034, 0.7))
	})
	c.drawLeg(p.leg(place), hip, knee, ankle, 0.20, 0.34, w, 1, p.limb)
}

// genitalia are those of a male as they are laid out on a card: the median lobe with a paramere on each side and the
// ring at its base. No character is seen in them; they differ from species to species.
func (c *canvas) genitalia(p *build) {
	s := skin{p.horn.base.to(rgba{0.72, 0.48, 0.22, 1}, 0.7), 0.6, false}
	bend, thick := 0.02*c.jitter("lobe", 0), 0.045+0.006*c.jitter("lobe", 1)
	c.ellipse(pt{0, 0.30}, 0.10, 0.065, 0, func(q pt) rgba { return s.dark(0.8).lit(norm3(q.x/0.11, (q.y-0.30)/0.07, 0.7)) })
	for _, side := range []float64{1, -1} {
		c.fill(smoothClosed([]pt{{side * 0.055, 0.29}, {side * 0.11, 0.14}, {side * 0.085, -0.08}, {side * 0.06, -0.15}, {side * 0.062, -0.06}, {side * 0.07, 0.12}}, 6),
			tubeShade(pt{side * 0.08, 0.3}, pt{side * 0.08, -0.15}, 0.04, s))
	}
	lobe := smoothClosed([]pt{{-thick, 0.30}, {-thick, 0}, {-thick*0.8 + bend, -0.14}, {bend, -0.24}, {thick*0.8 + bend, -0.14}, {thick, 0}, {thick, 0.30}}, 8)
	c.fill(lobe, tubeShade(pt{0, 0.3}, pt{bend, -0.24}, thick, s.dark(1.15)))
}

// labels draws the labels as they are laid out beside the pin when a specimen is photographed: uppermost first.
func (c *canvas) labels(p *build, w, h int) image.Image {
	c.dst = ground(w, h, p.Seed)
	texts := p.Labels
	if len(texts) == 0 {
		texts = []string{"No labels"}
	}
	unit := float64(min(w, h))
	slot := float64(h) * 0.9 / float64(len(texts))
	c.scale, c.origin = 1, pt{}
	for i, text := range texts {
		centre := pt{float64(w) * (0.5 + 0.012*c.jitter("label-x", i)), float64(h)*0.05 + slot*(float64(i)+0.5)}
		c.paper(strings.Split(text, "\n"), centre, float64(w)*0.84, slot*0.9, 0.02*c.jitter("label-turn", i), unit)
	}
	return c.dst
}

// paper draws one label with a pin hole; its text is as large as fits.
func (c *canvas) paper(lines []string, centre pt, maxW, maxH, turn, unit float64) {
	size := min(unit*0.075, maxH/(float64(len(lines))*1.3+0.9))
	longest := func() float64 {
		face, most := faceOf(size), 0.0
		for _, line := range lines {
			most = max(most, float64(font.MeasureString(face, line))/64)
		}
		return most
	}
	if wide := longest() + 2.2*size; wide > maxW {
		size *= maxW / wide
	}
	wide, high := longest()+2.2*size, (float64(len(lines))*1.3+0.7)*size
	c.sin, c.cos = math.Sin(turn), math.Cos(turn)
	c.scale, c.origin = 1, centre
	sheet := []pt{{-wide / 2, -high / 2}, {wide / 2, -high / 2}, {wide / 2, high / 2}, {-wide / 2, high / 2}}
	c.castShadow(func() { c.fill(sheet, flat(ink)) })
	c.pass = painting
	c.fill(sheet, func(q pt) rgba {
		k := 0.972 + 0.012*noise(q.x/9, q.y/9, c.seed)
		return rgba{k, k - 0.006, k - 0.04, 1}
	})
	hole := pt{wide * 0.5 * 0.94, -high * 0.5 * 0.72}
	c.ellipse(hole, size*0.13, size*0.13, 0, flat(rgba{0.35, 0.32, 0.3, 1}))
	face := faceOf(size)
	for i, line := range lines {
		at := c.device(pt{-wide/2 + size*0.8, -high/2 + size*(1.25+1.3*float64(i))})
		write(c.dst, face, at.x, at.y, line, ink)
	}
}
