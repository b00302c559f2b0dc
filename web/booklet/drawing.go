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

// rendered are drawings by their SVG: the same few hundred for every key.
var rendered sync.Map

// side of a drawing in dots.
const side = int(picture * dotsPerMM)

// draws registers the drawing of a state with the file, and says whether there is one.
func (l *layout) draws(character, state string) bool {
	svg, ok := l.tables.Picture(character, state)
	if !ok || l.err != nil {
		return false
	}
	name := character + "/" + state
	if _, known := l.drawn[name]; known {
		return true
	}
	l.drawn[name] = len(l.drawn)
	picture, err := l.widened(name, svg)
	if err != nil {
		l.err = fmt.Errorf("the drawing %s cannot be printed: %w", name, err)
		return false
	}
	l.pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "png"}, bytes.NewReader(picture))
	return true
}

// widened is a drawing as PNG, with as many white columns on its right as drawings came before it: the library writes pictures in the
// order of their widths, and of equal ones in that of a map, so that no file would be like another.
func (l *layout) widened(name, svg string) ([]byte, error) {
	drawing, err := render(svg)
	if err != nil {
		return nil, err
	}
	wide := image.NewGray(image.Rect(0, 0, side+l.drawn[name], side))
	draw.Draw(wide, wide.Bounds(), image.White, image.Point{}, draw.Src)
	draw.Draw(wide, drawing.Bounds(), drawing, image.Point{}, draw.Src)
	var out bytes.Buffer
	err = png.Encode(&out, wide)
	return out.Bytes(), err
}

func (l *layout) picture(name string, x, y float64) {
	wide := picture * float64(side+l.drawn[name]) / float64(side)
	l.put(func(shift float64) {
		l.pdf.ImageOptions(name, shift+x, y, wide, picture, false, fpdf.ImageOptions{ImageType: "png"}, 0, "")
	})
}

// render draws an SVG of plain shapes in black on white, in greys.
func render(svg string) (*image.Gray, error) {
	if known, ok := rendered.Load(svg); ok {
		return known.(*image.Gray), nil
	}
	icon, err := oksvg.ReadIconStream(strings.NewReader(strings.ReplaceAll(svg, "currentColor", "#000000")), oksvg.StrictErrorMode)
	if err != nil {
		return nil, err
	}
	icon.SetTarget(0, 0, float64(side), float64(side))
	coloured := image.NewRGBA(image.Rect(0, 0, side, side))
	draw.Draw(coloured, coloured.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src)
	icon.Draw(rasterx.NewDasher(side, side, rasterx.NewScannerGV(side, side, coloured, coloured.Bounds())), 1)
	grey := image.NewGray(coloured.Bounds())
	draw.Draw(grey, grey.Bounds(), coloured, image.Point{}, draw.Src)
	rendered.Store(svg, grey)
	return grey, nil
}
