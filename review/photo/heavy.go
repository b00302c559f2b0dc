package photo

import (
	"bytes"
	_ "embed"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/jpeg"

	"github.com/bep/imagemeta"
	"golang.org/x/image/tiff"
)

// HeavyMemory is what the process that reads a HEIC, AVIF or TIFF picture may take, in bytes.
const HeavyMemory = 1 << 30

// keptQuality is that of the JPEG that is kept in place of a picture that browsers do not show, 1 to 100: no difference can be seen.
const keptQuality = 95

// Names of the heavy formats, as a Survey tells them.
const (
	nameHEIC = "HEIC"
	nameAVIF = "AVIF"
	nameTIFF = "TIFF"
)

// What decoding takes for each pixel, in bytes, estimated from above: the decoder's own planes, its answer, and the copy in the
// file's own colours (measured with pictures of 24 megapixels, see bench photo --photo).
const (
	heicPerPixel = 16
	avifPerPixel = 18
)

//go:embed wasm/heif.wasm.gz
var heifDecoder []byte

//go:embed wasm/avif.wasm.gz
var avifDecoder []byte

// opened is a picture of a heavy format, decoded.
type opened struct {
	image       image.Image
	orientation int
	profile     []byte
	warnings    []Warning
	close       func() error // the pixels may belong to a decoder
}

// readHeavy reads a picture of a format that browsers do not show, or not all of them. What is kept of it as the original is a JPEG of all
// its pixels, with orientation and profile beside them, as if that had been sent.
func readHeavy(data []byte, f format, l Limits) (p Picture, err error) {
	facts := readMetadata(data, f)
	o, err := f.open(data)
	if errors.Is(err, errMemory) {
		return Picture{}, refusef(err, "The %s file takes more memory to decode than a picture of its size is given", "Save it as an ordinary JPEG and send that.", f.name)
	}
	if err != nil {
		return Picture{}, refuseDamaged(err, f.name)
	}
	defer func() { err = errors.Join(err, o.close()) }()
	if o.orientation == 0 { // of a TIFF it stands among what the picture says about itself
		o.orientation, o.warnings = facts.orientation, append(o.warnings, facts.warnings...)
	}
	kept, err := asJPEG(o)
	if err != nil {
		return Picture{}, err
	}
	data = nil
	l.tidy()
	copies, err := render(o.image, o.profile, o.orientation, l.Large)
	if err != nil {
		return Picture{}, err
	}
	o.warnings = append(o.warnings, WarnKeptAsJPEG.Of(f.name))
	p = pictureOf(JPEG, copies, facts, append(o.warnings, copies.warnings...))
	p.Original, p.SHA256 = kept, digestOf(kept)
	return p, nil
}

// asJPEG is the whole picture with its profile and orientation, in the form that cleanJPEG leaves.
func asJPEG(o opened) ([]byte, error) {
	var pixels bytes.Buffer
	if err := jpeg.Encode(&pixels, o.image, &jpeg.Options{Quality: keptQuality}); err != nil {
		return nil, fmt.Errorf("photo: keeping a picture as JPEG: %w", err)
	}
	c := jpegCleaner{}
	for i, part := range splitProfile(o.profile) {
		c.icc.add(append([]byte{byte(i + 1), byte((len(o.profile) + maxPart - 1) / maxPart)}, part...))
	}
	markers := pixels.Bytes()
	c.body = [][]byte{markers[2 : len(markers)-2]} // without the first and the last one, which assemble writes
	return c.assemble(o.orientation).data, nil
}

// Numbers of libheif (heif.h, heif_colorspace and heif_chroma).
const (
	heifYCbCr = 0
	heifRGB   = 1
	heifGrey  = 2
)

var heifRatios = map[uint32]image.YCbCrSubsampleRatio{1: image.YCbCrSubsampleRatio420, 2: image.YCbCrSubsampleRatio422, 3: image.YCbCrSubsampleRatio444}

// openHEIC decodes the primary picture with libheif, which turns it upright.
func openHEIC(data []byte) (opened, error) {
	h, err := surveyHEIF(streamOf(bytes.NewReader(data), int64(len(data))))
	if err != nil {
		return opened{}, err
	}
	d, err := startDecoder(heifDecoder, linearFor(h.decoded(), int64(len(data))))
	if err != nil {
		return opened{}, err
	}
	o := opened{orientation: upright, profile: h.profile, warnings: h.warnings(), close: d.close}
	if o.image, err = decodeHEIC(d, data); err != nil {
		return opened{}, errors.Join(err, d.close())
	}
	if ycbcr, ok := o.image.(*image.YCbCr); ok {
		h.matrix.undo(ycbcr)
	}
	return o, nil
}

// decodeHEIC calls the module's decode: first for the sizes, then for the pixels.
func decodeHEIC(d *decoder, data []byte) (image.Image, error) {
	in, err := d.put(data)
	if err != nil {
		return nil, err
	}
	answer, err := d.alloc(20) // width, height, colour space, chroma, whether alpha is multiplied
	if err != nil {
		return nil, err
	}
	decode := func(only, out uint64) error {
		ok, err := d.call("decode", in, uint64(len(data)), only, answer, answer+4, answer+8, answer+12, answer+16, out)
		if err == nil && ok == 0 {
			err = errors.New("libheif cannot decode it")
		}
		return err
	}
	if err := decode(1, 0); err != nil {
		return nil, err
	}
	found, err := d.numbers(answer, 5)
	if err != nil {
		return nil, err
	}
	img, planes, err := heicImage(found)
	if err != nil {
		return nil, err
	}
	out, err := d.alloc(planes[2])
	if err != nil {
		return nil, err
	}
	if err := decode(0, out); err != nil {
		return nil, err
	}
	pix, err := d.view(out, planes[2])
	if err != nil {
		return nil, err
	}
	switch of := img.(type) {
	case *image.YCbCr:
		of.Y, of.Cb, of.Cr = pix[:planes[0]], pix[planes[0]:planes[1]], pix[planes[1]:]
	case *image.Gray:
		of.Pix = pix
	case *image.NRGBA:
		of.Pix = pix
		return flat(of), nil
	}
	return img, nil
}

// heicImage is an image without pixels, and where its planes end in what the module writes. Rows are padded to 16 bytes.
func heicImage(found []uint32) (image.Image, [3]int64, error) {
	w, h, space, chroma := int(found[0]), int(found[1]), found[2], found[3]
	if w < 1 || h < 1 || saturated(w, h) > mostLinear {
		return nil, [3]int64{}, fmt.Errorf("%d x %d pixels", w, h)
	}
	padded := func(n int) int { return (n + 15) &^ 15 }
	rect := image.Rect(0, 0, w, h)
	switch space {
	case heifYCbCr:
		ratio, ok := heifRatios[chroma]
		if !ok {
			return nil, [3]int64{}, fmt.Errorf("chroma %d", chroma)
		}
		cw, ch := w, h
		if ratio != image.YCbCrSubsampleRatio444 {
			cw = (w + 1) / 2
		}
		if ratio == image.YCbCrSubsampleRatio420 {
			ch = (h + 1) / 2
		}
		luma, colour := int64(padded(w)*h), int64(padded(cw)*ch)
		return &image.YCbCr{YStride: padded(w), CStride: padded(cw), SubsampleRatio: ratio, Rect: rect}, [3]int64{luma, luma + colour, luma + 2*colour}, nil
	case heifGrey:
		return &image.Gray{Stride: padded(w), Rect: rect}, [3]int64{2: int64(padded(w) * h)}, nil
	case heifRGB:
		return &image.NRGBA{Stride: padded(4 * w), Rect: rect}, [3]int64{2: int64(padded(4*w) * h)}, nil
	}
	return nil, [3]int64{}, fmt.Errorf("colour space %d", space)
}

// openAVIF decodes the primary picture with libavif, which leaves it as it lies.
func openAVIF(data []byte) (opened, error) {
	h, err := surveyHEIF(streamOf(bytes.NewReader(data), int64(len(data))))
	if err != nil {
		return opened{}, err
	}
	d, err := startDecoder(avifDecoder, linearFor(h.decoded(), int64(len(data))))
	if err != nil {
		return opened{}, err
	}
	o := opened{orientation: h.orientation, profile: h.profile, warnings: h.warnings(), close: d.close}
	if o.image, err = decodeAVIF(d, data); err != nil {
		return opened{}, errors.Join(err, d.close())
	}
	return o, nil
}

func decodeAVIF(d *decoder, data []byte) (image.Image, error) {
	in, err := d.put(data)
	if err != nil {
		return nil, err
	}
	answer, err := d.alloc(24) // width, height, depth, pictures; the time that a picture is shown
	if err != nil {
		return nil, err
	}
	decode := func(only, out uint64) error {
		ok, err := d.call("decode", in, uint64(len(data)), only, 0, answer, answer+4, answer+8, answer+12, answer+16, out)
		if err == nil && ok == 0 {
			err = errors.New("libavif cannot decode it")
		}
		return err
	}
	if err := decode(1, 0); err != nil {
		return nil, err
	}
	found, err := d.numbers(answer, 3)
	if err != nil {
		return nil, err
	}
	w, h, each := int(found[0]), int(found[1]), 4
	if found[2] > 8 {
		each = 8
	}
	if w < 1 || h < 1 || saturated(w, h) > mostLinear {
		return nil, fmt.Errorf("%d x %d pixels", w, h)
	}
	size := int64(w) * int64(h) * int64(each)
	out, err := d.alloc(size)
	if err != nil {
		return nil, err
	}
	pix, err := d.view(out, size)
	if err != nil {
		return nil, err
	}
	clear(pix) // the module says that it is done where it could not decode anything
	if err := decode(0, out); err != nil {
		return nil, err
	}
	if pix, err = d.view(out, size); err != nil {
		return nil, err
	}
	if each == 8 { // of 16 bits, the more telling byte second
		for i := range pix[:size/2] {
			pix[i] = pix[2*i+1]
		}
		pix = pix[:size/2]
	}
	if len(bytes.TrimLeft(pix, "\x00")) == 0 {
		return nil, errors.New("libavif has decoded nothing")
	}
	return flat(&image.RGBA{Pix: pix, Stride: 4 * w, Rect: image.Rect(0, 0, w, h)}), nil
}

// openTIFF decodes the first page.
func openTIFF(data []byte) (opened, error) {
	t, err := readTIFF(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return opened{}, err
	}
	img, err := tiff.Decode(bytes.NewReader(data))
	if err != nil {
		return opened{}, err
	}
	o := opened{image: flat(img), profile: t.profile, close: func() error { return nil }}
	if t.more {
		o.warnings = append(o.warnings, WarnPages)
	}
	return o, nil
}

// flat is an opaque picture of 8 bits a colour on a white ground, in the memory of the picture itself where that is possible, and of a
// type that the JPEG encoder reads quickly.
func flat(img image.Image) image.Image {
	switch of := img.(type) {
	case *image.YCbCr, *image.Gray:
		return of
	case *image.RGBA:
		for i := 0; i+3 < len(of.Pix); i += 4 {
			rest := 255 - of.Pix[i+3]
			of.Pix[i], of.Pix[i+1], of.Pix[i+2], of.Pix[i+3] = of.Pix[i]+min(rest, 255-of.Pix[i]), of.Pix[i+1]+min(rest, 255-of.Pix[i+1]), of.Pix[i+2]+min(rest, 255-of.Pix[i+2]), 255
		}
		return of
	case *image.NRGBA:
		for i := 0; i+3 < len(of.Pix); i += 4 {
			alpha := int(of.Pix[i+3])
			for n := range 3 {
				of.Pix[i+n] = byte((int(of.Pix[i+n])*alpha + 255*(255-alpha) + 127) / 255)
			}
			of.Pix[i+3] = 255
		}
		return &image.RGBA{Pix: of.Pix, Stride: of.Stride, Rect: of.Rect}
	case *image.RGBA64:
		return flat(&image.RGBA{Pix: upper(of.Pix), Stride: of.Stride / 2, Rect: of.Rect})
	case *image.NRGBA64:
		return flat(&image.NRGBA{Pix: upper(of.Pix), Stride: of.Stride / 2, Rect: of.Rect})
	case *image.Gray16:
		return &image.Gray{Pix: upper(of.Pix), Stride: of.Stride / 2, Rect: of.Rect}
	}
	b := img.Bounds()
	onto := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	draw.Draw(onto, onto.Rect, image.White, image.Point{}, draw.Src)
	draw.Draw(onto, onto.Rect, img, b.Min, draw.Over)
	return onto
}

// upper are the more telling bytes of numbers of 16 bits, big-endian, in their own memory.
func upper(pix []byte) []byte {
	for i := range len(pix) / 2 {
		pix[i] = byte(min(int(binary.BigEndian.Uint16(pix[2*i:]))+0x80, 0xffff) >> 8)
	}
	return pix[:len(pix)/2]
}

var (
	heicFormat = format{name: nameHEIC, mediaType: JPEG, meta: imagemeta.HEIF, survey: surveyOfHEIF, open: openHEIC}
	avifFormat = format{name: nameAVIF, mediaType: JPEG, meta: imagemeta.AVIF, survey: surveyOfHEIF, open: openAVIF}
	tiffFormat = format{name: nameTIFF, mediaType: JPEG, meta: imagemeta.TIFF, survey: surveyTIFF, open: openTIFF}
)
