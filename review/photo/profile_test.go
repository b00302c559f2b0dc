package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image/jpeg"
	"testing"

	"github.com/kovidgoyal/imaging/prism/meta/icc"
	"github.com/stretchr/testify/require"
)

// swappedProfile is an sRGB profile in which the primaries of red and blue are exchanged (tag table of ICC.1:2022,
// section 7.3): what a picture calls blue is then red.
func swappedProfile(t *testing.T) []byte {
	p := bytes.Clone(icc.Srgb_xyz_profile_data)
	table := p[132 : 132+12*binary.BigEndian.Uint32(p[128:])]
	red, blue := bytes.Index(table, []byte("rXYZ")), bytes.Index(table, []byte("bXYZ"))
	require.Positive(t, red)
	require.Positive(t, blue)
	copy(table[red:], "bXYZ")
	copy(table[blue:], "rXYZ")
	return p
}

func withProfile(t *testing.T, mediaType string, profile []byte) []byte {
	var out bytes.Buffer
	switch mediaType {
	case JPEG:
		plain := plainJPEG(t, 32, 32)
		out.Write(plain[:2])
		parts := splitProfile(profile)
		for i, part := range parts {
			writeSegment(&out, markerAPP2, append(append([]byte(iccPrefix), byte(i+1), byte(len(parts))), part...))
		}
		out.Write(plain[2:])
	case PNG:
		plain := plainPNG(t, 32, 32)
		var packed bytes.Buffer
		z := zlib.NewWriter(&packed)
		_, err := z.Write(profile)
		require.NoError(t, err)
		require.NoError(t, z.Close())
		out.Write(plain[:33])
		writePNGChunk(&out, "iCCP", append([]byte("made at SECRET\x00\x00"), packed.Bytes()...))
		out.Write(plain[33:])
	case WebP:
		out.Write(riff(riffChunk{"VP8X", vp8xHeader(vp8xICC, 32, 32)}, riffChunk{"ICCP", profile}, riffChunk{"VP8L", vp8l(32, 32)}))
	}
	return out.Bytes()
}

func TestProfileIsKeptAndApplied(t *testing.T) {
	for _, mediaType := range []string{JPEG, PNG, WebP} {
		t.Run(mediaType, func(t *testing.T) {
			upload := withProfile(t, mediaType, swappedProfile(t))
			p, err := Read(bytes.NewReader(upload), Limits{})
			require.NoError(t, err)
			require.Empty(t, p.Warnings)
			require.NotContains(t, string(p.Original), "SECRET")
			require.Greater(t, len(p.Original), len(upload)-64, "the profile is kept with the original")
			require.Equal(t, swapped(p.Original, mediaType), true)
			again, err := Read(bytes.NewReader(p.Original), Limits{})
			require.NoError(t, err)
			require.Equal(t, p.SHA256, again.SHA256)
		})
	}
}

// swapped tells whether a kept file still holds the profile.
func swapped(data []byte, mediaType string) bool {
	f, err := formatOf(data)
	if err != nil || f.mediaType != mediaType {
		return false
	}
	c, err := f.clean(data, upright)
	return err == nil && bytes.Contains(c.profile, []byte("bXYZ"))
}

func TestProfileChangesTheCopies(t *testing.T) {
	var out bytes.Buffer
	blue := corner(32, 32)
	for i := 0; i < len(blue.Pix); i += 4 {
		copy(blue.Pix[i:], []byte{20, 20, 220, 255})
	}
	require.NoError(t, pngEncode(&out, blue))
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	_, err := z.Write(swappedProfile(t))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	upload := bytes.NewBuffer(bytes.Clone(out.Bytes()[:33]))
	writePNGChunk(upload, "iCCP", append([]byte("x\x00\x00"), packed.Bytes()...))
	upload.Write(out.Bytes()[33:])
	p, err := Read(upload, Limits{})
	require.NoError(t, err)
	img, err := jpeg.Decode(bytes.NewReader(p.Display))
	require.NoError(t, err)
	r, _, b, _ := img.At(16, 16).RGBA()
	require.Greater(t, r, 2*b, "stored as blue, meant as red")
}

func TestUselessProfileIsNoReasonToRefuse(t *testing.T) {
	p, err := Read(bytes.NewReader(withProfile(t, JPEG, []byte("not a profile at all"))), Limits{})
	require.NoError(t, err)
	require.Len(t, p.Warnings, 1)
	require.Contains(t, []Warning{WarnProfile, WarnProfileCopy}, p.Warnings[0])
}

func TestProfileInManyParts(t *testing.T) {
	profile := append(swappedProfile(t), make([]byte, 3*maxPart)...)
	p, err := Read(bytes.NewReader(withProfile(t, JPEG, profile)), Limits{})
	require.NoError(t, err)
	c, err := cleanJPEG(p.Original, upright)
	require.NoError(t, err)
	require.Equal(t, profile, c.profile)
}
