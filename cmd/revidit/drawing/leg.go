package drawing

// legSpec is what is drawn of one leg. place is 0 fore, 1 middle, 2 hind.
type legSpec struct {
	place   int
	tarsus  int // segments that are seen
	hidden  int // minute ones among them
	lobed   bool
	pads    bool
	claws   string
	toothed bool
	kind    string // walking, swimming, jumping, swollen
	cleaner string // of a fore leg: antenna-cleaner
	spurs   int    // at the end of the tibia
	comb    bool   // one spur is like a comb
	first   string // of a hind leg: hind-tarsus-first
	last    string // last-tarsal-segment
}

func (p *build) leg(place int) legSpec {
	l := legSpec{
		place: place, tarsus: p.tarsi[place], hidden: p.hidden[place],
		lobed: p.is("tarsus-lobed", "yes"), pads: p.is("tarsus-pads", "yes"), claws: p.state("claws", "simple"),
		kind: "walking", spurs: 2, last: p.state("last-tarsal-segment", "ordinary"),
	}
	switch place {
	case 0:
		l.toothed = p.is("fore-tibia", "toothed")
		l.cleaner = p.state("antenna-cleaner", "absent")
	case 1:
		l.comb = p.is("middle-tibia-spur", "comb-like")
	case 2:
		l.kind = p.state("hind-legs", "walking")
		l.first = p.state("hind-tarsus-first", "ordinary")
		l.spurs = map[string]int{"none": 0, "one": 1, "two": 2}[p.state("hind-tibia-spurs", "two")]
	}
	return l
}

// drawLeg draws a leg through its joints; w is half the width of an ordinary femur, outer (1 or -1) the side of the
// outer edge of the tibia.
func (c *canvas) drawLeg(l legSpec, hip, knee, ankle pt, heading, tarsusLength, w, outer float64, s skin) {
	if l.place == 2 {
		defer c.show("hind-legs")()
	}
	thick := 1.0
	switch l.kind {
	case "jumping":
		thick = 2.3
	case "swollen":
		thick = 1.9
	}
	c.femur(hip, knee, w*thick, s)
	c.tibia(l, knee, ankle, w*0.62, outer, s)
	line := sweep(ankle, heading, tarsusLength, 0.35*outer, 2, 0)
	c.tarsus(l, line, w*0.46, outer, s)
	if l.kind == "swimming" {
		c.fringe(knee, ankle, w*2.2, -outer, s)
		c.fringe(ankle, line.at(1), w*2.0, -outer, s)
	}
}

func (c *canvas) femur(hip, knee pt, w float64, s skin) {
	d := knee.sub(hip).unit()
	long := knee.sub(hip).len()
	w = min(w, long*0.4)
	c.fill(smoothClosed([]pt{
		hip.along(d, 0, -w*0.5), hip.along(d, 0, w*0.5), hip.along(d, long*0.25, w*0.95), hip.along(d, long*0.55, w*1.02),
		hip.along(d, long*0.88, w*0.62), knee.along(d, 0, w*0.5), knee.along(d, w*0.3, 0), knee.along(d, 0, -w*0.5),
		hip.along(d, long*0.88, -w*0.6), hip.along(d, long*0.5, -w*0.9), hip.along(d, long*0.2, -w*0.85),
	}, 5), tubeShade(hip, knee, w*1.02, s))
}

func (c *canvas) tibia(l legSpec, knee, ankle pt, w, outer float64, s skin) {
	if l.place == 0 {
		defer c.show("fore-tibia")()
	}
	d := ankle.sub(knee).unit()
	long := ankle.sub(knee).len()
	end := w * 1.25
	switch {
	case l.toothed:
		end = w * 2.6
	case l.kind == "swimming":
		w, end = w*1.5, w*2
	}
	shape := smoothClosed([]pt{
		knee.along(d, 0, -w*0.6), knee.along(d, 0, w*0.6), knee.along(d, long*0.12, w*0.85), knee.along(d, long*0.6, lerp(w, end, 0.45)),
		ankle.along(d, -long*0.03, end), ankle.along(d, 0, end*0.6), ankle.along(d, 0, -end*0.6), ankle.along(d, -long*0.03, -end*0.9),
		knee.along(d, long*0.6, -lerp(w, end*0.8, 0.4)), knee.along(d, long*0.12, -w*0.85),
	}, 5)
	c.spurs(l, ankle, d, long, end, w, s)
	if l.toothed {
		for i, t := range []float64{0.98, 0.74, 0.52} {
			size := end * (1.35 - 0.25*float64(i))
			base := knee.along(d, long*t, outer*lerp(w, end, t)*0.6)
			c.fill([]pt{base.along(d, -long*0.13, 0), base.along(d, long*0.02, outer*size), base.along(d, long*0.07, outer*size*0.85), base.along(d, long*0.05, 0)}, tubeShade(knee, ankle, end*2.4, s))
		}
	}
	c.fill(shape, tubeShade(knee, ankle, max(end, w), s))
	c.cleaner(l, knee, d, long, end, outer, s)
}

// spurs stand at the end of the tibia.
func (c *canvas) spurs(l legSpec, ankle, d pt, long, end, w float64, s skin) {
	if l.place > 0 {
		id := []string{"", "middle-tibia-spur", "hind-tibia-spurs"}[l.place]
		c.mark(box{ankle.x - end*1.5, ankle.y - end*1.5, ankle.x + end*1.8, ankle.y + end*1.8}, id)
		defer c.show(id)()
	}
	for _, k := range []float64{-0.5, 0.6}[:l.spurs] {
		from, to := ankle.along(d, -long*0.02, end*k), ankle.along(d, long*0.12, end*k*1.35)
		c.stroke([]pt{from, to}, w*0.2, 0, s.base.mul(0.8))
		if l.comb && k > 0 {
			for i := range 5 {
				at := mix(from, to, 0.15+0.17*float64(i))
				c.stroke([]pt{at, at.along(d, w*0.1, w*0.5)}, w*0.1, w*0.03, s.base.mul(0.8))
			}
		}
	}
}

// cleaner is the comb with which a beetle cleans its antennae, on the inner edge of the fore tibia.
func (c *canvas) cleaner(l legSpec, knee, d pt, long, end, outer float64, s skin) {
	if l.place != 0 {
		return
	}
	from, to := knee.along(d, long*0.55, -outer*end*0.8), knee.along(d, long, -outer*end*0.8)
	b := nobox
	b.take(from)
	b.take(to)
	c.mark(b.pad(end*0.6), "antenna-cleaner")
	if l.cleaner == "absent" {
		return
	}
	defer c.show("antenna-cleaner")()
	begin := 0.86
	if l.cleaner == "notch" {
		begin = 0.62
		at := knee.along(d, long*0.7, -outer*end*0.75)
		c.ellipse(at, long*0.08, end*0.5, angleOf(from, to), flat(rgba{0.93, 0.92, 0.88, 1}))
		c.stroke([]pt{knee.along(d, long*0.6, -outer*end*0.6), knee.along(d, long*0.7, -outer*end*1.6)}, end*0.1, 0, s.base.mul(0.7))
	}
	for i := range 6 {
		at := knee.along(d, long*(begin+0.025*float64(i)), -outer*end*0.5)
		c.stroke([]pt{at, at.along(d, 0, -outer*end*0.6)}, end*0.05, end*0.02, s.base.mul(0.6))
	}
}

// tarsus lays the segments on line, the last one with the claws.
func (c *canvas) tarsus(l legSpec, line path, w, outer float64, s skin) {
	defer c.show("tarsi-counted", "tarsi-true")()
	n := l.tarsus
	shares := make([]float64, n)
	sum := 0.0
	for i := range shares {
		shares[i] = 1
		if i == 0 {
			shares[i] = 1.25
		}
		if i == n-1 {
			shares[i] = 1.55
		}
		switch {
		case i == 0 && n > 2 && l.first == "long":
			shares[i] = 3.4
		case i == 0 && n > 2 && l.first == "minute":
			shares[i] = 0.4
		case i == n-1 && l.last == "very-long":
			shares[i] = 1.1 * float64(n)
		}
		sum += shares[i]
	}
	at := 0.0
	for i, share := range shares {
		share /= sum
		from, to := line.at(at+0.008), line.at(at+share-0.008)
		at += share
		lobedHere := l.lobed && (i == n-2 || n == 1)
		done := func() {}
		if i == max(n-2, 0) {
			done = c.show("tarsus-lobed")
		}
		if i == 0 && l.place == 2 {
			outer := done
			inner := c.show("hind-tarsus-first")
			done = func() { inner(); outer() }
		}
		if i == n-1 {
			outer := done
			inner := c.show("last-tarsal-segment")
			done = func() { inner(); outer() }
		}
		switch {
		case i == n-1:
			c.clawSegment(l, from, to, w, outer, s)
		case lobedHere:
			c.lobes(l, from, to, w, s)
		default:
			c.tarsomere(l, from, to, w, outer, s)
		}
		done()
	}
}

func (c *canvas) tarsomere(l legSpec, from, to pt, w, outer float64, s skin) {
	defer c.show("tarsus-pads")()
	if l.pads {
		c.pad(from, to, w, outer)
	}
	c.tube(from, mix(from, to, 0.6), to, w*0.62, w*1.1, s)
	d := to.sub(from).unit()
	for _, side := range []float64{1, -1} {
		c.stroke([]pt{to.along(d, -w*0.3, side*w*0.9), to.along(d, w*0.7, side*w*1.7)}, w*0.07, 0, s.base.mul(0.7))
	}
}

func (c *canvas) lobes(l legSpec, from, to pt, w float64, s skin) {
	defer c.show("tarsus-lobed")()
	d := to.sub(from).unit()
	long := to.sub(from).len()
	if l.pads {
		c.pad(from, to, w*1.9, 0)
	}
	for _, side := range []float64{1, -1} {
		c.fill(smoothClosed([]pt{
			from.along(d, 0, side*w*0.15), from.along(d, long*0.25, side*w*1.2), from.along(d, long*0.8, side*w*2.2),
			to.along(d, long*0.28, side*w*2.05), to.along(d, long*0.3, side*w*1.1), from.along(d, long*0.62, side*w*0.25),
		}, 6), tubeShade(from, to, w*2.3, s))
	}
}

// pad is a brush of pale hair beneath a segment.
func (c *canvas) pad(from, to pt, w, outer float64) {
	defer c.show("tarsus-pads")()
	d := to.sub(from).unit()
	long := to.sub(from).len()
	pale := rgba{0.90, 0.78, 0.48, 1}
	for i := range 26 {
		t := float64(i) / 25
		side := 1.0
		if outer != 0 {
			side = -outer
		} else if i%2 == 0 {
			side = -1
		}
		base := from.along(d, long*(0.05+0.9*t), side*w*0.4)
		c.stroke([]pt{base, base.along(d, long*0.18, side*w*(1.25+0.3*c.jitter("pad", i)))}, w*0.12, w*0.03, pale.mul(0.9+0.12*c.jitter("shade", i)))
	}
}

func (c *canvas) clawSegment(l legSpec, from, to pt, w, outer float64, s skin) {
	d := to.sub(from).unit()
	long := to.sub(from).len()
	if l.lobed { // it rises from between the lobes
		from = from.along(d, -w*1.5, 0)
		long += w * 1.5
	}
	for k := range l.hidden { // what only a microscope shows: a knot at the base of the claw segment
		at := from.along(d, w*(0.25+0.5*float64(k)), 0)
		c.ellipse(at, w*0.42, w*0.72, angleOf(from, to), tubeShade(from, to, w*0.72, s.dark(0.8)))
		from = from.along(d, w*0.45, 0)
	}
	c.tube(from, mix(from, to, 0.5), to, w*0.5, w*0.95, s)
	defer c.show("claws")()
	size := max(long*0.5, w*2.2)
	for _, side := range []float64{1, -1} {
		c.claw(l.claws, to.along(d, -w*0.2, side*w*0.45), d, size, side, w, s)
	}
}

func (c *canvas) claw(kind string, at, d pt, size, side, w float64, s skin) {
	col := s.base.mul(0.75)
	bend := at.along(d, size*0.55, side*size*0.62)
	end := at.along(d, size*1.08, side*size*0.42)
	line := curve(at, bend, end, 12)
	c.stroke(line, w*0.36, w*0.04, col)
	switch kind {
	case "toothed":
		c.stroke([]pt{line[3], line[3].along(d, size*0.30, -side*size*0.10)}, w*0.34, w*0.03, col)
	case "split":
		c.stroke(curve(line[4], line[7].along(d, 0, -side*size*0.16), line[11].along(d, -size*0.1, -side*size*0.2), 8), w*0.22, w*0.03, col)
	case "comb-like":
		for i := 2; i < 11; i++ {
			c.stroke([]pt{line[i], line[i].along(d, size*0.10, -side*size*0.17)}, w*0.09, w*0.02, col)
		}
	}
}

// fringe is a row of swimming hairs.
func (c *canvas) fringe(from, to pt, long, side float64, s skin) {
	d := to.sub(from).unit()
	span := to.sub(from).len()
	for i := range 44 {
		base := from.along(d, span*(0.06+0.92*float64(i)/43), 0)
		c.stroke([]pt{base, base.along(d, long*0.8, side*long*(1+0.15*c.jitter("fringe", i)))}, long*0.02, 0, s.base.mul(1.5))
	}
}
