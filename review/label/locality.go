package label

import (
	"strings"

	"revidit/review"
)

// LocalityOf says where, when and by whom a specimen was collected, as far as a person may see it; withheld says that the exact place
// is not in it.
func LocalityOf(l review.Label, w review.Withheld, withheld bool) Locality {
	return Locality{Label: l, Seen: w, Withheld: withheld}
}

// Locality is what a locality label is made of.
type Locality struct {
	review.Label
	Seen     review.Withheld
	Withheld bool
}

// localityRecipe: what can be found again in the collection under the specimen's number goes first, and how exactly, before where and
// when; country, place, date and collector cannot be found again anywhere else, and are cut at last.
var localityRecipe = recipe{
	gentle: []step{
		rewrite(Abbreviated, abbreviate, Method, HostPlant, Habitat, Place, District, Province),
		rewrite(Initials, initials, Collector),
	},
	drops: []step{
		leaveOut(Uncertainty),
		leaveOut(Habitat),
		rewrite(Abbreviated, firstAndOthers, Collector),
		leaveOut(District),
		leaveOut(Elevation),
		leaveOut(Method),
		leaveOut(HostPlant),
		leaveOut(Province),
	},
	cut: []Field{Place, Collector, Country},
}

// Empty says whether there is nothing to print.
func (l Locality) Empty() bool { return len(l.draft()) == 0 }

// Locality is the label that says where, when and by whom it was collected.
func (s Setter) Locality(l Locality) Typeset {
	r := localityRecipe
	if l.Seen.Latitude != nil && !l.Withheld {
		r.drops = append([]step{l.fewerDecimals}, r.drops...)
	}
	return s.set(l.draft(), r, marginSide)
}

func (l Locality) draft() draft {
	where := pieces(
		piece{Country, upper(l.Country), ""},
		piece{Province, run(l.Province), ": "},
		piece{District, run(l.Seen.District), ", "},
		piece{Place, run(l.Seen.Locality), ", "},
		piece{Elevation, l.elevation(), ", "},
		piece{Coordinates, l.coordinates(mostDecimals), ", "},
		piece{Uncertainty, l.uncertainty(), " "},
		piece{Withheld, l.withheld(), ", "})
	if len(where) > 1 && where[0].field == Country {
		where[1].glue = ": "
	} else if len(where) > 1 {
		where[1].glue = ", "
	}
	habitat := l.Habitat
	if habitat == "" {
		habitat = l.Seen.Habitat
	}
	when := pieces(
		piece{Date, run(RomanDate(l.CollectedFrom, l.CollectedTo)), ""},
		piece{Method, run(l.Method), ", "},
		piece{HostPlant, run(l.HostPlant), ", "},
		piece{Habitat, run(habitat), ", "})
	var who []piece
	if l.Seen.Collector != "" {
		who = []piece{{Whole, run("leg."), ""}, {Collector, run(l.Seen.Collector), hard}}
	}
	var d draft
	for _, paragraph := range [][]piece{where, when, who} {
		if len(paragraph) > 0 {
			d = append(d, paragraph)
		}
	}
	return d
}

// pieces are those that say anything.
func pieces(all ...piece) []piece {
	var said []piece
	for _, p := range all {
		if p.text() != "" {
			said = append(said, p)
		}
	}
	return said
}

func run(text string) []Run { return []Run{{Text: upright(text)}} }

func upper(text string) []Run { return run(strings.ToUpper(text)) }

func (l Locality) elevation() []Run {
	if l.Seen.ElevationM == nil {
		return nil
	}
	return []Run{{Text: metres(*l.Seen.ElevationM)}}
}

func (l Locality) coordinates(decimals int) []Run {
	if l.Seen.Latitude == nil || l.Seen.Longitude == nil {
		return nil
	}
	return []Run{{Text: coordinateText(*l.Seen.Latitude, *l.Seen.Longitude, decimals)}}
}

func (l Locality) uncertainty() []Run {
	if l.Seen.UncertaintyM == nil || l.Seen.Latitude == nil {
		return nil
	}
	return []Run{{Text: "±" + metres(*l.Seen.UncertaintyM)}}
}

// withheld says on the label that the exact place stands elsewhere, so that nobody takes what is coarse for what was written.
func (l Locality) withheld() []Run {
	if !l.Withheld {
		return nil
	}
	return []Run{{Text: "place" + hard + "withheld"}}
}

// fewerDecimals drops decimals that the place is not sure to.
func (l Locality) fewerDecimals(d draft) []Shortening {
	p := d.find(Coordinates)
	if p == nil {
		return nil
	}
	full, short := p.text(), l.coordinates(sureDecimals(l.Seen.UncertaintyM))
	if Line(short).String() == full {
		return nil
	}
	p.runs = short
	return []Shortening{{Coordinates, FewerDecimals, full, Line(short).String()}}
}
