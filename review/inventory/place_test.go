package inventory

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"revidit/review"
)

func TestPlaces(t *testing.T) {
	for _, c := range []struct {
		text, east string
		lat, lon   float64
		ok         bool
	}{
		{"47.0789, 10.6912", "", 47.0789, 10.6912, true},
		{"47,0789; 10,6912", "", 47.0789, 10.6912, true},
		{"47.0789 10.6912", "", 47.0789, 10.6912, true},
		{"47.0789°N 10.6912°E", "", 47.0789, 10.6912, true},
		{"N47.0789 E10.6912", "", 47.0789, 10.6912, true},
		{"10.6912°E 47.0789°N", "", 47.0789, 10.6912, true}, // letters tell which is which
		{"47°04'44\"N 10°41'28\"E", "", 47.0788889, 10.6911111, true},
		{"47°04′44″N, 10°41′28″E", "", 47.0788889, 10.6911111, true},
		{"47 04 44 N 10 41 28 E", "", 47.0788889, 10.6911111, true},
		{"47°04.734'N 10°41.472'E", "", 47.0789, 10.6912, true},
		{"33°55'S 18°25'E", "", -33.9166667, 18.4166667, true},
		{"47.0789°N 10.6912°W", "", 47.0789, -10.6912, true},
		{"47.0789°N 10.6912°O", "east", 47.0789, 10.6912, true},
		{"47.0789°N 10.6912°O", "west", 47.0789, -10.6912, true},
		{"-33.9; 18.4", "", -33.9, 18.4, true},
		{"47°64'N 10°41'E", "", 0, 0, false},
		{"97.5 10.5", "", 0, 0, false},
		{"-47°N 10°E", "", 0, 0, false},
		{"47.0789°N 10.6912°N", "", 0, 0, false},
		{"Kauns", "", 0, 0, false},
		{"47.0789", "", 0, 0, false},
	} {
		p, ok := ParsePoint(c.text, c.east)
		require.Equal(t, c.ok, ok, c.text)
		if ok {
			require.InDelta(t, c.lat, p.Latitude, 1e-6, c.text)
			require.InDelta(t, c.lon, p.Longitude, 1e-6, c.text)
			require.False(t, p.LetterO)
		}
	}
	p, ok := ParsePoint("47.0789°N 10.6912°O", "")
	require.True(t, ok && p.LetterO, "nobody has told what O means")
	require.True(t, hasLetterO("47°04'N 10°41'O"))
	require.False(t, hasLetterO("47°04'N 10°41'E"))
}

// TestDegreesMinutesSeconds: a place is read from whole seconds to within half of one (sixty minutes of sixty seconds each: ISO 6709).
func TestDegreesMinutesSeconds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat, lon := rapid.IntRange(-89*3600, 89*3600).Draw(t, "lat"), rapid.IntRange(-179*3600, 179*3600).Draw(t, "lon")
		write := func(seconds int, plus, minus string) string {
			letter := plus
			if seconds < 0 {
				letter, seconds = minus, -seconds
			}
			return fmt.Sprintf("%d°%02d'%02d\"%s", seconds/3600, seconds/60%60, seconds%60, letter)
		}
		p, ok := ParsePoint(write(lat, "N", "S")+" "+write(lon, "E", "W"), "")
		require.True(t, ok)
		require.InDelta(t, float64(lat)/3600, p.Latitude, 1e-7)
		require.InDelta(t, float64(lon)/3600, p.Longitude, 1e-7)
	})
}

func TestMetres(t *testing.T) {
	for _, c := range []struct {
		text  string
		x     float64
		feet  bool
		fault review.FaultCode
	}{
		{"1050 m", 1050, false, ""}, {"1050", 1050, false, ""}, {"ca. 1050 m ü.M.", 1050, false, ""}, {"1'050 m", 1050, false, ""}, {"12,5 m", 12.5, false, ""}, {"-5", -5, false, ""},
		{"3445 ft", 1050, true, ""}, {"1000-1100 m", 0, false, review.FaultSeveral}, {"1.050 m", 0, false, review.FaultNumber}, {"hoch", 0, false, review.FaultNumber},
	} {
		x, feet, fault := metresOf(c.text)
		require.Equal(t, []any{c.x, c.feet, c.fault}, []any{x, feet, fault}, c.text)
	}
}

func FuzzPoint(f *testing.F) {
	for _, text := range []string{"47°04'44\"N 10°41'28\"E", "47,0789; 10,6912", "N47.0789 E10.6912", "10.6912 47", "47.0789°N 10.6912°O", "-33.9/18.4"} {
		f.Add(text, "")
	}
	f.Fuzz(func(t *testing.T, text, east string) {
		p, ok := ParsePoint(text, east)
		require.False(t, ok && (math.Abs(p.Latitude) > 90 || math.Abs(p.Longitude) > 180 || p.Latitude != p.Latitude), "%q %+v", text, p)
		_, _, _ = metresOf(text)
	})
}
