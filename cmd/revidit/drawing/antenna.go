package drawing

import "math"

// antennaSpec is what is drawn of an antenna.
type antennaSpec struct {
	form    string
	plates  string // club-plates
	second  string // antenna-second-segment
	n       int    // segments with the scape
	club    int
	elbowed bool
	length  float64 // body lengths
}

func antennaOf(b Beetle) antennaSpec {
	a := antennaSpec{form: b.state("antenna-form", "filiform"), elbowed: b.is("antenna-elbowed", "yes"),
		plates: b.state("club-plates", "closing"), second: b.state("antenna-second-segment", "plain")}
	a.n = min(max(b.count("antenna-segments", 11), 1), 60)
	clubbed := a.form == "clavate" || a.form == "capitate" || a.form == "lamellate"
	if clubbed {
		a.club = 3
	}
	a.club = min(b.count("antenna-club-segments", a.club), a.n-1)
	usual := "half-to-whole"
	if clubbed || a.elbowed {
		usual = "under-half"
	}
	a.length = map[string]float64{"under-half": 0.3, "half-to-whole": 0.62, "over-whole": 1.3}[b.state("antenna-length", usual)]
	if a.length == 0 {
		a.length = 0.5
	}
	return a
}

// shares are the lengths of the segments as parts of the antenna.
func (a antennaSpec) shares() []float64 {
	s := make([]float64, a.n)
	sum := 0.0
	for i := range s {
		s[i] = 1
		switch {
		case i == 0:
			s[i] = 1.7
		case i == 1:
			s[i] = 0.65
		case i >= a.n-a.club && a.form == "lamellate":
			s[i] = 0.5
		case i >= a.n-a.club:
			s[i] = 1.05
		case a.form == "lamellate" || a.form == "capitate":
			s[i] = 0.8
		}
		sum += s[i]
	}
	if a.elbowed {
		rest := sum - s[0]
		s[0] = rest * 0.55
		sum = rest + s[0]
	}
	for i := range s {
		s[i] /= sum
	}
	return s
}

// path is a line of known length on which segments are laid.
type path struct {
	points []pt
	dist   []float64
}

func newPath(points []pt) path {
	p := path{points: points, dist: make([]float64, len(points))}
	for i := 1; i < len(points); i++ {
		p.dist[i] = p.dist[i-1] + points[i].sub(points[i-1]).len()
	}
	return p
}

// at is the point at the part t (0 to 1) of the length.
func (p path) at(t float64) pt {
	d := clamp(t, 0, 1) * p.dist[len(p.dist)-1]
	i := 1
	for i < len(p.dist)-1 && p.dist[i] < d {
		i++
	}
	span := p.dist[i] - p.dist[i-1]
	if span == 0 {
		return p.points[i]
	}
	return mix(p.points[i-1], p.points[i], (d-p.dist[i-1])/span)
}

// sweep is a bent line: it starts at from in direction angle and turns by turn over its length; an elbow turns at once
// by elbow after the part at.
func sweep(from pt, angle, length, turn, at, elbow float64) path {
	const n = 60
	points := []pt{from}
	for i := range n {
		t := (float64(i) + 0.5) / n
		a := angle + turn*t
		if t > at {
			a += elbow
		}
		points = append(points, points[i].add(polar(a, length/n)))
	}
	return newPath(points)
}

// drawAntenna lays the segments on line; w is half the width of an ordinary segment, and side (1 or -1) is where teeth
// and plates stand out.
func (c *canvas) drawAntenna(a antennaSpec, line path, w, side float64, s skin) {
	defer c.show("antenna-form", "antenna-elbowed", "antenna-segments", "antenna-length")()
	shares := a.shares()
	total := line.dist[len(line.dist)-1]
	at := 0.0
	for i, share := range shares {
		next := at + share
		gap := min(0.07*share, 0.5*w/total)
		c.segment(a, i, line.at(at+gap*0.5), line.at((at+next)/2), line.at(next-gap*0.5), w, side, s)
		at = next
	}
}

func (c *canvas) segment(a antennaSpec, i int, from, mid, to pt, w, side float64, s skin) {
	inClub := i >= a.n-a.club
	if inClub || (a.club == 0 && i >= a.n-3) { // where a club would be
		defer c.show("antenna-club-segments", "club-plates")()
	}
	if i == 1 {
		defer c.show("antenna-second-segment")()
	}
	long := to.sub(from).len()
	switch {
	case i == 0:
		c.tube(from, mid, to, w*1.0, w*1.5, s)
		return
	case i == 1 && a.second == "enlarged":
		c.tube(from, mid, to, w*2.4, w*3.4, s)
		return
	case i == 1 && a.form != "moniliform":
		c.tube(from, mid, to, w*0.85, w*1.05, s)
		return
	case a.form == "lamellate" && inClub:
		c.lamella(from, to, w, a.n-a.club, i, a, side, s)
		return
	case a.form == "capitate" && inClub:
		c.tube(from, mid, to, w*2.0, w*lerp(2.9, 2.1, boolTo(i == a.n-1)), s)
		return
	}
	switch a.form {
	case "moniliform":
		c.ellipse(mid, long*0.53, min(w*1.35, long*0.6), angleOf(from, to), tubeShade(from, to, w*1.35, s))
	case "serrate":
		c.tooth(from, to, w, w*2.3, side, s)
	case "pectinate":
		c.ray(from, to, w, 1.5+0.012/max(long, 0.004), 0.9, side, s)
	case "flabellate":
		c.ray(from, to, w, 5, 0.55, side, s)
	case "clavate":
		k := float64(i) / float64(a.n-1)
		grow := lerp(0.75, 2.3, k*k*k)
		c.tube(from, mid, to, w*grow*0.8, w*grow*1.1, s)
	default:
		c.tube(from, mid, to, w*0.72, w*1.0, s)
	}
}

func boolTo(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func angleOf(from, to pt) float64 { d := to.sub(from); return math.Atan2(d.y, d.x) }

// tube is a limb segment: narrow at its base, round at its ends.
func (c *canvas) tube(from, mid, to pt, w0, w1 float64, s skin) {
	d0, d1 := mid.sub(from).unit(), to.sub(mid).unit()
	long := to.sub(from).len()
	r0, r1 := min(w0, long*0.3), min(w1, long*0.3)
	shape := smoothClosed([]pt{
		from.along(d0, 0, -w0*0.55), from.along(d0, 0, w0*0.55),
		from.along(d0, r0, w0), mid.along(d1, 0, lerp(w0, w1, 0.55)), to.along(d1, -r1, w1),
		to.along(d1, 0, w1*0.55), to.along(d1, 0, -w1*0.55),
		to.along(d1, -r1, -w1), mid.along(d1, 0, -lerp(w0, w1, 0.55)), from.along(d0, r0, -w0),
	}, 5)
	c.fill(shape, tubeShade(from, to, max(w0, w1), s))
}

// tubeShade lights a round limb that runs from one point to the other.
func tubeShade(from, to pt, w float64, s skin) shader {
	d := to.sub(from).unit()
	n := d.left()
	return func(p pt) rgba {
		q := p.sub(from)
		u := clamp((q.x*n.x+q.y*n.y)/w, -1, 1)
		col := s.lit(norm3(1.3*u*n.x, 1.3*u*n.y, 0.75))
		return col.to(rgba{col.r * 0.45, col.g * 0.45, col.b * 0.45, col.a}, smooth(0.78, 1.02, math.Abs(u)))
	}
}

func (c *canvas) tooth(from, to pt, w, out, side float64, s skin) {
	d := to.sub(from).unit()
	long := to.sub(from).len()
	c.fill(smoothClosed([]pt{
		from.along(d, 0, -w*0.5), from.along(d, 0, w*0.5*side).along(d, 0, 0),
		from.along(d, long*0.55, side*out*0.62), to.along(d, -long*0.06, side*out), to.along(d, 0.02*long, side*out*0.8),
		to.along(d, 0, -side*w*0.9), from.along(d, long*0.4, -side*w*0.9),
	}, 5), tubeShade(from, to, out, s))
}

// ray is a segment with a branch, k segment lengths long, at lean radians from the axis.
func (c *canvas) ray(from, to pt, w, k, lean, side float64, s skin) {
	d := to.sub(from).unit()
	long := to.sub(from).len()
	c.tube(from, mix(from, to, 0.5), to, w*0.75, w, s)
	base := to.along(d, -long*0.25, side*w*0.4)
	tipAt := base.along(d, long*k*math.Cos(lean), side*long*k*math.Sin(lean))
	bend := base.along(d, long*k*0.35*math.Cos(lean), side*long*k*0.62*math.Sin(lean))
	c.stroke(curve(base, bend, tipAt, 14), w*0.62, w*0.4, s.base.mul(0.62))
	c.stroke(curve(base, bend, tipAt, 14), w*0.36, w*0.16, s.base.mul(1.2))
}

// lamella is one plate of a fan.
func (c *canvas) lamella(from, to pt, w float64, first, i int, a antennaSpec, side float64, s skin) {
	d := to.sub(from).unit()
	span := a.length * 0.34
	k := float64(i-first) - float64(a.club-1)/2
	axis := angleOf(from, to) - side*(0.95-0.23*k)
	u := polar(axis, 1)
	base := mix(from, to, 0.5).along(d, 0, -side*w*0.6)
	thick := max(w*1.15, span*0.12)
	switch {
	case a.plates == "cup" && i == first:
		thick *= 2.6
	case a.plates == "fixed":
		span *= 0.6
		axis = angleOf(from, to) - side*1.3
		u = polar(axis, 1)
		thick = w
	}
	centre := base.add(u.mul(span * 0.5))
	c.fill(ellipse(centre, span*0.55, thick, axis), tubeShade(base, base.add(u), thick, s.dark(1.15)))
}
