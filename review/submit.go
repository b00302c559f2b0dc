package review

import (
	"fmt"
	"strings"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
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
	Doubted        Rank   `json:"doubted,omitempty" enum:",genus,species" doc:"Word that is doubted, before which cf. or aff. stands; empty: the last one of the name"`
	DeterminedOn   string `json:"determined_on,omitempty" maxLength:"10" doc:"Day, month or year; empty: today, or no date where another determiner is named"`
	DeterminerName string `json:"determiner_name,omitempty" maxLength:"120" doc:"Who gave the name, where it was not the submitter (an old slip)"`
	Wording        string `json:"wording,omitempty" maxLength:"500" doc:"What stands on the old slip, letter for letter"`

	Photos       []PhotoForm       `json:"photos" required:"false"`
	Observations []ObservationForm `json:"observations" required:"false"`
	Remarks      string            `json:"remarks,omitempty" maxLength:"2000"`
	Wider        []WiderAnswer     `json:"wider,omitempty" maxItems:"20" doc:"Answers to the questions of the wider group, which tell whether it belongs to this one at all: the first of next in an assessment for who is new here"`
	Unseen       []Unseen          `json:"unseen,omitempty" maxItems:"100" doc:"Characters that were asked for and could not be stated, with the reason"`
	Loose        Loose             `json:"loose,omitempty" doc:"Of a draft: what was typed and cannot be taken as it is, by field. It has to be corrected before reviewers see it"`
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
	List      List     `json:"list,omitempty" enum:",free,asked" doc:"How the list arose that it stands in: free where all was told as it struck the eye, before anything was asked; asked, or empty, otherwise"`
	Photo     string   `json:"photo,omitempty" maxLength:"60" doc:"Id of the photo that shows it"`
	Region    *Region  `json:"region,omitempty" doc:"Rectangle on that photo"`
}

// checkDraft returns what is wrong with the form, however little of it is filled in.
func (f *SubmissionForm) checkDraft(judge *judgement.Judge) Problems {
	var p Problems
	if f.Specimen == "" {
		f.Label.Check(&p)
		f.Withheld.Check(&p)
	}
	f.CheckName(&p, judge.Tables())
	f.checkPhotos(&p, judge.Tables(), true)
	checkObservations(&p, judge, f.Observations, f.photoIDs())
	CheckText(&p, "remarks", f.Remarks, 0, MaxNote)
	checkWider(&p, judge, f.Wider)
	checkUnseen(&p, judge, f.Unseen, f.Observations)
	f.Loose.check(&p)
	return p
}

// checkSubmit also asks for what a reviewer needs.
func (f *SubmissionForm) checkSubmit(judge *judgement.Judge) Problems {
	p := f.checkDraft(judge)
	for i, photo := range f.Photos {
		if photo.View == "" {
			checkView(&p, FieldOf("photos", i)+".view", "", judge.Tables())
		}
	}
	f.Loose.remaining(&p)
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

// CheckName adds what is wrong with the name and its qualifier.
func (f *SubmissionForm) CheckName(p *Problems, tables *diagnosis.Tables) {
	if f.Family != "" {
		if _, _, ok := tables.Resolve(f.Family); !ok {
			p.Addf("family", "%s", tables.NotAName(f.Family))
		}
	}
	CheckText(p, "scientific_name", f.ScientificName, 0, 120)
	CheckText(p, "determiner_name", f.DeterminerName, 0, 120)
	CheckText(p, "wording", f.Wording, 0, 500)
	f.checkDoubted(p)
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

// checkPhotos adds what is wrong with the photos; a draft leaves open what they show.
func (f *SubmissionForm) checkPhotos(p *Problems, tables *diagnosis.Tables, open bool) {
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
		if photo.View != "" || !open {
			checkView(p, field+".view", photo.View, tables)
		}
	}
}

func checkObservations(p *Problems, judge *judgement.Judge, observations []ObservationForm, photos map[string]bool) {
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
		if o.List != "" && o.List != ListFree && o.List != ListAsked {
			p.Addf(field+".list", "must be free or asked")
		}
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

// Proposal turns a checked form into the content of a draft. ids of observations are those recorded for it. A name without a
// date is of today where the actor gives it; an old slip without one stays without.
func (f *SubmissionForm) Proposal(tables *diagnosis.Tables, determiner string, m Moment, cites []string) Proposal {
	d := Determination{ScientificName: strings.TrimSpace(f.ScientificName), Qualifier: Qualifier(f.Qualifier),
		Determiner: determiner, DeterminedOn: f.DeterminedOn, Wording: strings.TrimSpace(f.Wording)}
	d.Doubted = f.doubted(&d)
	if d.DeterminedOn == "" && determiner == m.Actor.Person {
		d.DeterminedOn = m.Now.Format("2006-01-02")
	}
	if family, remark, ok := tables.Resolve(f.Family); ok {
		d.Family = family.Name
		if remark != "" || family.Name != f.Family {
			d.AsGiven = f.Family
		}
	}
	photos, labels := []string{}, []string{} // lists show the first one, and not everybody may see a label
	for _, photo := range f.Photos {
		if photo.View == ViewOfLabels {
			labels = append(labels, photo.Photo)
			continue
		}
		photos = append(photos, photo.Photo)
	}
	photos = append(photos, labels...)
	return Proposal{Group: tables.Group.ID, Specimen: f.Specimen, Determination: d, Cites: cites, Photos: photos, Remarks: strings.TrimSpace(f.Remarks), Wider: nilIfEmpty(f.Wider),
		Unseen: nilIfEmpty(f.Unseen)}
}

// Observations turns the checked form rows into observations with new ids.
func Observations(forms []ObservationForm, m Moment) []Observation {
	made := []Observation{}
	for _, o := range forms {
		sureness := o.Sureness
		if sureness == "" {
			sureness = Sure
		}
		list := ListFree
		if o.List != ListFree {
			list = ""
		}
		made = append(made, Observation{ID: m.NewID(), Character: o.Character, State: o.State, Sureness: sureness, List: list,
			Photo: o.Photo, Region: o.Region, By: m.Actor.Person, Role: m.Actor.Role, At: m.Now})
	}
	return made
}

// PhotosOf are uploads with the views that the forms give, in their order.
func PhotosOf(uploads []Upload, forms []PhotoForm) []Photo {
	made := []Photo{}
	for i, u := range uploads {
		photo := u.Photo
		photo.View = forms[i].View
		made = append(made, photo)
	}
	return made
}

func photoIDs(photos []Photo) []string {
	var ids []string
	for _, p := range photos {
		ids = append(ids, p.ID)
	}
	return ids
}

// ObservationIDs are the ids of observations, in their order.
func ObservationIDs(observations []Observation) []string {
	var ids []string
	for _, o := range observations {
		ids = append(ids, o.ID)
	}
	return ids
}

// Complete says what a draft still lacks before reviewers can look at it.
func (now *Dossier) Complete() error {
	var p Problems
	if now.Draft != nil {
		now.Draft.Loose.remaining(&p)
	}
	for i, id := range now.Submission.Photos {
		if photo, ok := now.Specimen.Photo(id); ok && photo.View == "" {
			checkView(&p, FieldOf("photos", i)+".view", "", now.Judge.Tables())
		}
	}
	if now.Specimen.Label.CatalogueNumber == "" {
		p.Addf("label.catalogue_number", "give the number under which the specimen can be found")
	}
	if now.Submission.Determination.Family == "" {
		p.Addf("family", "propose a family, so that reviewers have something to look at")
	}
	if len(now.Submission.Photos) == 0 {
		p.Addf("photos", "add at least one photo: reviewers judge what they can see")
	}
	if len(now.Submission.Cites) == 0 {
		p.Addf("observations", "state at least one character that you observed")
	}
	return p.Err()
}

// Split tells the form's observations that the draft has already from those that are new.
func (now *Dossier) Split(forms []ObservationForm) (kept []string, fresh []ObservationForm) {
	for _, form := range forms {
		id := now.recorded(form)
		if id == "" {
			fresh = append(fresh, form)
			continue
		}
		kept = append(kept, id)
	}
	return kept, fresh
}

func (now *Dossier) recorded(form ObservationForm) string {
	for _, id := range now.Submission.Cites {
		o, ok := now.Specimen.Observation(id)
		if ok && o.Withdrawn == "" && o.sameAs(form) {
			return id
		}
	}
	return ""
}

// NewPhotos are those that the specimen lacks or shows under another view.
func NewPhotos(photos []Photo, spec *Specimen) []Photo {
	var added []Photo
	for _, p := range photos {
		known, ok := spec.Photo(p.ID)
		if !ok || known.View != p.View {
			added = append(added, p)
		}
	}
	return added
}

// CheckForm is what is wrong with a form, as a KindInvalid error; to submit asks for more than to draft.
func CheckForm(judge *judgement.Judge, form SubmissionForm, submit bool) error {
	if submit {
		return form.checkSubmit(judge).Err()
	}
	return form.checkDraft(judge).Err()
}
