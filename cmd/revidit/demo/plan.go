package demo

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"revidit/cmd/revidit/drawing"
	"revidit/review"
	"revidit/review/diagnosis"
)

// plan is a specimen of the scenario worked out against the tables.
type plan struct {
	number string            // catalogue number
	is     map[string]string // state of every character
	stated []string          // characters that the member records
	views  []string          // photos taken
	// misread are characters that a member of the survey states wrongly, with what is stated.
	misread map[string]string
}

// picture is one drawn photo, with where each character is seen on it in fractions.
type picture struct {
	view    string
	jpeg    []byte
	regions map[string]review.Region
}

// Size is that of the drawn pictures in pixels.
type Size struct{ Width, Height int }

// PictureSize is large enough to count segments on.
var PictureSize = Size{1280, 960}

// usualViews are those that every member photographs.
var usualViews = []string{"whole-above", "whole-below", "antenna"}

// first characters that a member looks for, in the order of the lens going over the beetle.
var first = []string{"antenna-form", "antenna-segments", "rostrum", "head-from-above", "tarsi-counted", "hind-legs",
	"elytra-cover", "elytra-surface", "ventrites", "first-ventrite", "body-form", "body-length-mm"}

// also is what a member records besides, where the family is known for it.
var also = map[string][]string{
	"Elateridae": {"prosternal-process", "pronotum-hind-corners"}, "Buprestidae": {"lustre", "prosternal-process"},
	"Gyrinidae": {"eyes", "hind-legs"}, "Dytiscidae": {"hind-legs", "body-form"}, "Hydrophilidae": {"maxillary-palps"},
	"Histeridae": {"antenna-elbowed", "pygidium"}, "Staphylinidae": {"body-form"}, "Lucanidae": {"mandibles", "antenna-elbowed"},
	"Scarabaeidae": {"fore-tibia", "pygidium", "antenna-club-segments"}, "Geotrupidae": {"fore-tibia", "mandibles", "antenna-club-segments"},
	"Trogidae": {"elytra-surface", "fore-tibia"}, "Lycidae": {"elytra-surface", "elytra-texture"},
	"Lampyridae": {"head-from-above", "light-organ", "elytra-texture"}, "Cantharidae": {"elytra-texture", "head-from-above", "light-organ"},
	"Dermestidae": {"ocellus", "body-surface"}, "Ptinidae": {"head-from-above"}, "Cleridae": {"body-surface", "pronotum-width"},
	"Melyridae": {"side-vesicles", "elytra-texture"}, "Coccinellidae": {"body-form", "postcoxal-lines", "tarsus-lobed"},
	"Meloidae": {"pronotum-width", "claws", "head-neck", "elytra-texture"}, "Mordellidae": {"abdomen-tip", "body-form"},
	"Cerambycidae": {"antenna-length", "eyes", "tarsus-lobed"}, "Chrysomelidae": {"antenna-length", "tarsus-lobed", "body-form"},
	"Brentidae": {"rostrum", "antenna-elbowed"}, "Curculionidae": {"rostrum", "antenna-elbowed", "antenna-club-segments"},
	"Nitidulidae": {"antenna-club-segments"}, "Erotylidae": {"antenna-club-segments"}, "Tenebrionidae": {"antenna-insertion", "eyes"},
	"Trogossitidae": {"antenna-club-segments"}, "Carabidae": {"antenna-insertion", "head-width"},
}

// inOrder is the scenario in the order of time, the longest ago first.
func inOrder(list []specimen) []specimen {
	ordered := slices.Clone(list)
	sort.SliceStable(ordered, func(i, j int) bool { return ordered[i].days > ordered[j].days })
	return ordered
}

func drawOne(i int, s specimen, tables *diagnosis.Tables, size Size) drawn {
	p, err := planOf(i, s, tables)
	if err != nil {
		return drawn{specimen: s, plan: p, err: err}
	}
	d := drawn{specimen: s, plan: p}
	if s.then == surveyed {
		size = Size{max(size.Width/2, 200), max(size.Height/2, 160)}
	}
	for _, view := range p.views {
		made, err := drawView(i, s, p, view, size)
		if err != nil {
			return drawn{specimen: s, plan: p, err: err}
		}
		d.pictures = append(d.pictures, made)
	}
	return d
}

func planOf(i int, s specimen, tables *diagnosis.Tables) (plan, error) {
	p := plan{number: fmt.Sprintf("QFC-%05d", 2601+i), is: map[string]string{}}
	family, ok := tables.Family(s.family)
	if !ok {
		return p, fmt.Errorf("the tables have no family %s", s.family)
	}
	form := &family.Forms[0]
	for _, c := range tables.Characters {
		if cell := form.Cells[c.ID]; cell != nil && cell.P != nil {
			p.is[c.ID] = c.States[likeliest(cell.P)].ID
		}
	}
	for id, state := range s.is {
		p.is[id] = state
	}
	p.is["body-length-mm"] = s.mm
	p.stated = slices.Clone(s.stated)
	for _, id := range append(slices.Clone(first), also[s.family]...) {
		if p.is[id] != "" && !slices.Contains(p.stated, id) {
			p.stated = append(p.stated, id)
		}
	}
	for id := range s.misread {
		if !slices.Contains(p.stated, id) {
			p.stated = append(p.stated, id)
		}
	}
	slices.Sort(p.stated[len(p.stated)-len(s.misread):]) // map order must not show
	if s.then == surveyed {
		p.misreadSome(tables)
	}
	p.views = slices.Clone(usualViews)
	if s.then != returned { // the one whose photos do not show enough
		p.addViews(tables)
	}
	return p, nil
}

// addViews adds a photo for every stated character that the usual ones do not show.
func (p *plan) addViews(tables *diagnosis.Tables) {
	for _, id := range p.stated {
		c, ok := tables.Character(id)
		if !ok || len(c.Views) == 0 || slices.ContainsFunc(c.Views, func(v string) bool { return slices.Contains(p.views, v) }) {
			continue
		}
		p.views = append(p.views, c.Views[0])
	}
}

func likeliest(p []float64) int {
	best := 0
	for i := range p {
		if p[i] > p[best] {
			best = i
		}
	}
	return best
}

func drawView(i int, s specimen, p plan, view string, size Size) (picture, error) {
	length, err := strconv.ParseFloat(s.mm, 64)
	if err != nil {
		return picture{}, err
	}
	t := trips[s.trip]
	beetle := drawing.Beetle{States: p.is, Family: s.family, Seed: int64(i) + 1, LengthMM: length,
		Labels: []string{strings.ToUpper(t.country) + "\n" + t.locality + "\n" + t.from, p.number}}
	data, rects, err := drawing.DrawJPEG(beetle, drawing.View(view), size.Width, size.Height)
	if err != nil {
		return picture{}, err
	}
	made := picture{view: view, jpeg: data, regions: map[string]review.Region{}}
	for id, r := range rects {
		made.regions[id] = review.Region{X: fraction(r.X, size.Width), Y: fraction(r.Y, size.Height),
			W: fraction(r.W, size.Width), H: fraction(r.H, size.Height)}
	}
	return made, nil
}

// fraction keeps four decimals, finer than a pixel.
func fraction(pixels, of int) float64 {
	return float64(int(float64(pixels)/float64(of)*10000)) / 10000
}
