package photo

import "image"

// matrix is how brightness and colour differences of a picture are meant (nclx of ISO/IEC 14496-12, numbers of ITU-T H.273, table 4).
type matrix struct {
	number  int
	limited bool // 16 to 235 and 240
}

// weights are those of red and blue in brightness, by the number of the matrix (ITU-T H.273, table 4).
var weights = map[int][2]float64{1: {0.2126, 0.0722}, 5: {0.299, 0.114}, 6: {0.299, 0.114}, 9: {0.2627, 0.0593}}

// ofJPEG is the matrix that JPEG files have (JFIF 1.02), with the full range.
const ofJPEG = 5

// undo gives the picture the matrix and range of JPEG, in its own memory. Numbers that are not known are taken for those of JPEG.
func (m matrix) undo(img *image.YCbCr) {
	from, known := weights[m.number]
	if !known {
		from = weights[ofJPEG]
	}
	to := weights[ofJPEG]
	if from == to && !m.limited {
		return
	}
	luma, chroma, black := 1.0, 1.0, 0.0
	if m.limited {
		luma, chroma, black = 255.0/219, 255.0/224, 16
	}
	// With brightness Y and differences b = (B-Y)/(2-2kb), r = (R-Y)/(2-2kr), the new brightness is Y + yb·b + yr·r, and so on.
	kr, kb, tr, tb := from[0], from[1], to[0], to[1]
	rr, bb := 2-2*kr, 2-2*kb // R-Y = rr·r, B-Y = bb·b
	green := 1 - kr - kb
	gr, gb := -kr/green*rr, -kb/green*bb // G-Y = gr·r + gb·b
	yr, yb := tr*rr+(1-tr-tb)*gr, tb*bb+(1-tr-tb)*gb
	convert := func(b, r float64) (db, dr, dy float64) {
		dy = yb*b + yr*r
		return (bb*b - dy) / (2 - 2*tb), (rr*r - dy) / (2 - 2*tr), dy
	}
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			at, c := img.YOffset(x, y), img.COffset(x, y)
			_, _, dy := convert((float64(img.Cb[c])-128)*chroma, (float64(img.Cr[c])-128)*chroma)
			img.Y[at] = byteOf((float64(img.Y[at])-black)*luma + dy)
		}
	}
	for i := range img.Cb {
		db, dr, _ := convert((float64(img.Cb[i])-128)*chroma, (float64(img.Cr[i])-128)*chroma)
		img.Cb[i], img.Cr[i] = byteOf(db+128), byteOf(dr+128)
	}
}

func byteOf(x float64) byte { return byte(min(max(x+0.5, 0), 255)) }
