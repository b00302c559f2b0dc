package review

import "math"

// Label is the part of the label data that everybody may read. Its tags are the one place where a field stands: name (json),
// limits, what pages and forms call it, and for the API its doc with the term of Darwin Core. LabelField says which tags
// there are.
type Label struct {
	CatalogueNumber string `json:"catalogue_number" required:"false" maxLength:"60" title:"Catalogue number" hint:"Under which the specimen can be found." doc:"Number of the specimen in its collection (dwc:catalogNumber)"`
	Country         string `json:"country,omitempty" maxLength:"80" title:"Country" doc:"dwc:country"`
	Province        string `json:"province,omitempty" maxLength:"120" title:"Province" hint:"State, canton or province." doc:"State, canton, province (dwc:stateProvince)"`
	CollectedFrom   string `json:"collected_from,omitempty" maxLength:"10" kind:"date" title:"Collected" ask:"Collected on, or from" hint:"2026-05-14, 2026-05 or 2026." doc:"Day, month or year: 2026-05-14, 2026-05 or 2026 (dwc:eventDate)"`
	CollectedTo     string `json:"collected_to,omitempty" maxLength:"10" kind:"date" title:"Collected" shown:"to %s" ask:"Collected until" hint:"Only for a range, such as a trap series." doc:"End of a range, in the same form"`
	Trip            string `json:"trip,omitempty" maxLength:"120" title:"Trip" ask:"Collecting trip or trap series" doc:"Collecting trip or trap series (dwc:eventID)"`
	Method          string `json:"method,omitempty" maxLength:"120" title:"Method" doc:"dwc:samplingProtocol"`
	HostPlant       string `json:"host_plant,omitempty" maxLength:"120" title:"Host plant" hint:"The plant on which it was found feeding." doc:"Plant on which it fed (dwc:associatedTaxa)"`
	Habitat         string `json:"habitat,omitempty" maxLength:"300" title:"Habitat" doc:"dwc:habitat"`
	Sex             string `json:"sex,omitempty" enum:",male,female" title:"Sex" doc:"dwc:sex; empty when not known"`
	Stage           string `json:"stage,omitempty" maxLength:"40" title:"Life stage" doc:"dwc:lifeStage"`
	Count           int    `json:"count,omitempty" minimum:"0" maximum:"10000" title:"Individuals" ask:"Number of individuals" doc:"dwc:individualCount"`
	Preparation     string `json:"preparation,omitempty" maxLength:"120" title:"Preparation" hint:"Pinned, on a point, in ethanol." doc:"dwc:preparations"`
	MissingParts    string `json:"missing_parts,omitempty" maxLength:"300" title:"Missing parts" hint:"What has broken off." doc:"What has broken off"`
	StoragePlace    string `json:"storage_place,omitempty" maxLength:"120" title:"Storage place" hint:"Cabinet, drawer, box." doc:"Cabinet, drawer, box"`
	Disposition     string `json:"disposition,omitempty" maxLength:"120" title:"Whereabouts" hint:"In the collection, on loan, given away, lost." doc:"Whether it is in the collection, on loan, given away or lost (dwc:disposition)"`
}

// Withheld is the part of the label data that can endanger a population or name a person. It stands in an erasable
// table; events hold only its Withholding.
type Withheld struct {
	Locality      string   `json:"locality,omitempty" maxLength:"300" title:"Locality" doc:"dwc:locality"`
	Latitude      *float64 `json:"latitude,omitempty" minimum:"-90" maximum:"90" title:"Coordinates" shown:"%s," ask:"Latitude" hint:"Decimal degrees, WGS 84; south is negative." doc:"dwc:decimalLatitude, WGS 84"`
	Longitude     *float64 `json:"longitude,omitempty" minimum:"-180" maximum:"180" title:"Coordinates" ask:"Longitude" hint:"Decimal degrees, WGS 84; west is negative." doc:"dwc:decimalLongitude, WGS 84"`
	UncertaintyM  *float64 `json:"uncertainty_m,omitempty" minimum:"0" maximum:"5000000" title:"Coordinates" shown:"± %s m" ask:"Uncertainty of the place" hint:"Metres." doc:"dwc:coordinateUncertaintyInMeters"`
	District      string   `json:"district,omitempty" maxLength:"120" title:"District" hint:"District, county or municipality; reviewers see it." doc:"District, county or municipality; shown to reviewers (dwc:county)"`
	ElevationM    *float64 `json:"elevation_m,omitempty" minimum:"-500" maximum:"9000" title:"Elevation" shown:"%s m" hint:"Metres above sea level; reviewers see it." doc:"Metres above sea level; shown to reviewers"`
	Collector     string   `json:"collector,omitempty" maxLength:"200" title:"Collector" beside:"locality" doc:"dwc:recordedBy"`
	Trip          string   `json:"trip,omitempty" maxLength:"120" title:"Trip, withheld" ask:"Collecting trip, withheld" hint:"Where its name tells the place." doc:"Collecting trip or trap series whose name tells the place (dwc:eventID)"`
	Habitat       string   `json:"habitat,omitempty" maxLength:"300" title:"Habitat, withheld" hint:"Where it tells the place." doc:"Habitat whose description tells the place (dwc:habitat)"`
	Permit        string   `json:"permit,omitempty" maxLength:"200" title:"Permit" hint:"Its number, where one was needed." doc:"Number of the collecting permit, where one was needed"`
	VerbatimLabel string   `json:"verbatim_label,omitempty" maxLength:"2000" kind:"long" title:"As written" ask:"Label as it is written" hint:"Line by line." doc:"The label as it is written (dwc:verbatimLabel)"`
}

// Check adds every field that is out of its limits.
func (l *Label) Check(p *Problems) {
	for i := range openFields {
		openFields[i].check(p, l, nil)
	}
	if l.CollectedTo != "" && l.CollectedTo < l.CollectedFrom {
		p.Addf("label.collected_to", "is before the beginning")
	}
}

// Check adds every field that is out of its limits.
func (w *Withheld) Check(p *Problems) {
	for i := range withheldFields {
		withheldFields[i].check(p, nil, w)
	}
	if (w.Latitude == nil) != (w.Longitude == nil) {
		p.Addf("withheld.longitude", "give latitude and longitude together, or neither")
	}
}

// Coarse keeps coordinates to a tenth of a degree (about 11 km of latitude) and drops the rest.
func (w Withheld) Coarse() Withheld {
	return Withheld{Latitude: tenth(w.Latitude), Longitude: tenth(w.Longitude)}
}

// ForReview is Coarse with what a reviewer needs besides: elevation and district.
func (w Withheld) ForReview() Withheld {
	coarse := w.Coarse()
	coarse.ElevationM, coarse.District = w.ElevationM, w.District
	return coarse
}

// SeenBy is as much of withheld data as an actor may see; whole says whether that is all. owner is that of the specimen.
func (w Withheld) SeenBy(actor Actor, owner string) (seen Withheld, whole bool) {
	switch {
	case May(actor, ActReadWithheld, owner):
		return w, true
	case May(actor, ActReadDistrict, owner):
		return w.ForReview(), false
	}
	return w.Coarse(), false
}

func tenth(x *float64) *float64 {
	if x == nil {
		return nil
	}
	rounded := math.Round(*x*10) / 10
	return &rounded
}
