package iiif

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// MediaFragments is the standard that our fragments conform to, as annotations name it.
const MediaFragments = "http://www.w3.org/TR/media-frags/"

// Fragment is a rectangle on a picture, of pixels or, if Percent, of per cent of its width and height.
type Fragment struct {
	Percent    bool
	X, Y, W, H float64
}

// Why a fragment stands for no region.
var (
	ErrFragment = errors.New("this is no region like xywh=160,120,320,240 or xywh=percent:25,25,50,50")
	ErrOutside  = errors.New("the region lies outside the picture")
	ErrEmpty    = errors.New("the region has no width or no height")
)

// fragmentForm is that of Media Fragments 1.0, section 4.2.2, which has whole numbers only. Decimals are taken as well, as the
// web-platform tests expect it: programs that draw regions write them.
var fragmentForm = regexp.MustCompile(`^xywh=(pixel:|percent:)?(\d{1,9}(?:\.\d{0,9})?),(\d{1,9}(?:\.\d{0,9})?),(\d{1,9}(?:\.\d{0,9})?),(\d{1,9}(?:\.\d{0,9})?)$`)

// ParseFragment reads a fragment, without the sign # before it.
func ParseFragment(text string) (Fragment, error) {
	parts := fragmentForm.FindStringSubmatch(text)
	if parts == nil {
		return Fragment{}, ErrFragment
	}
	f := Fragment{Percent: parts[1] == "percent:"}
	for i, into := range []*float64{&f.X, &f.Y, &f.W, &f.H} {
		n, err := strconv.ParseFloat(parts[2+i], 64)
		if err != nil {
			return Fragment{}, ErrFragment
		}
		*into = n
	}
	return f, nil
}

// String is the fragment as it is written: in pixels without a unit, which every reader knows.
func (f Fragment) String() string {
	unit := ""
	if f.Percent {
		unit = "percent:"
	}
	return fmt.Sprintf("xywh=%s%s,%s,%s,%s", unit, decimal(f.X), decimal(f.Y), decimal(f.W), decimal(f.H))
}

func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

// On is the rectangle in whole pixels of a picture of width by height: corners rounded down, sides of per cent rounded up, cut at the edges.
func (f Fragment) On(width, height int) (Rect, error) {
	if f.Percent {
		f = Fragment{X: f.X * float64(width) / 100, Y: f.Y * float64(height) / 100, W: f.W * float64(width) / 100, H: f.H * float64(height) / 100}
	}
	x, y := math.Floor(f.X+dust), math.Floor(f.Y+dust)
	w, h := math.Ceil(f.W-dust), math.Ceil(f.H-dust)
	switch {
	case w <= 0 || h <= 0:
		return Rect{}, ErrEmpty
	case x >= float64(width) || y >= float64(height):
		return Rect{}, ErrOutside
	}
	r := Rect{X: int(x), Y: int(y)}
	r.W, r.H = int(min(w, float64(width-r.X))), int(min(h, float64(height-r.Y)))
	return r, nil
}

// dust is less than any part of a pixel that counts, and more than what a product of decimal fractions is wrong by.
const dust = 1e-6

// Rect is a rectangle in pixels.
type Rect struct{ X, Y, W, H int }

// String is the rectangle as IIIF writes it.
func (r Rect) String() string { return fmt.Sprintf("%d,%d,%d,%d", r.X, r.Y, r.W, r.H) }

// Target is what an annotation is about: a part of a source.
type Target struct{ Source, Fragment string }

// IRI is the target in one line (Web Annotation Data Model, section 4.2.1).
func (t Target) IRI() string { return t.Source + "#" + t.Fragment }

// errTarget is for what is no target with one fragment.
var errTarget = errors.New("this is no target with one FragmentSelector or a fragment behind #")

// ReadTarget reads a target in either of its forms: an IRI with a fragment (Web Annotation Data Model, section 3.1), or a source with one
// FragmentSelector (section 4.2.1).
func ReadTarget(data []byte) (Target, error) {
	data = bytes.TrimSpace(data)
	var iri string
	if json.Unmarshal(data, &iri) == nil {
		source, fragment, found := strings.Cut(iri, "#")
		if !found {
			return Target{}, errTarget
		}
		return Target{source, fragment}, nil
	}
	var form struct {
		Source   string
		Selector struct {
			Type, Value string
			ConformsTo  string
		}
	}
	// Several types, values or standards are lists, which are no text.
	if err := json.Unmarshal(data, &form); err != nil || form.Source == "" || form.Selector.Type != "FragmentSelector" || form.Selector.Value == "" {
		return Target{}, errTarget
	}
	return Target{form.Source, form.Selector.Value}, nil
}
