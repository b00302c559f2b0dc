package review

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"revidit/review/diagnosis"
)

// Limits on what one input may hold.
const (
	maxNote         = 2000 // letters of a remark, reason or note
	maxPhotos       = 24   // photos of one submission
	maxObservations = 80   // observations of one submission
	maxRegionSlack  = 1e-9 // rounding of fractions that a browser computed
)

// SubmissionForm is what a member fills in: the specimen, the proposed determination, the photos and the observations.
type SubmissionForm struct {
	Group string `json:"group,omitempty" maxLength:"60" doc:"Group of tables that judges it; empty: the first"`
	// Specimen is set where the specimen is registered already (a redetermination); then Label and Withheld are ignored.
	Specimen string   `json:"specimen,omitempty" maxLength:"60" doc:"Id of a registered specimen; empty for a new one"`
	Label    Label    `json:"label" required:"false"`
	Withheld Withheld `json:"withheld" required:"false"`

	Family         string `json:"family" required:"false" maxLength:"60" doc:"Proposed family; an old name leads to the family that holds it today"`
	ScientificName string `json:"scientific_name,omitempty" maxLength:"120" doc:"Genus or species, where the determiner went further"`
	Qualifier      string `json:"qualifier,omitempty" enum:",?,cf.,aff." doc:"? at family rank; cf. and aff. where a genus or species is named"`
	DeterminedOn   string `json:"determined_on,omitempty" maxLength:"10" doc:"Day, month or year; empty: today"`
	DeterminerName string `json:"determiner_name,omitempty" maxLength:"120" doc:"Who gave the name, where it was not the submitter (an old slip)"`

	Photos       []PhotoForm       `json:"photos" required:"false"`
	Observations []ObservationForm `json:"observations" required:"false"`
	Remarks      string            `json:"remarks,omitempty" maxLength:"2000"`
}

// PhotoForm names an uploaded photo and the view that it shows.
type PhotoForm struct {
	Photo string `json:"photo" maxLength:"60" doc:"Id that the upload gave"`
	View  string `json:"view" maxLength:"40" doc:"Id of a view of the group"`
}

// ObservationForm is one character as the member saw it.
type ObservationForm struct {
	Character string   `json:"character" maxLength:"60"`
	State     string   `json:"state" maxLength:"60" doc:"State id, whole number, or millimetres"`
	Sureness  Sureness `json:"sureness,omitempty" enum:",sure,fairly-sure,unsure"`
	Photo     string   `json:"photo,omitempty" maxLength:"60" doc:"Id of the photo that shows it"`
	Region    *Region  `json:"region,omitempty" doc:"Rectangle on that photo"`
}

// checkDraft returns what is wrong with the form, however little of it is filled in.
func (f *SubmissionForm) checkDraft(judge *Judge) Problems {
	var p Problems
	if f.Specimen == "" {
		f.Label.check(&p)
		f.Withheld.check(&p)
	}
	f.checkName(&p, judge.Tables())
	f.checkPhotos(&p, judge.Tables())
	checkObservations(&p, judge, f.Observations, f.photoIDs())
	checkText(&p, "remarks", f.Remarks, 0, maxNote)
	return p
}

// checkSubmit also asks for what a reviewer needs.
func (f *SubmissionForm) checkSubmit(judge *Judge) Problems {
	p := f.checkDraft(judge)
	if f.Specimen == "" && strings.TrimSpace(f.Label.CatalogueNumber) == "" {
		p.Addf("label.catalogue_number", "give the number under which the specimen can be found")
	}
	if strings.TrimSpace(f.Family) == "" {
		p.Addf("family", "propose a family, so that reviewers have something to look at")
	}
	if len(f.Photos) == 0 {
		p.Addf("photos", "add at least one photo: reviewers judge what they can see")
	}
	if len(f.Observations) == 0 {
		p.Addf("observations", "state at least one character that you observed")
	}
	return p
}

func (f *SubmissionForm) photoIDs() map[string]bool {
	ids := map[string]bool{}
	for _, photo := range f.Photos {
		ids[photo.Photo] = true
	}
	return ids
}

func (f *SubmissionForm) checkName(p *Problems, tables *diagnosis.Tables) {
	if f.Family != "" {
		if _, _, ok := tables.Resolve(f.Family); !ok {
			p.Addf("family", "%q is not a family of these tables, nor an old name of one", f.Family)
		}
	}
	checkText(p, "scientific_name", f.ScientificName, 0, 120)
	checkText(p, "determiner_name", f.DeterminerName, 0, 120)
	checkDate(p, "determined_on", f.DeterminedOn)
	switch Qualifier(f.Qualifier) {
	case QualifierNone:
	case QualifierDoubt:
		if f.ScientificName != "" {
			p.Addf("qualifier", "with a genus or species named, use cf. or aff.")
		}
	case QualifierCf, QualifierAff:
		if f.ScientificName == "" {
			p.Addf("qualifier", "cf. and aff. need a genus or species; at family rank use ?")
		}
	default:
		p.Addf("qualifier", "must be empty, ?, cf. or aff.")
	}
}

func (f *SubmissionForm) checkPhotos(p *Problems, tables *diagnosis.Tables) {
	if len(f.Photos) > maxPhotos {
		p.Addf("photos", "at most %d photos", maxPhotos)
	}
	seen := map[string]bool{}
	for i, photo := range f.Photos {
		field := fmt.Sprintf("photos[%d]", i)
		if photo.Photo == "" {
			p.Addf(field+".photo", "name the uploaded photo")
		}
		if seen[photo.Photo] {
			p.Addf(field+".photo", "is in the list twice")
		}
		seen[photo.Photo] = true
		checkView(p, field+".view", photo.View, tables)
	}
}

func checkView(p *Problems, field, view string, tables *diagnosis.Tables) {
	for _, known := range tables.Group.Views {
		if known.ID == view {
			return
		}
	}
	if view == "" {
		p.Addf(field, "choose what the photo shows")
		return
	}
	p.Addf(field, "%q is not a view; choose what the photo shows", view)
}

func checkObservations(p *Problems, judge *Judge, observations []ObservationForm, photos map[string]bool) {
	if len(observations) > maxObservations {
		p.Addf("observations", "at most %d observations", maxObservations)
	}
	seen := map[string]bool{}
	for i, o := range observations {
		field := fmt.Sprintf("observations[%d]", i)
		if _, ok := judge.Tables().Character(o.Character); !ok {
			p.Addf(field+".character", "%q is not a character of these tables", o.Character)
			continue
		}
		if seen[o.Character] {
			p.Addf(field+".character", "%s is stated twice; keep the one you are surer of", o.Character)
		}
		seen[o.Character] = true
		if err := judge.CheckState(o.Character, o.State); err != nil {
			p.Addf(field+".state", "%s", err)
		}
		checkSureness(p, field+".sureness", o.Sureness)
		checkRegion(p, field, o, photos)
	}
}

func checkSureness(p *Problems, field string, s Sureness) {
	switch s {
	case "", Sure, FairlySure, Unsure:
		return
	}
	p.Addf(field, "must be sure, fairly-sure or unsure")
}

func checkRegion(p *Problems, field string, o ObservationForm, photos map[string]bool) {
	if o.Photo != "" && !photos[o.Photo] {
		p.Addf(field+".photo", "is not one of the photos here")
	}
	if o.Region == nil {
		return
	}
	if o.Photo == "" {
		p.Addf(field+".photo", "say on which photo the rectangle lies")
	}
	r := *o.Region
	inside := r.X >= 0 && r.Y >= 0 && r.W > 0 && r.H > 0 && r.X+r.W <= 1+maxRegionSlack && r.Y+r.H <= 1+maxRegionSlack
	if !inside {
		p.Addf(field+".region", "must lie on the photo: fractions from 0 to 1, with a width and a height")
	}
}

func (l *Label) check(p *Problems) {
	checkText(p, "label.catalogue_number", l.CatalogueNumber, 0, 60)
	for _, f := range []struct {
		name, text string
		most       int
	}{
		{"country", l.Country, 80}, {"province", l.Province, 120}, {"trip", l.Trip, 120}, {"method", l.Method, 120},
		{"habitat", l.Habitat, 300}, {"stage", l.Stage, 40}, {"preparation", l.Preparation, 120},
		{"missing_parts", l.MissingParts, 300}, {"storage_place", l.StoragePlace, 120},
	} {
		checkText(p, "label."+f.name, f.text, 0, f.most)
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

func (w *Withheld) check(p *Problems) {
	checkText(p, "withheld.verbatim_label", w.VerbatimLabel, 0, maxNote)
	checkText(p, "withheld.locality", w.Locality, 0, 300)
	checkText(p, "withheld.collector", w.Collector, 0, 200)
	checkText(p, "withheld.permit", w.Permit, 0, 200)
	checkNumber(p, "withheld.latitude", w.Latitude, -90, 90)
	checkNumber(p, "withheld.longitude", w.Longitude, -180, 180)
	checkNumber(p, "withheld.uncertainty_m", w.UncertaintyM, 0, 5_000_000)
	checkNumber(p, "withheld.elevation_m", w.ElevationM, -500, 9000)
	if (w.Latitude == nil) != (w.Longitude == nil) {
		p.Addf("withheld.longitude", "give latitude and longitude together, or neither")
	}
}

func checkNumber(p *Problems, field string, x *float64, least, most float64) {
	if x != nil && !(*x >= least && *x <= most) {
		p.Addf(field, "must be from %s to %s", strconv.FormatFloat(least, 'f', -1, 64), strconv.FormatFloat(most, 'f', -1, 64))
	}
}

// checkText counts letters, not bytes, and refuses control characters that a database or a label cannot hold.
func checkText(p *Problems, field, text string, least, most int) {
	if !utf8.ValidString(text) || strings.ContainsFunc(text, isControl) {
		p.Addf(field, "contains characters that are no text")
		return
	}
	n := utf8.RuneCountInString(strings.TrimSpace(text))
	if n < least {
		p.Addf(field, "is needed")
	}
	if utf8.RuneCountInString(text) > most {
		p.Addf(field, "is longer than %d letters", most)
	}
}

func isControl(r rune) bool {
	return (r < ' ' && r != '\n' && r != '\r' && r != '\t') || r == 0x7f
}

// dateLayouts are those of ISO 8601 that a label needs: day, month, year.
var dateLayouts = []string{"2006-01-02", "2006-01", "2006"}

func checkDate(p *Problems, field, date string) {
	if date == "" {
		return
	}
	for _, layout := range dateLayouts {
		if t, err := time.Parse(layout, date); err == nil && t.Year() >= 1600 {
			return
		}
	}
	p.Addf(field, "must be a day (2026-05-14), a month (2026-05) or a year (2026)")
}

// proposal turns a checked form into the content of a draft. ids of observations are those recorded for it.
func (f *SubmissionForm) proposal(tables *diagnosis.Tables, determiner string, today time.Time, cites []string) Proposal {
	d := Determination{ScientificName: strings.TrimSpace(f.ScientificName), Qualifier: Qualifier(f.Qualifier),
		Determiner: determiner, DeterminedOn: f.DeterminedOn}
	if d.DeterminedOn == "" {
		d.DeterminedOn = today.Format("2006-01-02")
	}
	if family, remark, ok := tables.Resolve(f.Family); ok {
		d.Family = family.Name
		if remark != "" || family.Name != f.Family {
			d.AsGiven = f.Family
		}
	}
	photos := []string{}
	for _, photo := range f.Photos {
		photos = append(photos, photo.Photo)
	}
	return Proposal{Group: tables.Group.ID, Specimen: f.Specimen, Determination: d, Cites: cites, Photos: photos, Remarks: strings.TrimSpace(f.Remarks)}
}

// observations turns the checked form rows into observations with new ids.
func observations(forms []ObservationForm, m Moment) []Observation {
	made := []Observation{}
	for _, o := range forms {
		sureness := o.Sureness
		if sureness == "" {
			sureness = Sure
		}
		made = append(made, Observation{ID: m.NewID(), Character: o.Character, State: o.State, Sureness: sureness,
			Photo: o.Photo, Region: o.Region, By: m.Actor.Person, Role: m.Actor.Role, At: m.Now})
	}
	return made
}
