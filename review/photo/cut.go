package photo

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"

	"github.com/kovidgoyal/imaging"
)

// OpenCopy decodes a copy that render has made; of no other JPEG are the limits known.
func OpenCopy(data []byte) (image.Image, error) {
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("photo: a copy: %w", err)
	}
	return img, nil
}

// Cut is a part of an opened copy as a JPEG of width by height. It changes nothing of the copy, so that several may cut it at once.
func Cut(img image.Image, part image.Rectangle, width, height int) ([]byte, error) {
	var cut image.Image = imaging.Crop(img, part)
	if part.Dx() != width || part.Dy() != height {
		cut = imaging.Resize(cut, width, height, imaging.Lanczos)
	}
	return encode(opaque(cut), displayQuality)
}
