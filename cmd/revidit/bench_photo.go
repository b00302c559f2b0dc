package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"time"

	"revidit/cmd/revidit/stopwatch"
	"revidit/review/photo"
	"revidit/review/photo/apart"
)

type benchPhoto struct {
	Rounds int    `help:"Readings of the photo, in turns with vipsthumbnail." default:"9" placeholder:"N"`
	Photo  string `help:"A photo of your own instead of the made-up one of 24 megapixels." type:"existingfile" placeholder:"FILE"`
}

// Validate checks the numbers.
func (c *benchPhoto) Validate() error {
	if c.Rounds < 1 {
		return errors.New("--rounds must be above 0; nothing was measured")
	}
	return nil
}

// Run reads a photo in a process of its own, as an upload is read, and has vipsthumbnail make the same three copies of it.
func (c *benchPhoto) Run(ctx context.Context, on console) (err error) {
	if runtime.GOOS != "linux" {
		return errors.New("bench photo reads memory from /proc, which Linux has; nothing was measured")
	}
	vips, err := exec.LookPath("vipsthumbnail")
	if err != nil {
		return errors.New("bench photo compares with vipsthumbnail, which is not here: install it (Debian and Ubuntu: apt install libvips-tools; " +
			"Fedora: dnf install vips-tools; macOS: brew install vips) and start again; nothing was measured")
	}
	folder, err := os.MkdirTemp("", "revidit-photo-")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(folder)) }()
	b := photoBench{command: c, out: on.out, vips: vips, folder: folder, reader: apart.NewReader()}
	if b.data, err = c.photo(); err != nil {
		return err
	}
	return b.measure(ctx)
}

func (c *benchPhoto) photo() ([]byte, error) {
	if c.Photo != "" {
		return os.ReadFile(c.Photo)
	}
	return cameraJPEG(6000, 4000)
}

// cameraJPEG is a picture as a camera makes it, as far as a decoder notices: shapes, noise of a sensor, colours at half the width and height.
func cameraJPEG(width, height int) ([]byte, error) {
	img, dice := image.NewYCbCr(image.Rect(0, 0, width, height), image.YCbCrSubsampleRatio420), rand.New(rand.NewPCG(1, 1))
	for i := range img.Y {
		x, y := i%img.YStride, i/img.YStride
		img.Y[i] = byte(40 + y*120/height + (x/64+y/64)%2*40 + dice.IntN(20))
	}
	for i := range img.Cb {
		x, y := i%img.CStride, i/img.CStride
		img.Cb[i], img.Cr[i] = byte(100+x*40/width+dice.IntN(6)), byte(120+y*40/height+dice.IntN(6))
	}
	var b bytes.Buffer
	err := jpeg.Encode(&b, img, &jpeg.Options{Quality: 90})
	return b.Bytes(), err
}

// photoBench is one run.
type photoBench struct {
	command *benchPhoto
	out     io.Writer
	vips    string
	folder  string
	data    []byte
	reader  *apart.Reader
}

func (b *photoBench) measure(ctx context.Context) error {
	fmt.Fprintf(b.out, "%s, %s/%s, %d cores; medians of %d rounds in turns. A photo of %.1f MB is read apart, cleaned, decoded and made into copies of %d, %d and %d pixels; "+
		"vipsthumbnail runs once for each of these. Memory is that of this program and the reader together, above this program at rest.\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), b.command.Rounds, float64(len(b.data))/1e6, photo.DisplaySide, photo.MiddleSide, photo.ThumbSide)
	if _, err := b.read(ctx); err != nil { // the code that this program reads with comes into memory once
		return err
	}
	var ours, theirs []time.Duration
	var peak int64
	for range b.command.Rounds {
		debug.FreeOSMemory()
		var took time.Duration
		rise, err := peakWhile(os.Getpid(), func() (err error) { took, err = b.read(ctx); return err })
		if err != nil {
			return err
		}
		ours, peak = append(ours, took), max(peak, rise)
		if took, err = b.thumbnails(ctx); err != nil {
			return err
		}
		theirs = append(theirs, took)
	}
	read, vips := stopwatch.Median(ours), stopwatch.Median(theirs)
	fmt.Fprintf(b.out, "\nphoto_s=%.3f vips_s=%.3f vips_ratio=%.2f peak_mib=%.0f\n", read.Seconds(), vips.Seconds(), read.Seconds()/vips.Seconds(), mib(peak))
	return nil
}

// read reads the photo as an upload, from a folder of its own.
func (b *photoBench) read(ctx context.Context) (time.Duration, error) {
	folder, err := os.MkdirTemp(b.folder, "upload-")
	if err != nil {
		return 0, err
	}
	file := filepath.Join(folder, "upload")
	if err := os.WriteFile(file, b.data, 0o600); err != nil {
		return 0, err
	}
	began := time.Now()
	err = b.reader.Read(ctx, file, photo.DefaultLimits, func(photo.Picture) error { return nil })
	return time.Since(began), errors.Join(err, os.RemoveAll(folder))
}

// thumbnails has vipsthumbnail make the copies, in three runs.
func (b *photoBench) thumbnails(ctx context.Context) (time.Duration, error) {
	file := filepath.Join(b.folder, "photo")
	if err := os.WriteFile(file, b.data, 0o600); err != nil {
		return 0, err
	}
	began := time.Now()
	for _, side := range []int{photo.DisplaySide, photo.MiddleSide, photo.ThumbSide} {
		size, to := fmt.Sprintf("%dx%d", side, side), filepath.Join(b.folder, fmt.Sprintf("copy-%d.jpg[Q=88,strip]", side))
		if said, err := exec.CommandContext(ctx, b.vips, file, "-s", size, "-o", to).CombinedOutput(); err != nil {
			return 0, fmt.Errorf("vipsthumbnail: %w: %s", err, said)
		}
	}
	return time.Since(began), nil
}
