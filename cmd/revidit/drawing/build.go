package drawing

import (
	"strconv"
	"strings"
)

// build is the beetle as measures of its parts, read from its states. Lengths are parts of the body length.
type build struct {
	Beetle
	form string

	headHalf, headFrom, headTo     float64
	pronHalf, pronFrom, pronTo     float64
	elyHalf, elyFrom, elyTo        float64
	shoulder                       float64 // half width of the elytra at their base
	dome                           float64 // 0 flat to 1.6 hemispherical
	height                         float64 // side view
	sides                          string
	antenna                        antennaSpec
	tarsi, hidden                  [3]int
	ventrites                      int
	elytra, pron, head, limb, horn skin
	under                          skin
	spots                          string
	cover                          string // elytra-cover
	bare                           bool   // the abdomen is hardly covered
	scaly, hoodOver, pointed       bool
	scaleDark, scalePale           rgba
}

type formMeasures struct {
	half, head, pron, dome float64
	sides                  string
}

var forms = map[string]formMeasures{
	"parallel":      {0.165, 0.12, 0.19, 0.8, "parallel"},
	"oval":          {0.25, 0.11, 0.17, 1.0, "rounded"},
	"hemispherical": {0.37, 0.10, 0.16, 1.5, hemisphere},
	"cylindrical":   {0.16, 0.13, 0.23, 1.5, "parallel"},
	"flat":          {0.19, 0.13, 0.18, 0.35, "parallel"},
	"ant-like":      {0.14, 0.14, 0.17, 0.9, "widening"},
	"boat-shaped":   {0.25, 0.10, 0.15, 1.0, "rounded"},
	"wedge-shaped":  {0.18, 0.11, 0.2, 1.0, "tapering"},
	"broad":         {0.29, 0.11, 0.18, 0.8, "widening"},
}

func (b Beetle) state(character, otherwise string) string {
	if s := b.States[character]; s != "" {
		return s
	}
	return otherwise
}

func (b Beetle) is(character, state string) bool { return b.States[character] == state }

func (b Beetle) count(character string, otherwise int) int {
	n, err := strconv.Atoi(b.States[character])
	if err != nil || n < 0 || n > 200 {
		return otherwise
	}
	return n
}

func newBuild(b Beetle) *build {
	form := b.state("body-form", "oval")
	m, known := forms[form]
	if !known {
		form, m = "oval", forms["oval"]
	}
	p := &build{Beetle: b, form: form, dome: m.dome, sides: b.state("elytra-sides", m.sides)}
	p.height = map[string]float64{"flat": 0.09, "moderate": 0.17, "domed": 0.27, "cylindrical": 0.21}[b.state("body-profile", profileOf(form))]
	p.cover = b.state("elytra-cover", "whole")
	p.bare = p.cover == "short" || p.cover == "absent"
	p.scaly = b.is("body-surface", "scaly")
	p.hoodOver = b.is("head-from-above", "hidden")
	p.pointed = b.is("pronotum-hind-corners", "pointed")
	if form == "hemispherical" && p.sides == "rounded" {
		p.sides = hemisphere
	}
	p.scaleDark, p.scalePale = hsl(28, 0.3, 0.36), hsl(42+12*lattice(b.Seed, 8, 8), 0.34, 0.66)
	p.measure(m)
	p.antenna = antennaOf(b)
	p.tarsi, p.hidden = tarsiOf(b)
	p.ventrites = min(max(b.count("ventrites", 5), 2), 9)
	p.colour()
	return p
}

func profileOf(form string) string {
	switch form {
	case "flat":
		return "flat"
	case "hemispherical":
		return "domed"
	case "cylindrical":
		return "cylindrical"
	}
	return "moderate"
}

func (p *build) measure(m formMeasures) {
	p.elyHalf = m.half
	p.shoulder = m.half * elytronWidth(p.sides, 0.06)
	p.headFrom, p.headTo = 0, m.head
	p.pronFrom, p.pronTo = m.head-0.015, m.head+m.pron
	switch p.state("head-from-above", "visible") {
	case "hidden":
		p.pronFrom, p.pronTo = 0, m.pron+0.07
		p.headFrom, p.headTo = 0.02, 0.10
	case "partly-hidden":
		p.pronFrom = m.head * 0.5
	}
	p.pronHalf = p.shoulder * map[string]float64{"narrower": 0.74, "equal": 1.0, "wider": 1.16}[p.state("pronotum-width", "equal")]
	if p.form == "ant-like" {
		p.pronHalf = min(p.pronHalf, p.shoulder*0.72)
	}
	p.headHalf = p.pronHalf * map[string]float64{"narrower": 0.64, "equal": 1.0, "wider": 1.2}[p.state("head-width", "narrower")]
	if p.form == "hemispherical" && !p.is("head-width", "wider") {
		p.headHalf = min(p.headHalf, 0.15)
	}
	p.elyFrom = p.pronTo - 0.004
	switch p.cover {
	case "whole":
		p.elyTo = 1
	case "tip-exposed":
		p.elyTo = 0.885
	case "short":
		p.elyTo = p.elyFrom + 0.19
	default:
		p.elyTo = p.elyFrom
	}
}

// tarsiOf reads the segments that are seen on fore, middle and hind legs, and how many minute ones hide among them.
func tarsiOf(b Beetle) (seen, hidden [3]int) {
	truth, okTruth := formula(b.States["tarsi-true"])
	seen, ok := formula(b.States["tarsi-counted"])
	if !ok {
		seen = truth
	}
	if !ok && !okTruth {
		return [3]int{5, 5, 5}, hidden
	}
	for i := range seen {
		if okTruth {
			hidden[i] = max(truth[i]-seen[i], 0)
		}
	}
	return seen, hidden
}

func formula(s string) (n [3]int, ok bool) {
	parts := strings.Split(s, "-")
	if len(parts) != 3 {
		return n, false
	}
	for i, part := range parts {
		v, err := strconv.Atoi(part)
		if err != nil || v < 1 || v > 5 {
			return n, false
		}
		n[i] = v
	}
	return n, true
}

// hemisphere is the outline of a hemispherical body, rounded at the base as well.
const hemisphere = "hemisphere"

// elytronWidth is the half width of both elytra, as a part of the widest, at t from base (0) to tip (1).
func elytronWidth(sides string, t float64) float64 {
	shoulder := 1 - clamp(t/0.065, 0, 1)
	base := 0.85 + 0.15*sqrt(1-shoulder*shoulder)
	switch sides {
	case "widening":
		return base * lerp(0.76, 1, smooth(0, 0.72, t)) * tip(t, 0.66)
	case "rounded":
		return base * lerp(0.86, 1, smooth(0, 0.42, t)) * tip(t, 0.4)
	case hemisphere:
		k := (t - 0.44) / 0.62
		return sqrt(1-k*k) * tip(t, 0.44) / max(sqrt(1-max(k, 0)*max(k, 0)), 0.05)
	case "tapering":
		return base * lerp(1, 0.5, t) * tip(t, 0.72)
	}
	return base * tip(t, 0.68)
}

func tip(t, from float64) float64 {
	if t <= from {
		return 1
	}
	k := (t - from) / (1 - from)
	return sqrt(1 - k*k)
}

// elytraHalf is the half width of the elytra at y.
func (p *build) elytraHalf(y float64) float64 {
	switch p.cover {
	case "short":
		t := (y - p.elyFrom) / (p.elyTo - p.elyFrom)
		return p.elyHalf * (0.93 + 0.07*smooth(0, 0.3, t)) * (1 - 0.10*smooth(0.75, 1, t))
	case "tip-exposed":
		t := (y - p.elyFrom) / (p.elyTo - p.elyFrom)
		return p.elyHalf * elytronWidth(p.sides, t*0.88)
	}
	return p.elyHalf * elytronWidth(p.sides, (y-p.elyFrom)/(1-p.elyFrom))
}

// abdomenHalf is the half width of the abdomen at y, as seen past short elytra and from below.
func (p *build) abdomenHalf(y float64) float64 {
	t := clamp((y-p.elyFrom)/(1-p.elyFrom), 0, 1)
	if p.bare {
		return p.elyHalf * 0.94 * lerp(1, 0.85, t) * tip(t, 0.62)
	}
	return p.elyHalf * 0.95 * elytronWidth(p.sides, t*0.985+0.008)
}
