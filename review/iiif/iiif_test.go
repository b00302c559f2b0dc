package iiif

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	file, err := os.Open("testdata/" + name)
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	var found []map[string]string
	for _, row := range rows[1:] {
		of := map[string]string{}
		for i, name := range rows[0] {
			of[name] = row[i]
		}
		found = append(found, of)
	}
	require.NotEmpty(t, found)
	return found
}

var extent = regexp.MustCompile(`(\d+)x(\d+)`)

// wanted is the size that a row names.
func wanted(t *testing.T, text string) (w, h int) {
	t.Helper()
	parts := extent.FindStringSubmatch(text)
	require.NotNil(t, parts, text)
	w, err := strconv.Atoi(parts[1])
	require.NoError(t, err)
	h, err = strconv.Atoi(parts[2])
	require.NoError(t, err)
	return w, h
}

func status(err error) int {
	var e *Error
	if errors.As(err, &e) {
		return e.Status
	}
	return 0
}

// TestRegionsOfTheStandard are the examples of the Image API 3.0, section 4.1.
func TestRegionsOfTheStandard(t *testing.T) {
	for _, row := range table(t, "iiif_image3_region.csv") {
		t.Run(row["example"], func(t *testing.T) {
			form, err := ParseRegion(row["example"])
			require.NoError(t, err)
			rect, err := form.On(300, 200)
			result := row["image_300x200_result"]
			switch {
			case strings.HasPrefix(result, "400"):
				require.Equal(t, 400, status(err))
				return
			case strings.HasPrefix(result, "124.8,"): // the same picture as the pixel example after rounding
				require.Equal(t, Rect{125, 15, 120, 140}, rect)
			case strings.HasPrefix(result, "0,0,300,200"):
				require.Equal(t, Rect{0, 0, 300, 200}, rect)
			default:
				w, h := wanted(t, result)
				require.Equal(t, []int{w, h}, []int{rect.W, rect.H})
			}
			require.NoError(t, err)
		})
	}
}

// TestSizesOfTheStandard are the examples of section 4.2, of a region of 300 x 200 pixels.
func TestSizesOfTheStandard(t *testing.T) {
	limit := regexp.MustCompile(`maxWidth is (\d+)`)
	for _, row := range table(t, "iiif_image3_size.csv") {
		t.Run(row["example"]+" "+row["meaning_in_our_words"], func(t *testing.T) {
			result, limits := row["region_300x200_result"], Limits{Upscaling: true}
			if found := limit.FindStringSubmatch(result); found != nil {
				limits.MaxWidth, _ = strconv.Atoi(found[1])
			}
			if strings.HasPrefix(result, "501") {
				limits.Upscaling = false
			}
			form, err := ParseSize(row["example"])
			var w, h int
			if err == nil {
				w, h, err = form.For(Rect{W: 300, H: 200}, limits)
			}
			if code, _, _ := strings.Cut(result, " "); code == "400" || code == "501" {
				require.Equal(t, code, strconv.Itoa(status(err)))
				return
			}
			require.NoError(t, err)
			wantW, wantH := wanted(t, result)
			require.Equal(t, []int{wantW, wantH}, []int{w, h})
		})
	}
}

// TestRulesOfTheStandard: numbers, formats, and what a request comes to (sections 4.5 to 4.8).
func TestRulesOfTheStandard(t *testing.T) {
	text, err := os.ReadFile("testdata/iiif_image3_rules.json")
	require.NoError(t, err)
	var rules struct {
		RequestExample string `json:"request_example"`
		OrderExample   string `json:"order_example"`
		Formats        map[string]string
		Floats         struct {
			Accept    []string
			MustNot   []string `json:"must_not"`
			ShouldNot []string `json:"should_not"`
		}
		Canonical struct {
			Link string `json:"link_header_example"`
		}
	}
	require.NoError(t, json.Unmarshal(text, &rules))
	for _, n := range append(rules.Floats.Accept, rules.Floats.ShouldNot...) {
		_, err := ParseRegion("pct:" + n + ",0,10,10")
		require.NoError(t, err, n)
	}
	for _, n := range rules.Floats.MustNot {
		_, err := ParseRegion("pct:" + n + ",0,10,10")
		require.Equal(t, 400, status(err), n)
	}
	for format := range rules.Formats {
		_, err := Parse("full", "max", "0", "default."+format)
		if format == "jpg" {
			require.NoError(t, err)
			continue
		}
		require.Equal(t, 501, status(err), format)
	}
	split := func(request string) error {
		p := strings.Split(request, "/")
		p = p[len(p)-4:]
		_, err := Parse(p[0], p[1], p[2], p[3])
		return err
	}
	require.NoError(t, split(rules.RequestExample))
	require.Equal(t, 501, status(split(rules.OrderExample)), "mirrored and turned")
	require.Contains(t, rules.Canonical.Link, "/"+Canonical(1200, 900, Rect{W: 1200, H: 900}, 400, 300)+">")
	require.Equal(t, "full/max/0/default.jpg", Canonical(300, 200, Rect{W: 300, H: 200}, 300, 200))
	require.Equal(t, "125,15,120,140/60,70/0/default.jpg", Canonical(300, 200, Rect{125, 15, 120, 140}, 60, 70))
}

// TestWhatIsNoRequest gets the status that section 7.3 names.
func TestWhatIsNoRequest(t *testing.T) {
	for path, want := range map[string]int{
		"full/max/0/default.gif2": 400, "full/max/0/sepia.jpg": 400, "full/max/0/default": 400, "full/max/0/gray.jpg": 501, "full/max/0/bitonal.jpg": 501,
		"full/max/90/default.jpg": 501, "full/max/!0/default.jpg": 501, "full/max/361/default.jpg": 400, "full/max/-90/default.jpg": 400, "full/max/north/default.jpg": 400,
		"full/max/360/default.jpg": 0, "full/max/0/color.jpg": 0, "Full/max/0/default.jpg": 400, "1,2,3/max/0/default.jpg": 400, "1.5,2,3,4/max/0/default.jpg": 400,
		"pct:0,0,1e1,5/max/0/default.jpg": 400, "full/,/0/default.jpg": 400, "full/!5,/0/default.jpg": 400, "full/pct:101/0/default.jpg": 400, "full/pct:0/0/default.jpg": 400,
		"full/99999999999,/0/default.jpg": 400, "-1,0,5,5/max/0/default.jpg": 400,
	} {
		p := strings.Split(path, "/")
		_, err := Parse(p[0], p[1], p[2], p[3])
		require.Equal(t, want, status(err), path)
	}
}

// TestFragmentsOfTheStandard are those of Media Fragments URI 1.0, section 4.2.2, and of the web-platform tests.
func TestFragmentsOfTheStandard(t *testing.T) {
	for _, row := range table(t, "media_fragments_xywh.csv") {
		t.Run(row["fragment"], func(t *testing.T) {
			width, err := strconv.Atoi(row["image_width"])
			require.NoError(t, err)
			height, err := strconv.Atoi(row["image_height"])
			require.NoError(t, err)
			f, parsed := ParseFragment(row["fragment"])
			rect, placed := f.On(width, height)
			switch row["outcome"] {
			case "ok", "clip":
				require.NoError(t, errors.Join(parsed, placed))
				require.Equal(t, row["pixel_region"], rect.String())
				require.Equal(t, row["unit"] == "percent", f.Percent)
			case "decimal":
				require.NoError(t, errors.Join(parsed, placed))
				require.Equal(t, Rect{80, 120, 320, 240}, rect)
			case "reject-empty":
				require.ErrorIs(t, placed, ErrEmpty)
			case "ignore":
				require.Error(t, errors.Join(parsed, placed))
			default:
				t.Fatal(row["outcome"])
			}
		})
	}
}

// TestAnnotationsOfTheStandard are examples of the Web Annotation Data Model, sections 3.1 and 4.2.1, and its rules.
func TestAnnotationsOfTheStandard(t *testing.T) {
	text, err := os.ReadFile("testdata/web_annotation.json")
	require.NoError(t, err)
	type expected struct {
		Source, Unit string
		X, Y, W, H   float64
	}
	var examples struct {
		Four struct {
			Target string `json:"target_id"`
			Expect expected
		} `json:"example4_iri_with_fragment"`
		Opaque struct {
			IRI    string
			Expect expected
		} `json:"opaque_iri_example"`
		Media struct {
			ConformsTo, Value string
			Expect            expected
		} `json:"conformsTo_table_media_row"`
		Twenty struct {
			Annotation struct{ Body json.RawMessage }
			Rebuilt    string `json:"rebuilt_iri"`
		} `json:"example20_fragment_selector"`
	}
	require.NoError(t, json.Unmarshal(text, &examples))
	for iri, want := range map[string]expected{examples.Four.Target: examples.Four.Expect, examples.Opaque.IRI: examples.Opaque.Expect} {
		quoted, err := json.Marshal(iri)
		require.NoError(t, err)
		target, err := ReadTarget(quoted)
		require.NoError(t, err)
		f, err := ParseFragment(target.Fragment)
		require.NoError(t, err)
		require.Equal(t, want, expected{target.Source, "pixel", f.X, f.Y, f.W, f.H})
		require.Equal(t, iri, target.IRI())
	}
	require.Equal(t, MediaFragments, examples.Media.ConformsTo)
	f, err := ParseFragment(examples.Media.Value)
	require.NoError(t, err)
	require.Equal(t, examples.Media.Expect, expected{"", "pixel", f.X, f.Y, f.W, f.H})
	target, err := ReadTarget(examples.Twenty.Annotation.Body)
	require.NoError(t, err)
	require.Equal(t, examples.Twenty.Rebuilt, target.IRI())
	for _, broken := range []string{
		`{"source":"http://example.org/i","selector":{"type":["FragmentSelector","SvgSelector"],"value":"xywh=1,1,1,1"}}`,
		`{"source":"http://example.org/i","selector":{"type":"SvgSelector","value":"xywh=1,1,1,1"}}`,
		`{"source":"http://example.org/i","selector":{"type":"FragmentSelector","value":["xywh=1,1,1,1","xywh=2,2,2,2"]}}`,
		`{"source":"http://example.org/i","selector":{"type":"FragmentSelector","conformsTo":["a","b"],"value":"xywh=1,1,1,1"}}`,
		`{"source":"http://example.org/i","selector":{"type":"FragmentSelector"}}`, `"http://example.org/i"`, `5`, `{`,
	} {
		_, err := ReadTarget([]byte(broken))
		require.Error(t, err, broken)
	}
}

// TestOurRegionsReadBack: the target of an annotation that is written is read as any program reads it.
func TestOurRegionsReadBack(t *testing.T) {
	ours := ManifestOf("https://club.example/m", Manifest{}, []Photo{{Width: 1600, Height: 1200, Marks: []Mark{{ID: "o", X: 0.25, Y: 0.5, W: 0.125, H: 0.25}}}})
	written, err := json.Marshal(ours.Items[0].Annotations[0].Items[0].Target)
	require.NoError(t, err)
	target, err := ReadTarget(written)
	require.NoError(t, err)
	f, err := ParseFragment(target.Fragment)
	require.NoError(t, err)
	r, err := f.On(1600, 1200)
	require.NoError(t, err)
	require.Equal(t, Rect{X: 400, Y: 600, W: 200, H: 300}, r)
}

// TestTilesReachTheWholeImage: at the largest factor one tile holds it.
func TestTilesReachTheWholeImage(t *testing.T) {
	for _, side := range []int{100, 512, 513, 1600, 3200} {
		info := InfoOf("i", side, side/2, nil, "")
		factors := info.Tiles[0].ScaleFactors
		require.GreaterOrEqual(t, factors[len(factors)-1]*TileSide, side)
		require.Equal(t, 1, factors[0])
	}
}

// FuzzRequest: whatever is asked for lies within the image, or is refused with a status of the standard.
func FuzzRequest(f *testing.F) {
	for _, row := range []string{"full/max/0/default.jpg", "125,15,200,200/!225,100/0/color.jpg", "pct:41.6,7.5,66.6,100/pct:50/0/default.jpg", "square/^max/!345/gray.jpg", "0,0,999999999,999999999/,1/360/default.png"} {
		p := strings.Split(row, "/")
		f.Add(p[0], p[1], p[2], p[3], 300, 200)
	}
	f.Fuzz(func(t *testing.T, region, size, rotation, file string, width, height int) {
		if width < 1 || height < 1 || width > 40_000 || height > 40_000 {
			return
		}
		r, err := Parse(region, size, rotation, file)
		var rect Rect
		if err == nil {
			rect, err = r.Region.On(width, height)
		}
		var w, h int
		if err == nil {
			w, h, err = r.Size.For(rect, Limits{})
		}
		if err != nil {
			require.Contains(t, []int{400, 501}, status(err))
			return
		}
		require.True(t, rect.X >= 0 && rect.Y >= 0 && rect.W >= 1 && rect.H >= 1 && rect.X+rect.W <= width && rect.Y+rect.H <= height, rect)
		require.True(t, w >= 1 && h >= 1 && w <= rect.W && h <= rect.H, fmt.Sprint(w, h))
		again := strings.Split(Canonical(width, height, rect, w, h), "/")
		r, err = Parse(again[0], again[1], again[2], again[3])
		require.NoError(t, err)
		same, err := r.Region.On(width, height)
		require.NoError(t, err)
		require.Equal(t, rect, same)
	})
}

// FuzzFragment: whatever a target names lies within the picture, or is refused.
func FuzzFragment(f *testing.F) {
	for _, text := range []string{`"http://example.com/i#xywh=160,120,320,240"`, `"i#xywh=percent:12.5,25,50,50"`, `{"source":"i","selector":{"type":"FragmentSelector","value":"xywh=1,1,1,1"}}`, `"i#xywh=percent:99.9,0,5,5"`} {
		f.Add(text, 640, 480)
	}
	f.Fuzz(func(t *testing.T, text string, width, height int) {
		if width < 1 || height < 1 || width > 40_000 || height > 40_000 {
			return
		}
		target, err := ReadTarget([]byte(text))
		var read Fragment
		if err == nil {
			read, err = ParseFragment(target.Fragment)
		}
		if err != nil {
			return
		}
		if r, err := read.On(width, height); err == nil {
			require.True(t, r.X >= 0 && r.Y >= 0 && r.W > 0 && r.H > 0 && r.X+r.W <= width && r.Y+r.H <= height, text)
		}
	})
}
