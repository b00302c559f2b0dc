package drawing

import "math"

// Light comes from the top left, as on printed plates; half is the direction halfway to the viewer.
var (
	light = norm3(-0.5, -0.6, 0.75)
	half  = norm3(-0.5, -0.6, 1.75)
)

type vec3 struct{ x, y, z float64 }

func norm3(x, y, z float64) vec3 {
	l := 1 / math.Sqrt(x*x+y*y+z*z)
	return vec3{x * l, y * l, z * l}
}

func (a vec3) dot(b vec3) float64 { return a.x*b.x + a.y*b.y + a.z*b.z }

// skin is how a surface reflects.
type skin struct {
	base     rgba
	gloss    float64 // 0 dull to 1 polished
	metallic bool
}

// lit is the colour of skin where its surface looks in direction n.
func (s skin) lit(n vec3) rgba {
	d := max(n.dot(light), 0)
	h := max(n.dot(half), 0)
	base := s.base
	if s.metallic {
		base = metal(base, n)
	}
	h4 := h * h * h * h
	h16 := h4 * h4 * h4 * h4
	h64 := h16 * h16 * h16 * h16
	spec := s.gloss * (0.2*h16 + 0.5*h64)
	rim := 0.10 * (1 - n.z) * s.gloss
	k := 0.36 + 0.86*d
	out := rgba{base.r*k + spec + rim*0.7, base.g*k + spec + rim*0.8, base.b*k + spec*0.96 + rim, base.a}
	if s.metallic {
		out = out.to(rgba{base.r*1.5 + 0.35, base.g*1.5 + 0.35, base.b*1.5 + 0.3, base.a}, 0.75*h64)
	}
	return out
}

// metal shifts the hue with the slope, as thin layers of chitin do.
func metal(base rgba, n vec3) rgba {
	slope := 1 - n.z
	shifted := rgba{base.r*0.6 + 0.30*slope, base.g*0.9 - 0.1*slope, base.b*1.3 + 0.22*slope, base.a}
	return base.mul(1.15).to(shifted, clamp(1.7*slope, 0, 1))
}

// domed is the normal of a dome; u goes from -1 to 1 across and v along it.
func domed(u, v, height float64) vec3 {
	u, v = clamp(u, -1, 1), clamp(v, -1, 1)
	return norm3(height*u*(0.55+0.75*u*u), height*0.8*v*v*v, 1)
}

// dark is the same skin at k of its lightness.
func (s skin) dark(k float64) skin { s.base = s.base.mul(k); return s }

// noise is smooth value noise, -1 to 1, one lattice cell a unit.
func noise(x, y float64, seed uint64) float64 {
	ix, iy := math.Floor(x), math.Floor(y)
	fx, fy := x-ix, y-iy
	fx, fy = fx*fx*(3-2*fx), fy*fy*(3-2*fy)
	i, j := int64(ix), int64(iy)
	return lerp(lerp(lattice(i, j, seed), lattice(i+1, j, seed), fx), lerp(lattice(i, j+1, seed), lattice(i+1, j+1, seed), fx), fy)
}

func lattice(i, j int64, seed uint64) float64 {
	h := scramble(uint64(i)*0x9e3779b97f4a7c15 ^ uint64(j)*0xc2b2ae3d27d4eb4f ^ seed)
	return float64(h>>11)/(1<<52) - 1
}

// dots is how deep one is in a puncture, 0 to 1; cell is the spacing and r the radius, in the unit of x and y.
func dots(x, y, cell, r float64, seed uint64) float64 {
	i, j := math.Floor(x/cell), math.Floor(y/cell)
	cx := (i + 0.5 + 0.28*lattice(int64(i), int64(j), seed)) * cell
	cy := (j + 0.5 + 0.28*lattice(int64(i), int64(j), seed+1)) * cell
	return smooth(r, r*0.45, math.Hypot(x-cx, y-cy))
}
