package review

import "math"

// Label is the part of the label data that everybody may read. Terms follow Darwin Core, named in the comments.
type Label struct {
	CatalogueNumber string `json:"catalogue_number" required:"false" maxLength:"60" doc:"Number of the specimen in its collection (dwc:catalogNumber)"`
	Country         string `json:"country,omitempty" maxLength:"80" doc:"dwc:country"`
	Province        string `json:"province,omitempty" maxLength:"120" doc:"State, canton, province (dwc:stateProvince)"`
	CollectedFrom   string `json:"collected_from,omitempty" maxLength:"10" doc:"Day, month or year: 2026-05-14, 2026-05 or 2026 (dwc:eventDate)"`
	CollectedTo     string `json:"collected_to,omitempty" maxLength:"10" doc:"End of a range, in the same form"`
	Trip            string `json:"trip,omitempty" maxLength:"120" doc:"Collecting trip or trap series (dwc:eventID)"`
	Method          string `json:"method,omitempty" maxLength:"120" doc:"dwc:samplingProtocol"`
	Habitat         string `json:"habitat,omitempty" maxLength:"300" doc:"dwc:habitat"`
	Sex             string `json:"sex,omitempty" enum:",male,female" doc:"dwc:sex; empty when not known"`
	Stage           string `json:"stage,omitempty" maxLength:"40" doc:"dwc:lifeStage"`
	Count           int    `json:"count,omitempty" minimum:"0" maximum:"10000" doc:"dwc:individualCount"`
	Preparation     string `json:"preparation,omitempty" maxLength:"120" doc:"dwc:preparations"`
	MissingParts    string `json:"missing_parts,omitempty" maxLength:"300" doc:"What has broken off"`
	StoragePlace    string `json:"storage_place,omitempty" maxLength:"120" doc:"Cabinet, drawer, box"`
}

// Withheld is the part of the label data that can endanger a population or name a person. It stands in an erasable
// table; events hold only its Seal.
type Withheld struct {
	VerbatimLabel string   `json:"verbatim_label,omitempty" maxLength:"2000" doc:"The label as it is written (dwc:verbatimLabel)"`
	Locality      string   `json:"locality,omitempty" maxLength:"300" doc:"dwc:locality"`
	Latitude      *float64 `json:"latitude,omitempty" minimum:"-90" maximum:"90" doc:"dwc:decimalLatitude, WGS 84"`
	Longitude     *float64 `json:"longitude,omitempty" minimum:"-180" maximum:"180" doc:"dwc:decimalLongitude, WGS 84"`
	UncertaintyM  *float64 `json:"uncertainty_m,omitempty" minimum:"0" maximum:"5000000" doc:"dwc:coordinateUncertaintyInMeters"`
	ElevationM    *float64 `json:"elevation_m,omitempty" minimum:"-500" maximum:"9000" doc:"Metres above sea level"`
	Collector     string   `json:"collector,omitempty" maxLength:"200" doc:"dwc:recordedBy"`
	Permit        string   `json:"permit,omitempty" maxLength:"200" doc:"Number of the collecting permit, where one was needed"`
}

// Check adds every field that is out of its limits.
func (l *Label) Check(p *Problems) {
	CheckText(p, "label.catalogue_number", l.CatalogueNumber, 0, 60)
	for _, f := range []struct {
		name, text string
		most       int
	}{
		{"country", l.Country, 80}, {"province", l.Province, 120}, {"trip", l.Trip, 120}, {"method", l.Method, 120},
		{"habitat", l.Habitat, 300}, {"stage", l.Stage, 40}, {"preparation", l.Preparation, 120},
		{"missing_parts", l.MissingParts, 300}, {"storage_place", l.StoragePlace, 120},
	} {
		CheckText(p, "label."+f.name, f.text, 0, f.most)
	}
	checkDate(p, "label.collected_from", l.CollectedFrom)
	checkDate(p, "label.collected_to", l.CollectedTo)
	if l.CollectedTo != "" && l.CollectedTo < l.CollectedFrom {
		p.Addf("label.collected_to", "is before the beginning")
	}
	if l.Sex != "" && l.Sex != "male" && l.Sex != "female" {
		p.Addf("label.sex", "must be male, female or empty")
	}
	if l.Count < 0 || l.Count > 10000 {
		p.Addf("label.count", "must be from 0 to 10000")
	}
}

// Check adds every field that is out of its limits.
func (w *Withheld) Check(p *Problems) {
	CheckText(p, "withheld.verbatim_label", w.VerbatimLabel, 0, MaxNote)
	CheckText(p, "withheld.locality", w.Locality, 0, 300)
	CheckText(p, "withheld.collector", w.Collector, 0, 200)
	CheckText(p, "withheld.permit", w.Permit, 0, 200)
	checkNumber(p, "withheld.latitude", w.Latitude, -90, 90)
	checkNumber(p, "withheld.longitude", w.Longitude, -180, 180)
	checkNumber(p, "withheld.uncertainty_m", w.UncertaintyM, 0, 5_000_000)
	checkNumber(p, "withheld.elevation_m", w.ElevationM, -500, 9000)
	if (w.Latitude == nil) != (w.Longitude == nil) {
		p.Addf("withheld.longitude", "give latitude and longitude together, or neither")
	}
}

// Coarse keeps coordinates to a tenth of a degree (about 11 km of latitude) and drops the rest.
func (w Withheld) Coarse() Withheld {
	return Withheld{Latitude: tenth(w.Latitude), Longitude: tenth(w.Longitude)}
}

func tenth(x *float64) *float64 {
	if x == nil {
		return nil
	}
	rounded := math.Round(*x*10) / 10
	return &rounded
}
