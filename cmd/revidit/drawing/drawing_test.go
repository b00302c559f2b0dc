package drawing

import (
	"bytes"
	"image"
	"image/jpeg"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Small pictures are enough for the tests.
const testW, testH = 480, 360

func states(pairs ...string) map[string]string {
	m := map[string]string{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i]] = pairs[i+1]
	}
	return m
}

var specimens = map[string]Beetle{
	"plain": {Seed: 1},
	"weevil": {Seed: 2, Family: "Curculionidae", LengthMM: 8, States: states("rostrum", "long", "antenna-elbowed", "yes", "antenna-form", "capitate",
		"antenna-insertion", "on-rostrum", "body-surface", "scaly", "tarsi-counted", "4-4-4", "tarsi-true", "5-5-5", "tarsus-lobed", "yes", "tarsus-pads", "yes")},
	"rove":    {Seed: 3, Family: "Staphylinidae", LengthMM: 3, States: states("elytra-cover", "short", "head-neck", "yes", "antenna-form", "moniliform")},
	"glow":    {Seed: 4, Family: "Lampyridae", LengthMM: 11, States: states("head-from-above", "hidden", "elytra-cover", "absent", "light-organ", "present", "ventrites", "8")},
	"stag":    {Seed: 5, Family: "Lucanidae", LengthMM: 45, States: states("mandibles", "antler-like", "antenna-form", "lamellate", "antenna-elbowed", "yes", "fore-tibia", "toothed")},
	"odd":     {Seed: 6, States: states("antenna-segments", "1", "tarsi-counted", "other", "ventrites", "x", "body-form", "unheard-of", "antenna-length", "?")},
	"longest": {Seed: 7, States: states("antenna-segments", "60", "antenna-length", "over-whole", "maxillary-palps", "equal-or-longer", "palp-tip", "hatchet")},
}

func draw(t *testing.T, b Beetle, v View) (*image.RGBA, map[string]Rect) {
	img, rects, err := Draw(b, v, testW, testH)
	require.NoError(t, err)
	rgba, ok := img.(*image.RGBA)
	require.True(t, ok)
	return rgba, rects
}

func TestDrawIsDeterministicAndStaysInside(t *testing.T) {
	for name, b := range specimens {
		for _, v := range Views() {
			t.Run(name+" "+string(v), func(t *testing.T) {
				first, rects := draw(t, b, v)
				again, rectsAgain := draw(t, b, v)
				require.True(t, bytes.Equal(first.Pix, again.Pix))
				require.Equal(t, rects, rectsAgain)
				require.Equal(t, image.Rect(0, 0, testW, testH), first.Bounds())
				for id, r := range rects {
					require.NotEmpty(t, id)
					require.Positive(t, r.W)
					require.Positive(t, r.H)
					require.True(t, image.Rect(r.X, r.Y, r.X+r.W, r.Y+r.H).In(first.Bounds()), "%s %v", id, r)
				}
				b.Seed += 100
				other, _ := draw(t, b, v)
				require.False(t, bytes.Equal(first.Pix, other.Pix), "the seed changes the picture")
			})
		}
	}
}

// What a state changes must be seen where the picture says that the character is seen.
func TestStatesCanBeSeen(t *testing.T) {
	base := states("rostrum", "none", "antenna-form", "filiform", "antenna-segments", "11")
	cases := []struct {
		character string
		view      View
		states    []string
		with      map[string]string
	}{
		{"antenna-form", "antenna", []string{"filiform", "moniliform", "serrate", "pectinate", "flabellate", "clavate", "capitate", "lamellate"}, nil},
		{"antenna-elbowed", "antenna", []string{"yes", "no"}, nil},
		{"antenna-segments", "antenna", []string{"4", "8", "9", "10", "11", "12"}, nil},
		{"antenna-club-segments", "antenna", []string{"1", "2", "3", "4", "5"}, states("antenna-form", "capitate")},
		{"antenna-length", "whole-above", []string{"under-half", "half-to-whole", "over-whole"}, nil},
		{"antenna-insertion", "head-front", []string{"above-mandible", "between-eye-and-mandible", "under-ridge", "in-eye-notch", "front-of-head"}, nil},
		{"antenna-insertion", "head-side", []string{"above-mandible", "in-eye-notch", "under-ridge", "front-of-head"}, nil},
		{"head-from-above", "whole-above", []string{"visible", "partly-hidden", "hidden"}, nil},
		{"head-width", "whole-above", []string{"narrower", "equal", "wider"}, nil},
		{"head-neck", "head-above", []string{"yes", "no"}, nil},
		{"rostrum", "head-side", []string{"none", "short-broad", "long"}, nil},
		{"eyes", "head-front", []string{"entire", "notched", "kidney-shaped", "divided"}, nil},
		{"ocellus", "head-above", []string{"one", "two"}, nil},
		{"mandibles", "head-above", []string{"ordinary", "projecting", "antler-like"}, nil},
		{"maxillary-palps", "head-below", []string{"shorter", "equal-or-longer"}, nil},
		{"palp-tip", "head-front", []string{"slender", "hatchet"}, nil},
		{"pronotum-width", "whole-above", []string{"narrower", "equal", "wider"}, nil},
		{"pronotum-hind-corners", "thorax-above", []string{"pointed", "not-pointed"}, nil},
		{"pronotum-edge", "thorax-side", []string{"complete", "partial"}, nil},
		{"prosternal-process", "thorax-below", []string{"absent-or-short", "click-spine", "fixed-spine"}, nil},
		{"fore-coxae", "thorax-below", []string{"round", "transverse", "projecting"}, nil},
		{"fore-coxal-cavities", "thorax-below", []string{"open", "closed"}, nil},
		{"first-ventrite", "abdomen-below", []string{"divided", "undivided"}, nil},
		{"hind-coxal-plates", "abdomen-below", []string{"large", "narrow", "absent"}, nil},
		{"ventrites", "abdomen-below", []string{"3", "4", "5", "6", "7", "8"}, nil},
		{"ventrites-fused", "abdomen-below", []string{"2", "3", "5"}, nil},
		{"light-organ", "abdomen-below", []string{"present", "absent"}, nil},
		{"pygidium", "abdomen-end", []string{"exposed", "covered"}, nil},
		{"abdomen-tip", "whole-side", []string{"pointed"}, nil},
		{"elytra-cover", "whole-above", []string{"whole", "tip-exposed", "short", "absent"}, nil},
		{"elytra-texture", "elytra", []string{"hard", "soft"}, nil},
		{"elytra-sides", "elytra", []string{"parallel", "widening", "rounded", "tapering"}, nil},
		{"elytra-surface", "elytra", []string{"plain", "punctate-rows", "striate", "ridged", "net-veined"}, nil},
		{"tarsi-counted", "fore-leg", []string{"5-5-5", "4-4-4", "3-3-3", "2-2-2"}, nil},
		{"tarsi-counted", "hind-leg", []string{"5-5-5", "5-5-4", "4-4-3"}, nil},
		{"tarsi-true", "mid-leg", []string{"5-5-5", "4-4-4"}, states("tarsi-counted", "4-4-4", "tarsus-lobed", "yes")},
		{"claws", "mid-leg", []string{"simple", "toothed", "split", "comb-like"}, nil},
		{"fore-tibia", "fore-leg", []string{"slender", "toothed"}, nil},
		{"hind-legs", "hind-leg", []string{"walking", "swimming", "jumping", "swollen"}, nil},
		{"body-form", "whole-above", []string{"parallel", "oval", "hemispherical", "cylindrical", "flat", "ant-like", "boat-shaped", "wedge-shaped", "broad"}, nil},
		{"body-profile", "whole-side", []string{"flat", "moderate", "domed", "cylindrical"}, nil},
		{"body-surface", "elytra", []string{"bare", "hairy", "scaly"}, nil},
		{"antenna-second-segment", "antenna", []string{"plain", "enlarged"}, nil},
		{"club-plates", "antenna", []string{"closing", "cup", "fixed"}, states("antenna-form", "lamellate")},
		{"antenna-grooves", "thorax-below", []string{"absent", "present"}, nil},
		{"antenna-grooves", "head-below", []string{"absent", "present"}, nil},
		{"eye-facets", "head-side", []string{"fine", "coarse"}, nil},
		{"eyes-hairy", "head-front", []string{"bare", "hairy"}, nil},
		{"mandible-outer-edge", "head-above", []string{"plain", "toothed"}, states("mandibles", "projecting")},
		{"mandible-outer-edge", "head-front", []string{"plain", "toothed"}, nil},
		{"palp-tip", "head-below", []string{"slender", "hatchet", "needle", "plume"}, nil},
		{"pronotum-side-line", "thorax-above", []string{"absent", "present"}, nil},
		{"pronotum-base", "thorax-above", []string{"plain", "pits", "grooves", "furrows"}, nil},
		{"pronotum-sides", "whole-above", []string{"plain", "toothed", "spread"}, nil},
		{"pronotum-cross-keel", "thorax-above", []string{"absent", "present"}, nil},
		{"prosternum-front", "thorax-below", []string{"straight", "lobed"}, nil},
		{"middle-coxae-distance", "thorax-below", []string{"touching", "apart"}, nil},
		{"hind-coxae-distance", "abdomen-below", []string{"touching", "narrowly-apart", "wide-apart"}, nil},
		{"legs-packed", "whole-below", []string{"no", "partly", "yes"}, nil},
		{"scutellum", "elytra", []string{"visible", "hidden", "heart-shaped"}, nil},
		{"antenna-cleaner", "fore-leg", []string{"absent", "tip-only", "notch"}, nil},
		{"middle-tibia-spur", "mid-leg", []string{"plain", "comb-like"}, nil},
		{"hind-tibia-spurs", "hind-leg", []string{"none", "one", "two"}, nil},
		{"hind-tarsus-first", "hind-leg", []string{"minute", "ordinary", "long"}, nil},
		{"last-tarsal-segment", "mid-leg", []string{"ordinary", "very-long"}, nil},
		{"lustre", "whole-above", []string{"metallic", "not-metallic"}, nil},
	}
	for _, c := range cases {
		t.Run(c.character+" "+string(c.view), func(t *testing.T) {
			seen := map[string]string{}
			for _, state := range c.states {
				b := Beetle{Seed: 9, States: states()}
				for _, m := range []map[string]string{base, c.with, {c.character: state}} {
					for k, v := range m {
						b.States[k] = v
					}
				}
				img, rects := draw(t, b, c.view)
				require.Contains(t, rects, c.character, state)
				r := rects[c.character]
				crop := cut(img, r)
				require.NotContains(t, seen, crop, "%s looks like %s", state, seen[crop])
				seen[crop] = state
			}
		})
	}
}

// Absence is an observation too: whatever the state, every view that the tables name for a character says where to
// look for it.
func TestEveryCharacterHasItsPlace(t *testing.T) {
	text, err := os.ReadFile("../../../review/diagnosis/data/coleoptera/characters.yaml")
	require.NoError(t, err)
	found := regexp.MustCompile(`(?s)\n  - id: ([a-z-]+)\n    label:.*?\n    views: \[([a-z, -]+)\]`).FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(found), 40)
	rects := map[View]map[string]Rect{}
	for _, m := range found {
		for _, v := range strings.Split(m[2], ", ") {
			view := View(v)
			if rects[view] == nil {
				_, rects[view] = draw(t, specimens["plain"], view)
			}
			if m[1] == "antenna-club-segments" && strings.HasPrefix(v, "head-") {
				continue // an antenna of ordinary length runs out of a picture of the head, with its end
			}
			require.Contains(t, rects[view], m[1], "view %s", v)
		}
	}
}

func cut(img *image.RGBA, r Rect) string {
	var out bytes.Buffer
	for y := r.Y; y < r.Y+r.H; y++ {
		at := img.PixOffset(r.X, y)
		out.Write(img.Pix[at : at+4*r.W])
	}
	return out.String()
}

func TestViewsAreThoseOfTheTables(t *testing.T) {
	text, err := os.ReadFile("../../../review/diagnosis/data/coleoptera/group.yaml")
	require.NoError(t, err)
	var want []View
	for _, m := range regexp.MustCompile(`(?m)^\s+- \{id: ([a-z-]+), label:`).FindAllStringSubmatch(string(text), -1) {
		want = append(want, View(m[1]))
	}
	require.NotEmpty(t, want)
	require.ElementsMatch(t, want, Views())
}

func TestLabelsShowTheirText(t *testing.T) {
	a, _ := draw(t, Beetle{Labels: []string{"Nordtal\n3.vi.2025"}}, "label")
	b, _ := draw(t, Beetle{Labels: []string{"Nordtal\n4.vi.2025"}}, "label")
	require.False(t, bytes.Equal(a.Pix, b.Pix))
}

func TestScaleFollowsTheLength(t *testing.T) {
	a, _ := draw(t, Beetle{LengthMM: 11}, "whole-side")
	b, _ := draw(t, Beetle{States: states("body-length-mm", "11")}, "whole-side")
	require.True(t, bytes.Equal(a.Pix, b.Pix), "the length may come from the states")
	c, _ := draw(t, Beetle{LengthMM: 23}, "whole-side")
	require.False(t, bytes.Equal(a.Pix, c.Pix))
}

func TestDrawRefuses(t *testing.T) {
	_, _, err := Draw(Beetle{}, "wing", testW, testH)
	require.ErrorContains(t, err, `unknown view "wing"`)
	for _, size := range [][2]int{{0, 400}, {400, 159}, {9000, 400}} {
		_, _, err = Draw(Beetle{}, "antenna", size[0], size[1])
		require.ErrorContains(t, err, "outside 160 to 8000")
	}
}

func TestDrawJPEG(t *testing.T) {
	data, rects, err := DrawJPEG(specimens["weevil"], "whole-above", testW, testH)
	require.NoError(t, err)
	require.Contains(t, rects, "rostrum")
	c, err := jpeg.DecodeConfig(bytes.NewReader(data))
	require.NoError(t, err)
	require.Equal(t, []int{testW, testH}, []int{c.Width, c.Height})
}
