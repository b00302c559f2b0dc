package drawing

import (
	"image/color"
	"math"
)

// rgba is a colour with components 0 to 1 in sRGB, not premultiplied.
type rgba struct{ r, g, b, a float64 }

func (c rgba) mul(k float64) rgba { return rgba{c.r * k, c.g * k, c.b * k, c.a} }
func (c rgba) to(d rgba, t float64) rgba {
	return rgba{lerp(c.r, d.r, t), lerp(c.g, d.g, t), lerp(c.b, d.b, t), lerp(c.a, d.a, t)}
}

// hsl makes a colour from hue in degrees, saturation and lightness 0 to 1.
func hsl(h, s, l float64) rgba {
	h = math.Mod(math.Mod(h, 360)+360, 360) / 60
	c := (1 - math.Abs(2*l-1)) * s
	x := c * (1 - math.Abs(math.Mod(h, 2)-1))
	m := l - c/2
	rgb := [6][3]float64{{c, x, 0}, {x, c, 0}, {0, c, x}, {0, x, c}, {x, 0, c}, {c, 0, x}}[int(h)%6]
	return rgba{rgb[0] + m, rgb[1] + m, rgb[2] + m, 1}
}

func toColor(c rgba) color.RGBA {
	return color.RGBA{byte(255 * clamp(c.r, 0, 1)), byte(255 * clamp(c.g, 0, 1)), byte(255 * clamp(c.b, 0, 1)), 255}
}
