package photo

import (
	"bytes"
	"fmt"
	"image/jpeg"

	"github.com/kovidgoyal/imaging"
)

// Complete makes of the display copy of a photo what photos of earlier programs lack: the middle copy, as render makes it, and what the photo
// looks like. It is for copies that this program has made: what is larger than one is refused before it is decoded.
func Complete(display []byte) (middle []byte, look Likeness, err error) {
	config, err := jpeg.DecodeConfig(bytes.NewReader(display))
	if err != nil {
		return nil, "", fmt.Errorf("photo: a copy: %w", err)
	}
	if config.Width > DisplaySide || config.Height > DisplaySide {
		return nil, "", fmt.Errorf("photo: %d x %d pixels are no copy of ours", config.Width, config.Height)
	}
	img, err := jpeg.Decode(bytes.NewReader(display))
	if err != nil {
		return nil, "", fmt.Errorf("photo: a copy: %w", err)
	}
	smaller := opaque(imaging.Fit(img, MiddleSide, MiddleSide, imaging.Lanczos))
	look = likenessOf(opaque(imaging.Fit(smaller, ThumbSide, ThumbSide, imaging.Lanczos)))
	middle, err = encode(smaller, middleQuality)
	return middle, look, err
}
