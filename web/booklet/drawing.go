package booklet

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"strings"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	"github.com/srwiley/oksvg"
	"github.com/srwiley/rasterx"
)

// rendered are drawings as PNG by their SVG: the same few hundred for every key.
var rendered sync.Map

// draws registers the drawing of a state with the file, and says whether there is one.
func (l *layout) draws(character, state string) bool {
	svg, ok := l.tables.Picture(character, state)
	if !ok || l.err != nil {
		return false
	}
	name := character + "/" + state
	if l.drawn[name] {
		return true
	}
	picture, err := render(svg)
	if err != nil {
		l.err = fmt.Errorf("the drawing %s cannot be printed: %w", name, err)
		return false
	}
	l.pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "png"}, bytes.NewReader(picture))
	l.drawn[name] = true
	return true
}

func (l *layout) picture(name string, x, y float64) {
	l.put(func(shift float64) {
		l.pdf.ImageOptions(name, shift+x, y, picture, picture, false, fpdf.ImageOptions{ImageType: "png"}, 0, "")
	})
}

// render draws an SVG of plain shapes in black on white, in greys.
func render(svg string) ([]byte, error) {
	if known, ok := rendered.Load(svg); ok {
		return known.([]byte), nil
	}
	icon, err := oksvg.ReadIconStream(strings.NewReader(strings.ReplaceAll(svg, "currentColor", "#000000")), oksvg.StrictErrorMode)
	if err != nil {
		return nil, err
	}
	const side = int(picture * dotsPerMM)
	icon.SetTarget(0, 0, float64(side), float64(side))
	coloured := image.NewRGBA(image.Rect(0, 0, side, side))
	draw.Draw(coloured, coloured.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	icon.Draw(rasterx.NewDasher(side, side, rasterx.NewScannerGV(side, side, coloured, coloured.Bounds())), 1)
	grey := image.NewGray(coloured.Bounds())
	draw.Draw(grey, grey.Bounds(), coloured, image.Point{}, draw.Src)
	var out bytes.Buffer
	if err := png.Encode(&out, grey); err != nil {
		return nil, err
	}
	rendered.Store(svg, out.Bytes())
	return out.Bytes(), nil
}
