package photo

import "image"

// halved averages squares of four pixels for as long as the fine filter is left with half as many again, of each side, as it has to leave,
// in the memory of the picture itself: that filter takes its time by the pixel, and then begins with a quarter of them. A decoder that leaves out frequencies does the same; the one of the
// standard library cannot. Pictures of other kinds come back as they are.
func halved(img image.Image, side int) image.Image {
	for {
		b := img.Bounds()
		if max(b.Dx(), b.Dy())/2 < side*3/2 {
			return img
		}
		switch of := img.(type) {
		case *image.YCbCr:
			img = halvedYCbCr(of)
		case *image.Gray:
			w, h := halvedPlane(of.Pix, of.Stride, b.Dx(), b.Dy(), true, true)
			img = &image.Gray{Pix: of.Pix, Stride: of.Stride, Rect: image.Rect(0, 0, w, h)}
		default:
			return img
		}
	}
}

// halvedYCbCr leaves colours as they are in whatever direction they have half of the pixels anyway.
func halvedYCbCr(img *image.YCbCr) *image.YCbCr {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	across, down, becomes := true, true, image.YCbCrSubsampleRatio444
	cw, ch := w, h
	switch img.SubsampleRatio {
	case image.YCbCrSubsampleRatio420:
		across, down = false, false
	case image.YCbCrSubsampleRatio422:
		across, cw = false, (w+1)/2
	case image.YCbCrSubsampleRatio440:
		down, ch = false, (h+1)/2
	case image.YCbCrSubsampleRatio411:
		across, cw, becomes = false, (w+3)/4, image.YCbCrSubsampleRatio422
	case image.YCbCrSubsampleRatio410:
		across, down, becomes = false, false, image.YCbCrSubsampleRatio422
	}
	halvedPlane(img.Cb, img.CStride, cw, ch, across, down)
	halvedPlane(img.Cr, img.CStride, cw, ch, across, down)
	w, h = halvedPlane(img.Y, img.YStride, w, h, true, true)
	return &image.YCbCr{Y: img.Y, Cb: img.Cb, Cr: img.Cr, YStride: img.YStride, CStride: img.CStride, SubsampleRatio: becomes, Rect: image.Rect(0, 0, w, h)}
}

// halvedPlane averages neighbours within the plane and returns the sides that are left. The last one of an odd number stands for two.
func halvedPlane(pix []byte, stride, w, h int, across, down bool) (int, int) {
	toW, toH := w, h
	if across {
		toW = (w + 1) / 2
	}
	if down {
		toH = (h + 1) / 2
	}
	if !across && !down {
		return toW, toH
	}
	for y := range toH {
		upper, lower := y, y
		if down {
			upper, lower = 2*y, min(2*y+1, h-1)
		}
		halvedRow(pix[y*stride:y*stride+toW], pix[upper*stride:upper*stride+w], pix[lower*stride:lower*stride+w], across)
	}
	return toW, toH
}

// halvedRow writes no byte before it has been read, so that to may be where a begins.
func halvedRow(to, a, b []byte, across bool) {
	if !across {
		for x := range to {
			to[x] = byte((int(a[x]) + int(b[x]) + 1) / 2)
		}
		return
	}
	pairs := len(a) / 2
	for x := range pairs {
		pa, pb := a[2*x:2*x+2:2*x+2], b[2*x:2*x+2:2*x+2]
		to[x] = byte((int(pa[0]) + int(pa[1]) + int(pb[0]) + int(pb[1]) + 2) / 4)
	}
	if pairs < len(to) {
		to[pairs] = byte((int(a[2*pairs]) + int(b[2*pairs]) + 1) / 2)
	}
}
