package darwincore

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"revidit/review"
)

// What stands in a field of remarks together with what it is: read back by it.
const (
	tripRemark    = "Collecting trip: " // a text that somebody wrote is no identifier of an event
	missingRemark = "Missing parts: "
	hostRemark    = "host plant: "
)

// WGS84 is the datum of all coordinates here.
const wgs84 = "EPSG:4326"

// gridOf is how coarse the place of a specimen is told: by all the names that it ever had.
func gridOf(all []identification, places review.Places) review.Grid {
	if len(places.Taxa) == 0 {
		return places.Of()
	}
	var names []string
	for i := range all {
		names = append(names, all[i].family, all[i].name)
	}
	return places.Of(names...)
}

// putOccurrence fills the row of a record; row is empty.
func putOccurrence(row []string, r *Record, all []identification, o *Options, book Book) {
	s := &r.Specimen
	l := &s.Label
	row[oID], row[oBasis], row[oLicense], row[oRightsHolder] = occurrenceID(s), "PreservedSpecimen", o.License, o.RightsHolder
	row[oModified] = modified(r)
	row[oInstitution], row[oCollection], row[oCatalogue] = o.Institution, o.Collection, l.CatalogueNumber
	row[oSex], row[oStage], row[oPreparations], row[oDisposition] = l.Sex, l.Stage, l.Preparation, l.Disposition
	if l.Count > 0 {
		row[oCount] = strconv.Itoa(l.Count)
	}
	row[oAssociatedTaxa] = prefixed(hostRemark, l.HostPlant)
	row[oRemarks] = prefixed(missingRemark, l.MissingParts)
	row[oEventDate] = interval(l.CollectedFrom, l.CollectedTo)
	row[oProtocol], row[oHabitat], row[oEventRemarks] = l.Method, l.Habitat, prefixed(tripRemark, l.Trip)
	row[oCountry], row[oCountryCode], row[oProvince] = l.Country, countryCodes()[l.Country], l.Province
	putPlace(row, r, gridOf(all, o.Places), o)
	if o.Media {
		row[oAssociatedMedia] = addresses(s.Described)
	}
	var former []string
	for i := range all {
		if !all[i].accepted {
			if name := all[i].verbatim; name != "" && !slices.Contains(former, name) {
				former = append(former, name)
			}
			continue
		}
		all[i].putTaxon(row, oTaxon)
		all[i].putShort(row, oTaxon+taxonColumns)
	}
	row[oPrevious] = strings.Join(former, between)
}

func prefixed(prefix, text string) string {
	if text == "" {
		return ""
	}
	return prefix + text
}

// interval is a date of ISO 8601, or two.
func interval(from, to string) string {
	if to == "" || to == from {
		return from
	}
	return from + "/" + to
}

func modified(r *Record) string {
	at := r.Specimen.ChangedAt
	for i := range r.Submissions {
		if t := r.Submissions[i].ChangedAt; t.After(at) {
			at = t
		}
	}
	return at.Format(time.RFC3339)
}

func addresses(described []review.Described) string {
	var all []string
	for i := range described {
		if described[i].Address != "" {
			all = append(all, described[i].Address)
		}
	}
	return strings.Join(all, between)
}

// putPlace fills what was withheld, as far as the grid lets it out, and says what was not.
func putPlace(row []string, r *Record, grid review.Grid, o *Options) {
	w := r.Withheld
	if w == nil {
		if r.Specimen.Withholding.ID != "" {
			row[oWithheld] = "Place and collector were erased."
		}
		return
	}
	var left []string
	leave := func(what string, is bool) {
		if is {
			left = append(left, what)
		}
	}
	if o.Collectors {
		row[oRecordedBy] = w.Collector
	} else {
		leave("collector", w.Collector != "")
	}
	leave("number of the permit", w.Permit != "")
	putPoint(row, w, grid)
	leave("coordinates", w.Latitude != nil && grid == review.GridNone)
	if grid == review.GridExact {
		row[oLocality], row[oCounty], row[oVerbatimLabel] = w.Locality, w.District, w.VerbatimLabel
		if w.ElevationM != nil {
			row[oElevationLow] = decimal(*w.ElevationM)
			row[oElevationHigh] = row[oElevationLow]
		}
		if w.Trip != "" {
			row[oEventRemarks] = tripRemark + w.Trip
		}
		if w.Habitat != "" {
			row[oHabitat] = w.Habitat
		}
	} else {
		if grid != review.GridDegree && grid != review.GridNone {
			row[oCounty] = w.District
		} else {
			leave("district", w.District != "")
		}
		leave("locality", w.Locality != "")
		leave("elevation", w.ElevationM != nil)
		leave("collecting trip", w.Trip != "")
		leave("habitat", w.Habitat != "")
		leave("words of the label", w.VerbatimLabel != "")
	}
	if len(left) > 0 {
		row[oWithheld] = "Withheld: " + strings.Join(left, ", ") + "."
	}
}

// putPoint fills the coordinates on the grid, with the uncertainty that they have there.
func putPoint(row []string, w *review.Withheld, grid review.Grid) {
	if w.Latitude == nil || w.Longitude == nil || grid == review.GridNone {
		return
	}
	p := grid.Coarsen(*w.Latitude, *w.Longitude, w.UncertaintyM)
	row[oLatitude], row[oLongitude], row[oDatum] = decimal(p.Latitude), decimal(p.Longitude), wgs84
	if p.UncertaintyM > 0 { // never zero
		row[oUncertainty] = decimal(p.UncertaintyM)
	}
	if grid == review.GridExact {
		return
	}
	row[oPrecision] = string(grid)
	row[oGeneralizations] = "Coordinates rounded to multiples of " + string(grid) + " degree by the rule of the collection; their uncertainty is enlarged by that."
	if !p.Sure {
		row[oGeneralizations] = "Coordinates rounded to multiples of " + string(grid) + " degree by the rule of the collection; their uncertainty is of the rounding alone, that of the place was not recorded."
	}
}

// decimal writes all decimals and no exponent.
func decimal(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }
