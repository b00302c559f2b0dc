package pages

import (
	"fmt"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/photo"
)

// photoWidth is how wide a photo is shown, in the words of the attribute sizes of HTML.
type photoWidth string

// sharpest is for photos of which the largest copy is wanted wherever they stand: to be printed, or because parts of it are shown
// large on the same page.
const sharpest photoWidth = ""

// besideEachOther is the width of n photos in a list of class plates (style.css): one alone is as wide as the page, several stand
// in two columns where two have room.
func besideEachOther(n int) photoWidth {
	if n < 2 {
		return "(min-width: 74rem) 70rem, 94vw"
	}
	return "(min-width: 74rem) 34rem, (min-width: 56rem) 46vw, 94vw"
}

// attributes offer the copies of a photo with their widths. Of photos that were taken in before there was a middle copy the display
// copy is given for it.
func (w photoWidth) attributes(p review.Photo) templ.Attributes {
	if w == sharpest {
		return templ.Attributes{}
	}
	middle, display := shrunkWidth(p, photo.MiddleSide), shrunkWidth(p, photo.DisplaySide)
	if middle == display {
		return templ.Attributes{}
	}
	source := "/photos/" + p.ID
	return templ.Attributes{"srcset": fmt.Sprintf("%s/middle %dw, %s/display %dw", source, middle, source, display), "sizes": string(w)}
}

// shrunkWidth is the width of the copy of a photo whose long side has at most so many pixels.
func shrunkWidth(p review.Photo, side int) int {
	long := max(p.Width, p.Height)
	if long <= side {
		return p.Width
	}
	return max(1, (p.Width*side+long/2)/long)
}
