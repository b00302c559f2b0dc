package drawing

import "math"

func sqrt(v float64) float64 { return math.Sqrt(max(v, 0)) }

// Colour is the main colour of a beetle: hue in degrees, saturation and lightness 0 to 1.
type Colour struct{ Hue, Saturation, Lightness float64 }

type livery struct {
	elytra, fore, limbs Colour
	spots               string // "", spots, bands, blotch
}

// liveries are common colourings, only to make the made-up specimens of a family look alike.
var liveries = map[string]livery{
	"Coccinellidae": {Colour{9, 0.74, 0.37}, Colour{20, 0.2, 0.09}, Colour{20, 0.2, 0.10}, "spots"},
	"Chrysomelidae": {Colour{150, 0.55, 0.26}, Colour{165, 0.5, 0.22}, Colour{200, 0.2, 0.13}, ""},
	"Cerambycidae":  {Colour{30, 0.35, 0.24}, Colour{25, 0.3, 0.15}, Colour{20, 0.3, 0.14}, "bands"},
	"Carabidae":     {Colour{20, 0.15, 0.11}, Colour{20, 0.12, 0.10}, Colour{18, 0.35, 0.13}, ""},
	"Scarabaeidae":  {Colour{24, 0.55, 0.25}, Colour{22, 0.4, 0.15}, Colour{18, 0.45, 0.15}, ""},
	"Lucanidae":     {Colour{12, 0.45, 0.16}, Colour{10, 0.2, 0.08}, Colour{10, 0.2, 0.07}, ""},
	"Elateridae":    {Colour{22, 0.42, 0.20}, Colour{18, 0.3, 0.12}, Colour{20, 0.45, 0.18}, ""},
	"Buprestidae":   {Colour{130, 0.65, 0.25}, Colour{120, 0.6, 0.24}, Colour{150, 0.4, 0.16}, ""},
	"Curculionidae": {Colour{30, 0.22, 0.25}, Colour{28, 0.25, 0.2}, Colour{18, 0.4, 0.17}, "blotch"},
	"Lampyridae":    {Colour{30, 0.30, 0.20}, Colour{38, 0.5, 0.46}, Colour{28, 0.35, 0.18}, ""},
	"Lycidae":       {Colour{8, 0.8, 0.36}, Colour{12, 0.4, 0.12}, Colour{10, 0.2, 0.08}, ""},
	"Cantharidae":   {Colour{24, 0.18, 0.14}, Colour{22, 0.75, 0.42}, Colour{20, 0.55, 0.24}, ""},
	"Cleridae":      {Colour{6, 0.7, 0.32}, Colour{10, 0.15, 0.09}, Colour{10, 0.2, 0.09}, "bands"},
	"Silphidae":     {Colour{20, 0.1, 0.09}, Colour{20, 0.1, 0.08}, Colour{20, 0.15, 0.08}, "orange"},
	"Staphylinidae": {Colour{14, 0.5, 0.20}, Colour{20, 0.12, 0.09}, Colour{22, 0.45, 0.20}, ""},
	"Dytiscidae":    {Colour{60, 0.25, 0.15}, Colour{50, 0.3, 0.16}, Colour{28, 0.5, 0.22}, ""},
	"Gyrinidae":     {Colour{215, 0.15, 0.11}, Colour{215, 0.15, 0.10}, Colour{30, 0.6, 0.3}, ""},
	"Meloidae":      {Colour{225, 0.35, 0.14}, Colour{225, 0.3, 0.12}, Colour{225, 0.2, 0.09}, ""},
	"Dermestidae":   {Colour{25, 0.3, 0.16}, Colour{20, 0.25, 0.11}, Colour{20, 0.4, 0.16}, "bands"},
	"Tenebrionidae": {Colour{15, 0.2, 0.10}, Colour{15, 0.2, 0.09}, Colour{12, 0.25, 0.09}, ""},
}

var otherLiveries = []livery{
	{Colour{24, 0.45, 0.21}, Colour{20, 0.4, 0.15}, Colour{22, 0.5, 0.20}, ""},
	{Colour{18, 0.2, 0.11}, Colour{18, 0.2, 0.10}, Colour{20, 0.45, 0.17}, ""},
	{Colour{32, 0.5, 0.30}, Colour{26, 0.5, 0.22}, Colour{28, 0.55, 0.26}, ""},
	{Colour{28, 0.35, 0.18}, Colour{22, 0.3, 0.12}, Colour{24, 0.5, 0.2}, "blotch"},
}

func (p *build) colour() {
	l, known := liveries[p.Family]
	if !known {
		h := uint64(14695981039346656037)
		for _, b := range []byte(p.Family) {
			h = (h ^ uint64(b)) * 0x100000001b3
		}
		l = otherLiveries[h%uint64(len(otherLiveries))]
	}
	if p.Colour != (Colour{}) {
		l.elytra, l.spots = p.Colour, ""
		l.fore = Colour{p.Colour.Hue - 6, p.Colour.Saturation, p.Colour.Lightness * 0.8}
	}
	metallic := p.is("lustre", "metallic")
	if metallic && l.elytra.Saturation < 0.45 {
		l.elytra = Colour{95 + 70*lattice(p.Seed, 3, 5), 0.6, 0.25}
		l.fore = Colour{l.elytra.Hue + 10, 0.55, 0.22}
		l.spots = ""
	}
	vary := func(c Colour, i int64) rgba {
		return hsl(c.Hue+5*lattice(p.Seed, i, 1), clamp(c.Saturation*(1+0.12*lattice(p.Seed, i, 2)), 0, 1), clamp(c.Lightness*(1+0.12*lattice(p.Seed, i, 3)), 0, 1))
	}
	gloss := 0.75
	if !p.is("body-surface", "bare") && p.States["body-surface"] != "" {
		gloss = 0.3
	}
	if p.is("elytra-texture", "soft") {
		gloss = 0.35
	}
	fore := vary(l.fore, 2)
	p.elytra = skin{vary(l.elytra, 1), gloss, metallic}
	p.pron = skin{fore, gloss, metallic}
	p.head = skin{fore.mul(0.92), gloss, metallic}
	p.limb = skin{vary(l.limbs, 3), 0.6, false}
	p.horn = skin{vary(l.limbs, 4).mul(1.12), 0.5, false}
	p.under = skin{fore.to(vary(l.limbs, 5), 0.5).mul(1.15).to(rgba{0.42, 0.30, 0.20, 1}, 0.16), 0.6, false}
	p.spots = l.spots
}
