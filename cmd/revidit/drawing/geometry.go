package drawing

import "math"

// pt is a point in body units: the body is 1 long, x goes to the right, y towards the tail.
type pt struct{ x, y float64 }

func (p pt) add(q pt) pt      { return pt{p.x + q.x, p.y + q.y} }
func (p pt) sub(q pt) pt      { return pt{p.x - q.x, p.y - q.y} }
func (p pt) mul(k float64) pt { return pt{p.x * k, p.y * k} }
func (p pt) len() float64     { return math.Hypot(p.x, p.y) }
func (p pt) left() pt         { return pt{p.y, -p.x} }

// along is p moved by a in direction d and by b to the left of it.
func (p pt) along(d pt, a, b float64) pt { return p.add(d.mul(a)).add(d.left().mul(b)) }

// polar is a vector of the given length; angles run clockwise from the right, as y points down.
func polar(angle, length float64) pt  { return pt{math.Cos(angle) * length, math.Sin(angle) * length} }
func mix(a, b pt, t float64) pt       { return a.add(b.sub(a).mul(t)) }
func (p pt) mirrored(side float64) pt { return pt{p.x * side, p.y} }
func lerp(a, b, t float64) float64    { return a + (b-a)*t }

// smooth goes from 0 at low to 1 at high; low may be the larger one.
func smooth(low, high, v float64) float64 {
	t := clamp((v-low)/(high-low), 0, 1)
	return t * t * (3 - 2*t)
}

func clamp(v, low, high float64) float64 {
	if v < low {
		return low
	}
	if v > high {
		return high
	}
	return v
}

func (p pt) unit() pt {
	if l := p.len(); l > 0 {
		return p.mul(1 / l)
	}
	return pt{1, 0}
}

func ellipse(at pt, rx, ry, angle float64) []pt {
	const n = 40
	shape := make([]pt, n)
	for i := range shape {
		t := 2 * math.Pi * float64(i) / n
		x, y := rx*math.Cos(t), ry*math.Sin(t)
		shape[i] = at.add(pt{x*math.Cos(angle) - y*math.Sin(angle), x*math.Sin(angle) + y*math.Cos(angle)})
	}
	return shape
}

// curve samples a quadratic Bezier curve.
func curve(a, b, e pt, n int) []pt {
	points := make([]pt, n+1)
	for i := range points {
		t := float64(i) / float64(n)
		points[i] = mix(mix(a, b, t), mix(b, e, t), t)
	}
	return points
}

// smoothClosed rounds a polygon with Catmull-Rom curves through its points.
func smoothClosed(points []pt, steps int) []pt {
	n := len(points)
	out := make([]pt, 0, n*steps)
	for i := range points {
		p0, p1, p2, p3 := points[(i+n-1)%n], points[i], points[(i+1)%n], points[(i+2)%n]
		for k := range steps {
			t := float64(k) / float64(steps)
			out = append(out, pt{catmull(p0.x, p1.x, p2.x, p3.x, t), catmull(p0.y, p1.y, p2.y, p3.y, t)})
		}
	}
	return out
}

func catmull(a, b, c, d, t float64) float64 {
	return 0.5 * (2*b + (c-a)*t + (2*a-5*b+4*c-d)*t*t + (3*b-a-3*c+d)*t*t*t)
}
