package photo

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"

	"github.com/bep/imagemeta"
	"golang.org/x/image/webp"
)

// format is what is known about one accepted file type.
type format struct {
	name, mediaType string
	meta            imagemeta.ImageFormat
	survey          func(r io.ReadSeeker, size int64) (Survey, error)
	clean           func(data []byte, orientation int) (cleaned, error)
	config          func(io.Reader) (image.Config, error)
	decode          func(io.Reader) (image.Image, error)
	// open decodes what is not kept as it came; it takes the place of clean, config and decode.
	open func(data []byte) (opened, error)
}

var (
	jpegFormat = format{"JPEG", JPEG, imagemeta.JPEG, forward(surveyJPEG), cleanJPEG, jpeg.DecodeConfig, jpeg.Decode, nil}
	pngFormat  = format{"PNG", PNG, imagemeta.PNG, forward(surveyPNG), cleanPNG, png.DecodeConfig, png.Decode, nil}
	webpFormat = format{"WebP", WebP, imagemeta.WebP, forward(surveyWebP), cleanWebP, webp.DecodeConfig, webp.Decode, nil}
)

// others are file types that people send by mistake, recognised only to say so.
var others = []struct {
	at           int
	prefix, name string
}{
	{0, "GIF8", "a GIF"},
	{0, "BM", "a BMP picture"},
	{0, "II+\x00", "a TIFF beyond 4 GB"},
	{0, "MM\x00+", "a TIFF beyond 4 GB"},
	{0, "%PDF", "a PDF"},
	{0, "PK\x03\x04", "a ZIP archive or an office document"},
	{0, "<", "a text or web page"},
	{4, "ftyp", "a video"},
}

func formatOf(data []byte) (format, error) {
	switch {
	case hasPrefixAt(data, 0, "\xff\xd8\xff"):
		return jpegFormat, nil
	case hasPrefixAt(data, 0, pngSignature):
		return pngFormat, nil
	case hasPrefixAt(data, 0, "RIFF") && hasPrefixAt(data, 8, "WEBP"):
		return webpFormat, nil
	case isHEIF(data):
		return heicFormat, nil // or AVIF: what it holds is told by its boxes
	case hasPrefixAt(data, 0, "II*\x00") || hasPrefixAt(data, 0, "MM\x00*"):
		return tiffFormat, nil
	}
	for _, o := range others {
		if hasPrefixAt(data, o.at, o.prefix) {
			return format{}, refusef(nil, "The file is not a picture of a kind that is read here (JPEG, PNG, WebP, HEIC, AVIF, TIFF): its content looks like %s", "Save the photo as JPEG and send that.", o.name)
		}
	}
	return format{}, refusef(nil, "The file is not a picture of a kind that is read here (JPEG, PNG, WebP, HEIC, AVIF, TIFF), whatever its name says", "Save the photo as JPEG and send that.")
}

// decode reads the whole picture, after its dimensions were found to be within the limit.
func decode(data []byte, f format, l Limits) (image.Image, error) {
	config, err := f.config(bytes.NewReader(data))
	if err != nil {
		return nil, refuseDamaged(err, f.name)
	}
	if config.Width < 1 || config.Height < 1 {
		return nil, refuseDamaged(errors.New("no pixels"), f.name)
	}
	if pixels := int64(config.Width) * int64(config.Height); pixels > l.Pixels {
		return nil, refusef(nil, "The picture has %d x %d pixels, more than the %.4g megapixels that are accepted",
			"Make it smaller, or cut it to the specimen, and send it again.", config.Width, config.Height, float64(l.Pixels)/1e6)
	}
	img, err := f.decode(bytes.NewReader(data))
	if err != nil {
		return nil, refuseDamaged(err, f.name)
	}
	if b := img.Bounds(); b.Dx() != config.Width || b.Dy() != config.Height {
		return nil, refuseDamaged(fmt.Errorf("announced %d x %d, decoded %d x %d", config.Width, config.Height, b.Dx(), b.Dy()), f.name)
	}
	return img, nil
}
