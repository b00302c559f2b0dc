package darwincore

import (
	"strconv"
	"strings"
	"time"

	"revidit/review"
)

// columns of the fields of the label, for what is told of them.
var columns = map[string]string{"label.catalogue_number": "catalogNumber", "label.country": "country", "label.province": "stateProvince", "label.collected_from": "eventDate",
	"label.collected_to": "eventDate", "label.trip": "eventRemarks", "label.method": "samplingProtocol", "label.habitat": "habitat", "label.host_plant": "associatedTaxa",
	"label.sex": "sex", "label.stage": "lifeStage", "label.count": "individualCount", "label.preparation": "preparations", "label.missing_parts": "occurrenceRemarks",
	"label.disposition": "disposition", "withheld.locality": "locality", "withheld.latitude": "decimalLatitude", "withheld.longitude": "decimalLongitude",
	"withheld.uncertainty_m": "coordinateUncertaintyInMeters", "withheld.district": "county", "withheld.elevation_m": "minimumElevationInMeters",
	"withheld.collector": "recordedBy", "withheld.verbatim_label": "verbatimLabel"}

func columnOf(path string) string { return columns[path] }

// label fills the label of a specimen.
func (v *values) label() {
	l, w := &v.in.Label, &v.in.Withheld
	l.CatalogueNumber, l.Country, l.Province = v.take(dwc+"catalogNumber"), v.take(dwc+"country"), v.take(dwc+"stateProvince")
	if code := v.take(dwc + "countryCode"); code != countryCodes()[l.Country] {
		v.keep(dwc+"countryCode", code)
	}
	l.Method, l.Habitat = v.take(dwc+"samplingProtocol"), v.take(dwc+"habitat")
	l.Stage, l.Preparation, l.Disposition = v.take(dwc+"lifeStage"), v.take(dwc+"preparations"), v.take(dwc+"disposition")
	l.Sex = strings.ToLower(v.take(dwc + "sex"))
	v.count()
	l.Trip = v.remark(dwc+"eventRemarks", tripRemark)
	l.MissingParts = v.remark(dwc+"occurrenceRemarks", missingRemark)
	l.HostPlant = v.remark(dwc+"associatedTaxa", hostRemark)
	v.collected()
	w.Locality, w.District, w.Collector = v.take(dwc+"locality"), v.take(dwc+"county"), strings.Join(v.list(dwc+"recordedBy"), between)
	w.VerbatimLabel = v.take(dwc + "verbatimLabel")
	v.elevation()
	v.point()
}

func (v *values) count() {
	value := v.take(dwc + "individualCount")
	if value == "" {
		return
	}
	n, err := strconv.Atoi(value)
	if err != nil || n < 1 {
		v.fault(review.FaultNumber, dwc+"individualCount", value)
		return
	}
	v.in.Label.Count = n
}

// remark takes a text that says what it is; another one has no place.
func (v *values) remark(term, prefix string) string {
	value := v.take(term)
	if text, ok := strings.CutPrefix(value, prefix); ok {
		return text
	}
	v.keep(term, value)
	return ""
}

// collected reads the date of collecting: a day, month or year, or two of them.
func (v *values) collected() {
	value := v.take(dwc + "eventDate")
	if value == "" {
		if year := v.by[dwc+"year"]; year != "" {
			value = strings.TrimSuffix(year+"-"+padded(v.by[dwc+"month"])+"-"+padded(v.by[dwc+"day"]), "-")
			value = strings.TrimSuffix(value, "-")
			v.ignore(dwc+"year", dwc+"month", dwc+"day")
		}
	}
	if value == "" {
		return
	}
	from, to, exact, ok := dates(value)
	switch {
	case !ok:
		v.fault(review.FaultDate, dwc+"eventDate", value)
		return
	case !exact:
		v.keep(dwc+"eventDate", value)
	}
	v.in.Label.CollectedFrom, v.in.Label.CollectedTo = from, to
	// The parts of a date that stands whole say nothing more.
	if year := v.by[dwc+"year"]; year != "" && strings.HasPrefix(from, year) {
		v.ignore(dwc+"year", dwc+"month", dwc+"day")
	}
}

func padded(n string) string {
	if len(n) == 1 {
		return "0" + n
	}
	return n
}

// dates reads a date or an interval of ISO 8601; exact is false where something of it is lost, such as the hour.
func dates(value string) (from, to string, exact, ok bool) {
	first, second, two := strings.Cut(value, "/")
	from, exact, ok = date(first)
	if !two || !ok {
		return from, "", exact, ok
	}
	if len(second) < len(first) && len(second) <= 5 && !strings.Contains(second, ":") { // the end leaves out what it has in common
		second = first[:len(first)-len(second)] + second
	}
	to, exactEnd, ok := date(second)
	if to < from {
		return "", "", false, false
	}
	if to == from {
		to = ""
	}
	return from, to, exact && exactEnd, ok
}

// date is a day, month or year; of a time only the day is kept.
func date(value string) (day string, exact, ok bool) {
	for _, layout := range []string{time.DateOnly, "2006-01", "2006"} {
		if _, err := time.Parse(layout, value); err == nil {
			return value, true, true
		}
	}
	for _, layout := range []string{time.RFC3339, "2006-01-02T15:04Z07:00", "2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02T15"} {
		if t, err := time.Parse(layout, value); err == nil {
			return t.Format(time.DateOnly), false, true
		}
	}
	return "", false, false
}

// number reads one; nil where there is none.
func (v *values) number(term string) *float64 {
	value := v.take(term)
	if value == "" {
		return nil
	}
	x, err := strconv.ParseFloat(value, 64)
	if err != nil || x != x || x-x != 0 {
		v.fault(review.FaultNumber, term, value)
		return nil
	}
	return &x
}

func (v *values) elevation() {
	low, high := v.number(dwc+"minimumElevationInMeters"), v.number(dwc+"maximumElevationInMeters")
	switch {
	case low != nil && high != nil && *low != *high:
		v.keep(dwc+"minimumElevationInMeters", decimal(*low))
		v.keep(dwc+"maximumElevationInMeters", decimal(*high))
	case low != nil:
		v.in.Withheld.ElevationM = low
	default:
		v.in.Withheld.ElevationM = high
	}
}

// point reads coordinates; those of another datum are kept as they are, and told of, since they may lie hundreds of metres off.
func (v *values) point() {
	w := &v.in.Withheld
	w.Latitude, w.Longitude = v.number(dwc+"decimalLatitude"), v.number(dwc+"decimalLongitude")
	w.UncertaintyM = v.number(dwc + "coordinateUncertaintyInMeters")
	switch datum := v.take(dwc + "geodeticDatum"); strings.ToUpper(strings.ReplaceAll(datum, " ", "")) {
	case "", "EPSG:4326", "WGS84", "NOTRECORDED":
	default:
		if w.Latitude != nil {
			v.fault(review.FaultDatum, dwc+"geodeticDatum", datum)
		}
	}
}
