// Package drawing draws specimen pictures for the made-up club of the demo: beetles that do not exist, built from the
// states of their characters, so that what an observation says can be seen in its picture. They are drawings, not
// photographs, and no authority for what any family looks like.
//
// A beetle is a few outlines about an axis, shaded as domes and tubes under one light. Every view is a model drawn
// three times by the same code: to measure it, to cast its shadow, and to paint it.
package drawing

import (
	"bytes"
	"cmp"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math"
	"slices"
	"strconv"
)

// Beetle is the specimen to be drawn. The same beetle gives the same picture.
type Beetle struct {
	// States by character id, as in the diagnosis tables: a state id, a whole number, or millimetres. What is missing
	// or unknown is drawn in the most ordinary way.
	States map[string]string
	// Family only chooses a colouring.
	Family string
	// Seed varies pose, colour and grain a little.
	Seed int64
	// LengthMM is the body length in millimetres, for the scale bar and the mount; 0 takes body-length-mm of States,
	// or 10.
	LengthMM float64
	// Colour overrides the family's colouring unless it is zero.
	Colour Colour
	// Labels are the texts of the labels on the pin, uppermost first, each with line breaks.
	Labels []string
}

// View is the id of a photo view of the beetles' diagnosis tables.
type View string

// Rect is a rectangle in pixels of the picture, inside it and not empty.
type Rect struct{ X, Y, W, H int }

type viewPlan struct {
	model func(*canvas, *build)
	// focus is the part to show, in body units; nil shows the whole model.
	focus func(*build) box
	mount bool // pin or card are seen
	// part is the body unit as a part of the body length; 0 stands for 1.
	part float64
}

var plans = map[View]viewPlan{
	"whole-above":   {model: (*canvas).dorsal, mount: true},
	"whole-below":   {model: (*canvas).ventral},
	"whole-side":    {model: (*canvas).lateral},
	"head-above":    {model: (*canvas).dorsal, focus: focusHead},
	"head-front":    {model: (*canvas).frontal, focus: focusFace},
	"head-side":     {model: (*canvas).lateral, focus: focusHeadSide},
	"head-below":    {model: (*canvas).ventral, focus: focusHead},
	"antenna":       {model: (*canvas).antennaAlone},
	"thorax-above":  {model: (*canvas).dorsal, focus: focusPronotum},
	"thorax-side":   {model: (*canvas).lateral, focus: focusThoraxSide},
	"thorax-below":  {model: (*canvas).ventral, focus: focusBreast},
	"elytra":        {model: (*canvas).dorsal, focus: focusElytra},
	"abdomen-below": {model: (*canvas).ventral, focus: focusAbdomen},
	"abdomen-end":   {model: (*canvas).caudal},
	"fore-leg":      {model: func(c *canvas, p *build) { c.legAlone(p, 0) }, focus: focusLeg},
	"mid-leg":       {model: func(c *canvas, p *build) { c.legAlone(p, 1) }, focus: focusLeg},
	"hind-leg":      {model: func(c *canvas, p *build) { c.legAlone(p, 2) }, focus: focusLeg},
	"genitalia":     {model: (*canvas).genitalia, part: 0.35},
	"label":         {},
}

// Views lists the views that Draw knows, sorted.
func Views() []View {
	var ids []View
	for v := range plans {
		ids = append(ids, v)
	}
	slices.Sort(ids)
	return ids
}

// Draw returns the picture of b in the given view, w x h pixels, and where each character is to be looked for in it,
// whether or not there is anything (of a pair, the one on the right of the picture; a character that the view does not
// show has no entry). It fails on an unknown view and on a size outside 160 to 8000 pixels.
func Draw(b Beetle, view View, w, h int) (image.Image, map[string]Rect, error) {
	plan, ok := plans[view]
	if !ok {
		return nil, nil, fmt.Errorf("drawing: unknown view %q", view)
	}
	if w < 160 || h < 160 || w > 8000 || h > 8000 {
		return nil, nil, fmt.Errorf("drawing: size %d x %d is outside 160 to 8000 pixels", w, h)
	}
	b.LengthMM = b.millimetres()
	p := newBuild(b)
	c := &canvas{seed: uint64(b.Seed), cos: 1, scale: 1, bounds: nobox, marks: map[string]*box{}}
	if view == "label" {
		return c.labels(p, w, h), map[string]Rect{}, nil
	}
	plan.model(c, p)
	focus := c.bounds
	if plan.focus != nil {
		focus = plan.focus(p)
	}
	if plan.mount && p.LengthMM < smallest {
		focus = focus.pad(1.6 * cardMargin)
	}
	c.frame(focus, w, h)
	c.dst = ground(w, h, b.Seed)
	if plan.mount {
		c.card(p)
	}
	c.castShadow(func() { plan.model(c, p) })
	c.pass, c.marks, c.showing = painting, map[string]*box{}, nil
	plan.model(c, p)
	if plan.mount {
		c.pin(p)
	}
	c.scaleBar(b.LengthMM * cmp.Or(plan.part, 1))
	return c.dst, c.rects(), nil
}

// JPEG writes an image in the quality of the demo's photos.
func JPEG(w io.Writer, img image.Image) error {
	if err := jpeg.Encode(w, img, &jpeg.Options{Quality: 90}); err != nil {
		return fmt.Errorf("drawing: %w", err)
	}
	return nil
}

// DrawJPEG is Draw and JPEG in one.
func DrawJPEG(b Beetle, view View, w, h int) ([]byte, map[string]Rect, error) {
	img, rects, err := Draw(b, view, w, h)
	if err != nil {
		return nil, nil, err
	}
	var out bytes.Buffer
	if err := JPEG(&out, img); err != nil {
		return nil, nil, err
	}
	return out.Bytes(), rects, nil
}

func (b Beetle) millimetres() float64 {
	if b.LengthMM > 0 {
		return b.LengthMM
	}
	if mm, err := strconv.ParseFloat(b.States["body-length-mm"], 64); err == nil && mm > 0 {
		return mm
	}
	return 10
}

// frame fits the focus into the picture, leaving room for the scale bar, and tilts it a little.
func (c *canvas) frame(focus box, w, h int) {
	tilt := 0.035 * c.jitter("tilt", 0)
	c.sin, c.cos = math.Sin(tilt), math.Cos(tilt)
	fw, fh := focus.x1-focus.x0, focus.y1-focus.y0
	c.scale = min(float64(w)*0.88/fw, float64(h)*0.84/fh)
	centre := pt{(focus.x0 + focus.x1) / 2, (focus.y0 + focus.y1) / 2}
	c.origin = pt{float64(w) * (0.5 + 0.008*c.jitter("shift", 0)), float64(h) * (0.475 + 0.008*c.jitter("shift", 1))}
	at := pt{centre.x*c.cos - centre.y*c.sin, centre.x*c.sin + centre.y*c.cos}.mul(c.scale)
	c.origin = c.origin.sub(at)
}

// rects turns what was marked into pixels, cut to the picture; slivers are left out.
func (c *canvas) rects() map[string]Rect {
	out := map[string]Rect{}
	frame := c.dst.Bounds()
	for id, b := range c.marks {
		d := nobox
		for _, p := range []pt{{b.x0, b.y0}, {b.x1, b.y0}, {b.x0, b.y1}, {b.x1, b.y1}} {
			d.take(c.device(p))
		}
		const margin = 6
		r := image.Rect(int(clamp(d.x0, -1e6, 1e6))-margin, int(clamp(d.y0, -1e6, 1e6))-margin, int(clamp(d.x1, -1e6, 1e6))+margin, int(clamp(d.y1, -1e6, 1e6))+margin)
		whole := r.Dx() * r.Dy()
		r = r.Intersect(frame)
		if r.Dx() < 16 || r.Dy() < 16 || r.Dx()*r.Dy()*5 < whole {
			continue
		}
		out[id] = Rect{r.Min.X, r.Min.Y, r.Dx(), r.Dy()}
	}
	return out
}

func focusHead(p *build) box {
	w := max(p.headHalf*1.9, 0.17)
	front := p.headFrom - p.rostrumLength() - 0.08
	if p.is("mandibles", "antler-like") {
		front -= 0.2
	}
	return box{-w, front, w, max(p.headTo, p.pronFrom+0.05) + 0.05}
}

func focusFace(p *build) box {
	low := 0.36
	switch {
	case p.is("rostrum", "long") || p.is("mandibles", "antler-like"):
		low = 0.46
	case p.is("mandibles", "projecting"):
		low = 0.38
	}
	return box{-0.42, -0.27, 0.42, low}
}

func focusLeg(*build) box { return box{0.09, -0.21, 0.745, 0.13} }

func focusPronotum(p *build) box {
	return box{-p.pronHalf, p.pronFrom - 0.1, p.pronHalf, p.pronTo + 0.08}
}

func focusElytra(p *build) box {
	return box{-p.elyHalf, p.elyFrom - 0.06, p.elyHalf, max(p.elyTo, 0.9) + 0.02}
}

func focusBreast(p *build) box { return box{-p.elyHalf, p.pronFrom, p.elyHalf, p.elyFrom + 0.34} }

func focusAbdomen(p *build) box { return box{-p.elyHalf, p.elyFrom + 0.2, p.elyHalf, 1.03} }

func focusHeadSide(p *build) box {
	return box{-p.rostrumLength() - 0.1, -p.height * 1.1, p.pronFrom + 0.14, p.height*0.9 + p.rostrumLength()*0.6}
}

func focusThoraxSide(p *build) box {
	return box{p.pronFrom - 0.06, -p.height * 1.1, p.pronTo + 0.12, p.height * 1.0}
}
