package review

import (
	"maps"
	"math"
	"slices"
	"strings"
)

// Grid is how coarse a place is told outside the house.
type Grid string

// Grids, the finest first; of degrees, as wide as they say.
const (
	GridExact    Grid = "exact"
	GridThousand Grid = "0.001"
	GridHundred  Grid = "0.01"
	GridTenth    Grid = "0.1"
	GridDegree   Grid = "1"
	GridNone     Grid = "withheld" // no coordinates at all
)

// Grids are all of them, the finest first.
var Grids = []Grid{GridExact, GridThousand, GridHundred, GridTenth, GridDegree, GridNone}

// Degrees is the width of a cell; 0 of GridExact and GridNone.
func (g Grid) Degrees() float64 {
	switch g {
	case GridThousand:
		return 0.001
	case GridHundred:
		return 0.01
	case GridTenth:
		return 0.1
	case GridDegree:
		return 1
	}
	return 0
}

// Places is the club's rule for places that leave the house.
type Places struct {
	// Grid of everything; empty is DefaultGrid.
	Grid Grid `json:"grid,omitempty" enum:",exact,0.001,0.01,0.1,1,withheld" doc:"How coarse places are told outside the house: the width of a cell in degrees; empty: 0.1"`
	// Taxa are families, genera or species that are told coarser, such as protected ones.
	Taxa map[string]Grid `json:"taxa,omitempty" doc:"Families, genera or species (Genus epithet) of which places are told coarser than of everything"`
}

// DefaultGrid is about 11 km of latitude, as wide as what everybody sees of a place in the service. Our own choice, common practice, no
// source.
const DefaultGrid = GridTenth

// Of is the grid of a specimen by all of its names: the coarsest that any of them asks for, so that a doubtful name does not open what
// another one protects. names are families and scientific names.
func (p Places) Of(names ...string) Grid {
	grid := p.Grid
	if grid == "" {
		grid = DefaultGrid
	}
	if len(p.Taxa) == 0 {
		return grid
	}
	for _, name := range names {
		for _, taxon := range taxaOf(name) {
			if g := p.Taxa[taxon]; slices.Index(Grids, g) > slices.Index(Grids, grid) {
				grid = g
			}
		}
	}
	return grid
}

// taxaOf are the taxa that a name belongs to by its words: the first one, and genus with epithet.
func taxaOf(name string) []string {
	if name == "" {
		return nil
	}
	d := Determination{ScientificName: name}
	words := d.NameWords()
	taxa := []string{words.Genus}
	if words.Epithet != "" {
		taxa = append(taxa, words.Genus+" "+words.Epithet)
	}
	return taxa
}

func (p Places) check(problems *Problems) {
	if p.Grid != "" && !slices.Contains(Grids, p.Grid) {
		problems.Addf("places.grid", "must be exact, 0.001, 0.01, 0.1, 1 or withheld")
	}
	if len(p.Taxa) > 1000 {
		problems.Addf("places.taxa", "at most 1000 taxa")
	}
	for _, taxon := range slices.Sorted(maps.Keys(p.Taxa)) {
		if g := p.Taxa[taxon]; !slices.Contains(Grids, g) {
			problems.Addf("places.taxa."+taxon, "must be exact, 0.001, 0.01, 0.1, 1 or withheld")
		}
		if strings.TrimSpace(taxon) != taxon || taxon == "" || len(taxon) > 120 {
			problems.Addf("places.taxa", "name a family, a genus, or a species by genus and epithet")
		}
	}
}

// CoarsePoint is a point on a grid.
type CoarsePoint struct {
	Latitude, Longitude float64 // degrees
	// UncertaintyM holds the place as it was recorded, in whole metres; the recorded uncertainty is part of it where there was one.
	UncertaintyM float64
	// Sure: there was a recorded uncertainty. Else nobody knows how far that point itself was from the place.
	Sure bool
}

// Lengths of a degree in metres that nothing on the ellipsoid of WGS 84 exceeds: of latitude at the poles, of longitude at the equator
// (from memory: 111,694 m and 111,320 m; a test works them out from the axes of the ellipsoid).
const (
	degreeOfLatitude  = 111_695
	degreeOfLongitude = 111_320
)

// Coarsen rounds a point to the nearest multiple of a grid's degrees. The uncertainty is enlarged by as much as a point can be moved by
// that, half the diagonal of a cell, measured where it is widest, and rounded up.
func (g Grid) Coarsen(latitude, longitude float64, uncertaintyM *float64) CoarsePoint {
	d := g.Degrees()
	p := CoarsePoint{Latitude: snapped(latitude, d), Longitude: snapped(longitude, d)}
	if uncertaintyM != nil && *uncertaintyM > 0 {
		p.UncertaintyM, p.Sure = *uncertaintyM, true
	}
	if d == 0 {
		return p
	}
	nearest := max(0, math.Abs(p.Latitude)-d/2) // to the equator
	p.UncertaintyM = math.Ceil(p.UncertaintyM + math.Hypot(d/2*degreeOfLatitude, d/2*degreeOfLongitude*math.Cos(nearest*math.Pi/180)))
	return p
}

// snapped is without the dust that a multiple of a decimal fraction has in binary.
func snapped(x, d float64) float64 {
	if d == 0 {
		return x
	}
	n := math.Round(1 / d)
	if d == 1 {
		n = 1
	}
	return math.Round(x*n) / n
}
