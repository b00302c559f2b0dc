package iiif

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Request is one for an image, as the Image API 3.0 has it (section 4). The rotation is 0, the quality that of the picture, the format JPEG.
type Request struct {
	Region RegionForm
	Size   SizeForm
}

// Parse reads the parts of the path: region, size, rotation, and quality with format. What the standard does not know is status 400, what is
// not done here 501.
func Parse(region, size, rotation, file string) (Request, error) {
	var r Request
	var err error
	if r.Region, err = ParseRegion(region); err != nil {
		return Request{}, err
	}
	if r.Size, err = ParseSize(size); err != nil {
		return Request{}, err
	}
	if err := checkRotation(rotation); err != nil {
		return Request{}, err
	}
	return r, checkFile(file)
}

func checkRotation(text string) error {
	mirrored := strings.HasPrefix(text, "!")
	degrees, ok := number(strings.TrimPrefix(text, "!"))
	switch {
	case !ok || degrees > 360:
		return bad("The rotation must be a number of degrees from 0 to 360, with ! before it if mirrored.")
	case mirrored || math.Mod(degrees, 360) != 0:
		return notDone("Pictures are not turned or mirrored here: ask for rotation 0.")
	}
	return nil
}

// formats of the Image API 3.0, section 4.5; JPEG is the one that is made here.
var formats = map[string]bool{"jpg": true, "tif": false, "png": false, "gif": false, "jp2": false, "pdf": false, "webp": false}

// qualities of section 4.4. All published photos are in colour.
var qualities = map[string]bool{"default": true, "color": true, "gray": false, "bitonal": false}

func checkFile(file string) error {
	quality, format, found := strings.Cut(file, ".")
	done, known := qualities[quality]
	if !found || !known {
		return bad("The quality must be default, color, gray or bitonal, with a format behind a full stop.")
	}
	made, ofIIIF := formats[format]
	switch {
	case !ofIIIF:
		return bad("The format must be one of the standard's, such as jpg.")
	case !made:
		return notDone("The format is not made here: ask for jpg.")
	case !done:
		return notDone("The quality is not made here: ask for default.")
	}
	return nil
}

// numberForm is that of section 4.7: no sign, no exponent. Zeros that may be left out are taken.
var numberForm = regexp.MustCompile(`^(\d{1,9}(\.\d{0,9})?|\.\d{1,9})$`)

func number(text string) (float64, bool) {
	if !numberForm.MatchString(text) {
		return 0, false
	}
	n, err := strconv.ParseFloat(text, 64)
	return n, err == nil
}

func whole(text string) (int, bool) {
	if len(text) == 0 || len(text) > 9 || strings.Trim(text, "0123456789") != "" {
		return 0, false
	}
	n, err := strconv.Atoi(text)
	return n, err == nil
}

// RegionForm is which part of a picture is asked for (section 4.1).
type RegionForm struct {
	full, square bool
	percent      bool
	x, y, w, h   float64
}

// ParseRegion reads full, square, x,y,w,h or pct:x,y,w,h.
func ParseRegion(text string) (RegionForm, error) {
	switch text {
	case "full":
		return RegionForm{full: true}, nil
	case "square":
		return RegionForm{square: true}, nil
	}
	var r RegionForm
	list, percent := strings.CutPrefix(text, "pct:")
	r.percent = percent
	parts := strings.Split(list, ",")
	if len(parts) != 4 {
		return RegionForm{}, bad("The region must be full, square, x,y,w,h or pct:x,y,w,h.")
	}
	for i, into := range []*float64{&r.x, &r.y, &r.w, &r.h} {
		n, ok := number(parts[i])
		if !percent {
			var pixels int
			pixels, ok = whole(parts[i])
			n = float64(pixels)
		}
		if !ok {
			return RegionForm{}, bad("The region must have whole numbers of pixels, or numbers of per cent.")
		}
		*into = n
	}
	return r, nil
}

// On is the rectangle of a picture of width by height. Per cent are rounded to the nearest pixel; what lies beyond the edges is cut.
func (r RegionForm) On(width, height int) (Rect, error) {
	side := min(width, height)
	switch {
	case r.full:
		return Rect{W: width, H: height}, nil
	case r.square:
		return Rect{X: (width - side) / 2, Y: (height - side) / 2, W: side, H: side}, nil
	}
	x, y, w, h := r.x, r.y, r.w, r.h
	if r.percent {
		x, y, w, h = math.Round(x*float64(width)/100), math.Round(y*float64(height)/100), math.Round(w*float64(width)/100), math.Round(h*float64(height)/100)
	}
	if w < 1 || h < 1 {
		return Rect{}, bad("The region has no width or no height.")
	}
	if x >= float64(width) || y >= float64(height) {
		return Rect{}, bad("The region lies outside the picture, which has %d x %d pixels.", width, height)
	}
	cut := Rect{X: int(x), Y: int(y)}
	cut.W, cut.H = int(min(w, float64(width-cut.X))), int(min(h, float64(height-cut.Y)))
	return cut, nil
}

// SizeForm is how large a region is asked for (section 4.2).
type SizeForm struct {
	upscale  bool    // ^
	max      bool    // as large as allowed
	percent  float64 // above 0: of the region
	confined bool    // !
	w, h     int     // 0: by the other one
}

// ParseSize reads max, w, ,h pct:n w,h !w,h and each of them behind ^.
func ParseSize(text string) (SizeForm, error) {
	var s SizeForm
	text, s.upscale = strings.CutPrefix(text, "^")
	if text == "max" {
		s.max = true
		return s, nil
	}
	if share, ok := strings.CutPrefix(text, "pct:"); ok {
		n, ok := number(share)
		if !ok || n <= 0 || !s.upscale && n > 100 {
			return SizeForm{}, bad("The size pct:n must have a number of per cent above 0, and at most 100 without ^.")
		}
		s.percent = n
		return s, nil
	}
	text, s.confined = strings.CutPrefix(text, "!")
	w, h, found := strings.Cut(text, ",")
	for _, side := range []struct {
		text string
		into *int
	}{{w, &s.w}, {h, &s.h}} {
		if side.text == "" {
			continue
		}
		n, ok := whole(side.text)
		if !ok || n < 1 {
			return SizeForm{}, bad("The size must have whole numbers of pixels above 0.")
		}
		*side.into = n
	}
	if !found || s.w == 0 && s.h == 0 || s.confined && (s.w == 0 || s.h == 0) {
		return SizeForm{}, bad("The size must be max, w, or ,h or w,h or !w,h or pct:n.")
	}
	return s, nil
}

// Limits are what a server makes. Zero widths and heights are no limit.
type Limits struct {
	MaxWidth, MaxHeight int
	Upscaling           bool
}

// For is the size in pixels of what is made of a region.
func (s SizeForm) For(region Rect, l Limits) (w, h int, err error) {
	if s.upscale && !l.Upscaling {
		return 0, 0, notDone("Pictures are not enlarged here: ask without ^.")
	}
	rw, rh := float64(region.W), float64(region.H)
	switch {
	case s.max:
		scale := l.scale(rw, rh)
		if !s.upscale {
			scale = min(scale, 1)
		}
		if math.IsInf(scale, 1) {
			scale = 1
		}
		return rounded(rw * scale), rounded(rh * scale), nil
	case s.percent > 0:
		w, h = rounded(rw*s.percent/100), rounded(rh*s.percent/100)
	case s.confined:
		scale := min(float64(s.w)/rw, float64(s.h)/rh)
		if !s.upscale {
			scale = min(scale, 1)
		}
		w, h = rounded(rw*scale), rounded(rh*scale)
	case s.h == 0:
		w, h = s.w, rounded(float64(s.w)*rh/rw)
	case s.w == 0:
		w, h = rounded(float64(s.h)*rw/rh), s.h
	default:
		w, h = s.w, s.h
	}
	if !s.upscale && (w > region.W || h > region.H) {
		return 0, 0, bad("The size is larger than the region, which has %d x %d pixels.", region.W, region.H)
	}
	if l.scale(float64(w), float64(h)) < 1 {
		return 0, 0, bad("The size is larger than what is made here.")
	}
	return w, h, nil
}

// scale is by how much a size may grow until it meets the limits.
func (l Limits) scale(w, h float64) float64 {
	scale := math.Inf(1)
	if l.MaxWidth > 0 {
		scale = float64(l.MaxWidth) / w
	}
	if l.MaxHeight > 0 {
		scale = min(scale, float64(l.MaxHeight)/h)
	}
	return scale
}

func rounded(x float64) int { return max(1, int(math.Round(x))) }

// Canonical is the path of what a request comes to (section 4.7), of a picture of width by height, without enlarging.
func Canonical(width, height int, region Rect, w, h int) string {
	part, size := region.String(), fmt.Sprintf("%d,%d", w, h)
	if region == (Rect{W: width, H: height}) {
		part = "full"
	}
	if w == region.W && h == region.H {
		size = "max"
	}
	return part + "/" + size + "/0/default.jpg"
}
