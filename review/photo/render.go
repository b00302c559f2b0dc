package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"

	"github.com/kovidgoyal/imaging"
	"github.com/kovidgoyal/imaging/prism/meta/icc"
)

// Quality of the JPEG copies, 1 to 100: at 88 the punctures of an elytron are not yet smeared.
const (
	displayQuality = 88
	middleQuality  = 85
	thumbQuality   = 82
)

type copies struct {
	width, height          int // of the upright picture at full size
	display, middle, thumb []byte
	large                  []byte // where one is asked for
	look                   Likeness
	warnings               []Warning
}

// render makes the three copies, each from the next larger one, and takes the memory of img for it. Colours and orientation are changed
// after shrinking, where it costs little. large is the side of a further copy, or 0.
func render(img image.Image, profile []byte, orientation, large int) (copies, error) {
	var c copies
	c.width, c.height = img.Bounds().Dx(), img.Bounds().Dy()
	if orientation > 4 { // the four that lie on their side
		c.width, c.height = c.height, c.width
	}
	_, isCMYK := img.(*image.CMYK)
	side := max(large, DisplaySide)
	img = imaging.Fit(halved(img, side), side, side, imaging.Lanczos)
	if profile != nil && !isCMYK {
		converted, err := toSRGB(img, profile)
		if err != nil {
			c.warnings = append(c.warnings, WarnProfileCopy)
		} else {
			img = converted
		}
	}
	display := opaque(turn(imaging.PasteOntoBackground(img, color.White), orientation))
	var err error
	if large > 0 {
		if c.large, err = encode(display, displayQuality); err != nil {
			return copies{}, err
		}
		display = opaque(imaging.Fit(display, DisplaySide, DisplaySide, imaging.Lanczos))
	}
	middle := opaque(imaging.Fit(display, MiddleSide, MiddleSide, imaging.Lanczos))
	thumb := opaque(imaging.Fit(middle, ThumbSide, ThumbSide, imaging.Lanczos))
	c.look = likenessOf(thumb)
	if c.display, err = encode(display, displayQuality); err != nil {
		return copies{}, err
	}
	if c.middle, err = encode(middle, middleQuality); err != nil {
		return copies{}, err
	}
	c.thumb, err = encode(thumb, thumbQuality)
	return c, err
}

// opaque is the picture as the JPEG encoder reads it without asking for each pixel by itself.
func opaque(img image.Image) *image.RGBA {
	if rgba, ok := img.(*image.RGBA); ok {
		return rgba
	}
	b := img.Bounds()
	return &image.RGBA{Pix: imaging.AsRGBAData8(img), Stride: 4 * b.Dx(), Rect: image.Rect(0, 0, b.Dx(), b.Dy())}
}

func toSRGB(img image.Image, profile []byte) (image.Image, error) {
	p, err := icc.DecodeProfile(bytes.NewReader(profile))
	if err != nil {
		return nil, fmt.Errorf("photo: colour profile: %w", err)
	}
	if p.Header.DataColorSpace == icc.ColorSpaceCMYK {
		return nil, fmt.Errorf("photo: colour profile for four inks on a picture of three colours")
	}
	return imaging.ConvertToSRGB(p, imaging.Relative, true, img)
}

// turn makes a picture with the given EXIF orientation upright.
func turn(img image.Image, orientation int) image.Image {
	switch orientation {
	case 2:
		return imaging.FlipH(img)
	case 3:
		return imaging.Rotate180(img)
	case 4:
		return imaging.FlipV(img)
	case 5:
		return imaging.Transpose(img)
	case 6:
		return imaging.Rotate270(img)
	case 7:
		return imaging.Transverse(img)
	case 8:
		return imaging.Rotate90(img)
	}
	return img
}

func encode(img image.Image, quality int) ([]byte, error) {
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("photo: making a copy: %w", err)
	}
	return out.Bytes(), nil
}
