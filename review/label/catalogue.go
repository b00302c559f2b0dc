package label

import "math"

// Dot is one of a printer of 600 dots an inch, in millimetres: modules of a code are whole dots, so that their edges are sharp.
const Dot = 25.4 / 600

const (
	// leastDots is how small a module may be: 0.17 mm, for a scanner or a telephone. Our own.
	leastDots = 4
	mostDots  = 9
	// codeMargin is from the edge of a label to the white around the code, which it may share with that of the paper.
	codeMargin = 0.3
	// leastText is what has to be left for the number beside the code, in millimetres.
	leastText = 5.0
)

var catalogueRecipe = recipe{cut: []Field{Number}}

// Catalogue is the label of a number, for people and as a Data Matrix.
func (s Setter) Catalogue(number string) Typeset {
	code, how := s.code(number)
	left := marginSide
	if code != nil {
		left = code.Side() + marginSide
	}
	l := s.set(draft{{{Number, run(number), ""}}}, catalogueRecipe, left)
	l.Code = code
	if how != "" {
		l.Shortened = append(l.Shortened, Shortening{Number, how, number, ""})
	}
	return l
}

// code is as large as the label allows; nil where there is none, and why.
func (s Setter) code(number string) (*Code, How) {
	modules, ok := s.Metrics.Modules(number)
	if !ok {
		return nil, NoCodeOf
	}
	side := min(s.Size.Height-2*codeMargin, s.Size.Width-leastText)
	dots := min(int(math.Floor(side/float64(modules+2)/Dot+1e-9)), mostDots)
	if dots < leastDots {
		return nil, WithoutCode
	}
	return &Code{Content: number, Modules: modules, Module: float64(dots) * Dot}, ""
}
