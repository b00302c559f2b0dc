package apart

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review/photo"
)

func written(t *testing.T, data []byte) string {
	t.Helper()
	file := filepath.Join(t.TempDir(), "upload")
	require.NoError(t, os.WriteFile(file, data, 0o600))
	return file
}

func plain(t *testing.T, width, height int) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, width, height)), nil))
	return b.Bytes()
}

// TestApartIsTheSame: a process gives what reading here gives, and sees nothing of the environment.
func TestApartIsTheSame(t *testing.T) {
	data := plain(t, 300, 200)
	want, err := photo.Read(bytes.NewReader(data), photo.Limits{})
	require.NoError(t, err)
	var got photo.Picture
	require.NoError(t, NewReader().Read(t.Context(), written(t, data), photo.DefaultLimits, func(p photo.Picture) error { got = p; return nil }))
	require.Equal(t, want, got)
}

func TestWhatUseSaysIsReturned(t *testing.T) {
	full := errors.New("disk full")
	r, file := NewReader(), written(t, plain(t, 30, 20))
	for range smallAtOnce + 1 { // the slot is given back
		require.ErrorIs(t, r.Read(t.Context(), file, photo.DefaultLimits, func(photo.Picture) error { return full }), full)
	}
}

// TestDamagedIsRefusedApart: the process says so, in its words.
func TestDamagedIsRefusedApart(t *testing.T) {
	data := plain(t, 300, 200)
	scan := bytes.Index(data, []byte{0xff, 0xda})
	cut := append(bytes.Clone(data[:scan+40]), 0xff, 0xd9)
	err := NewReader().Read(t.Context(), written(t, cut), photo.DefaultLimits, nil)
	var refused *photo.RefusedError
	require.ErrorAs(t, err, &refused)
	require.Contains(t, refused.Reason, "damaged")
}

// large is a progressive JPEG of 5200 x 5200 pixels in three planes, whose scans hold nothing but ends of blocks: a few bytes that take
// seconds. It is written by hand after ITU-T T.81, sections B.2 and F.1.
func large(scans int) []byte {
	out := []byte{0xff, 0xd8, 0xff, 0xdb, 0, 67, 0}
	out = append(out, bytes.Repeat([]byte{1}, 64)...)
	out = append(out, 0xff, 0xc2, 0, 17, 8)
	out = binary.BigEndian.AppendUint16(out, 5200)
	out = binary.BigEndian.AppendUint16(out, 5200)
	out = append(out, 3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0)
	for _, class := range []byte{0x00, 0x10} { // one code of one bit: 0 is the value 0
		out = append(out, 0xff, 0xc4, 0, 20, class, 1)
		out = append(out, make([]byte, 16)...)
	}
	blocks := 650 * 650
	out = append(out, 0xff, 0xda, 0, 12, 3, 1, 0, 2, 0, 3, 0, 0, 0, 0)
	out = append(out, make([]byte, 3*blocks/8+1)...)
	for range scans - 1 {
		out = append(out, 0xff, 0xda, 0, 8, 1, 1, 0, 1, 63, 0)
		out = append(out, make([]byte, blocks/8+1)...)
	}
	return append(out, 0xff, 0xd9)
}

// TestTheSenderGoes: the process is killed, and the next one need not wait for it.
func TestTheSenderGoes(t *testing.T) {
	r, file := NewReader(), written(t, large(2))
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	require.ErrorIs(t, r.Read(ctx, file, photo.DefaultLimits, nil), context.DeadlineExceeded)
	require.Empty(t, r.large)
	require.Empty(t, running(t, file))
}

// TestMemoryIsLimited: a process that takes more than it is given ends, and the photo is refused.
func TestMemoryIsLimited(t *testing.T) {
	_, err := run(t.Context(), written(t, large(2)), photo.DefaultLimits, allowance{memory: -ownMemory})
	var refused *photo.RefusedError
	require.ErrorAs(t, err, &refused)
	require.Contains(t, refused.Reason, "time or memory")
	require.ErrorContains(t, refused.Cause, "exit status 2")
}

// TestThousandsOfScans are refused without a process.
func TestThousandsOfScans(t *testing.T) {
	data := plain(t, 8, 8)
	scan := bytes.Index(data, []byte{0xff, 0xda})
	again := append(bytes.Clone(data[:len(data)-2]), bytes.Repeat(data[scan:len(data)-2], 3000)...)
	err := NewReader().Read(t.Context(), written(t, append(again, 0xff, 0xd9)), photo.DefaultLimits, nil)
	require.ErrorContains(t, err, "3001 passes")
}

// running are the processes that read a file (proc(5)).
func running(t *testing.T, file string) []string {
	t.Helper()
	names, err := filepath.Glob("/proc/[0-9]*/cmdline")
	require.NoError(t, err)
	var found []string
	for _, name := range names {
		line, err := os.ReadFile(name)
		if err == nil && strings.Contains(string(line), fmt.Sprintf("\x00%s\x00", file)) {
			found = append(found, name)
		}
	}
	return found
}
