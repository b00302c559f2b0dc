package review

import (
	"reflect"
	"slices"
)

// AsBegun says whether a draft is as it was begun, and was never saved again.
func (s *Submission) AsBegun() bool { return s.Seq+s.Saves == 1 }

// Revision changes a draft. What is left out stays as it is; what is given takes the place of what was there, so that an
// empty label empties it. A label and withheld data are each taken whole.
type Revision struct {
	Group    *string   `json:"group,omitempty" maxLength:"60" doc:"A draft stays in its group"`
	Specimen *string   `json:"specimen,omitempty" maxLength:"60" doc:"A draft stays with its specimen"`
	Label    *Label    `json:"label,omitempty" doc:"The whole label; left out, it stays as it is. That of a registered specimen is corrected with the specimen, and another one here is refused"`
	Withheld *Withheld `json:"withheld,omitempty" doc:"The whole withheld part; left out, it stays as it is; of a registered specimen as for label"`

	Family         *string `json:"family,omitempty" maxLength:"60" doc:"Proposed family; an old name leads to the family that holds it today"`
	ScientificName *string `json:"scientific_name,omitempty" maxLength:"120" doc:"Genus or species, where the determiner went further"`
	Qualifier      *string `json:"qualifier,omitempty" enum:",?,cf.,aff." doc:"? at family rank; cf. and aff. where a genus or species is named"`
	Doubted        *Rank   `json:"doubted,omitempty" enum:",genus,species" doc:"Word that is doubted, before which cf. or aff. stands; empty, or left out where name or qualifier are given: the last one of the name"`
	DeterminedOn   *string `json:"determined_on,omitempty" maxLength:"10" doc:"Day, month or year; empty: today, or no date where another determiner is named"`
	DeterminerName *string `json:"determiner_name,omitempty" maxLength:"120" doc:"Who gave the name; empty: the submitter"`
	Wording        *string `json:"wording,omitempty" maxLength:"500" doc:"What stands on the old slip, letter for letter"`

	Photos       []PhotoForm       `json:"photos,omitempty" doc:"All photos; left out, they stay as they are"`
	Observations []ObservationForm `json:"observations,omitempty" doc:"All observations; left out, they stay as they are"`
	Remarks      *string           `json:"remarks,omitempty" maxLength:"2000"`
	Wider        []WiderAnswer     `json:"wider,omitempty" maxItems:"20" doc:"All answers to the questions of the wider group; left out, they stay as they are"`
	Unseen       []Unseen          `json:"unseen,omitempty" maxItems:"100" doc:"All characters that could not be stated; left out, they stay as they are, but for those that are stated now"`
	Loose        *Loose            `json:"loose,omitempty" doc:"All that was typed and cannot be taken as it is, by field; left out, it stays as it is"`
}

// WholeRevision replaces everything that a draft says by what a form says.
func WholeRevision(f SubmissionForm) Revision {
	return Revision{Group: &f.Group, Label: &f.Label, Withheld: &f.Withheld, Family: &f.Family, ScientificName: &f.ScientificName,
		Qualifier: &f.Qualifier, Doubted: &f.Doubted, DeterminedOn: &f.DeterminedOn, DeterminerName: &f.DeterminerName, Wording: &f.Wording,
		Photos: append([]PhotoForm{}, f.Photos...), Observations: append([]ObservationForm{}, f.Observations...), Remarks: &f.Remarks,
		Wider: append([]WiderAnswer{}, f.Wider...), Unseen: append([]Unseen{}, f.Unseen...), Loose: &f.Loose}
}

// Of is the form that a draft would have been begun with to be what the revision makes of it. Withheld data that it leaves
// as they are, and the name of a determiner, are not in it. A KindInvalid error tells of what a draft cannot change.
func (r Revision) Of(now *Dossier) (SubmissionForm, error) {
	var p Problems
	if r.Group != nil && *r.Group != "" && *r.Group != now.Submission.Group {
		p.Addf("group", "a draft stays in its group; begin another submission for another one")
	}
	if r.Specimen != nil && *r.Specimen != "" && *r.Specimen != now.Specimen.ID {
		p.Addf("specimen", "a draft stays with its specimen; begin another submission for another one")
	}
	d := now.Submission.Determination
	form := SubmissionForm{Label: now.Specimen.Label, Family: d.Family, ScientificName: d.ScientificName, Qualifier: string(d.Qualifier),
		DeterminedOn: d.DeterminedOn, Wording: d.Wording, Remarks: now.Submission.Remarks, Photos: r.Photos, Observations: r.Observations,
		Wider: r.Wider}
	if d.AsGiven != "" {
		form.Family = d.AsGiven
	}
	if r.ScientificName == nil && r.Qualifier == nil { // another name may not have the word
		form.Doubted = d.Doubted
	}
	put(&form.Label, r.Label)
	put(&form.Withheld, r.Withheld)
	put(&form.Family, r.Family)
	put(&form.ScientificName, r.ScientificName)
	put(&form.Qualifier, r.Qualifier)
	put(&form.DeterminedOn, r.DeterminedOn)
	put(&form.Doubted, r.Doubted)
	put(&form.DeterminerName, r.DeterminerName)
	put(&form.Wording, r.Wording)
	put(&form.Remarks, r.Remarks)
	if r.Photos == nil {
		form.Photos = now.photoForms()
	}
	if r.Wider == nil {
		form.Wider = now.Submission.Wider
	}
	if r.Observations == nil {
		form.Observations = now.observationForms()
	}
	form.Unseen = r.Unseen
	if r.Unseen == nil {
		form.Unseen = slices.DeleteFunc(slices.Clone(now.Submission.Unseen), func(u Unseen) bool {
			return u.Group == "" && slices.ContainsFunc(form.Observations, func(o ObservationForm) bool { return o.Character == u.Character })
		})
	}
	if now.Draft != nil {
		form.Loose = now.Draft.Loose
	}
	put(&form.Loose, r.Loose)
	return form, p.Err()
}

func put[T any](into *T, given *T) {
	if given != nil {
		*into = *given
	}
}

// photoForms are the photos of a submission as a form has them.
func (now *Dossier) photoForms() []PhotoForm {
	forms := []PhotoForm{}
	for _, id := range now.Submission.Photos {
		if p, ok := now.Specimen.Photo(id); ok {
			forms = append(forms, PhotoForm{Photo: id, View: p.View})
		}
	}
	return forms
}

// observationForms are the standing observations of a submission as a form has them.
func (now *Dossier) observationForms() []ObservationForm {
	forms := []ObservationForm{}
	for _, id := range now.Standing() {
		o, _ := now.Specimen.Observation(id)
		forms = append(forms, ObservationForm{Character: o.Character, State: o.State, Sureness: o.Sureness, List: o.List, Photo: o.Photo, Region: o.Region})
	}
	return forms
}

// Revised are the changes of a submission that bring it to a proposal: none where it is that already.
func (s *Submission) Revised(p Proposal) []Change {
	former := Proposal{Group: s.Group, Specimen: s.Specimen, Determination: s.Determination, Cites: NonNil(slices.Clone(s.Cites)),
		Photos: NonNil(slices.Clone(s.Photos)), Remarks: s.Remarks,
		Wider: nilIfEmpty(s.Wider), Unseen: nilIfEmpty(s.Unseen)}
	p.Cites, p.Photos, p.Wider, p.Unseen = NonNil(p.Cites), NonNil(p.Photos), nilIfEmpty(p.Wider), nilIfEmpty(p.Unseen)
	if reflect.DeepEqual(former, p) {
		return nil
	}
	return []Change{&Revised{Proposal: p}}
}
