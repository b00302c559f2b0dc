package web

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

// submissionForm turns what was sent into the service's form, and says how paths of its errors are called on the page.
func submissionForm(book pages.Book, f *sentForm) (review.SubmissionForm, func(string) string) {
	made := review.SubmissionForm{Group: book.Group.ID, Family: meant(book, f.text("family")), ScientificName: f.text("scientific_name"),
		Qualifier: f.text("qualifier"), Doubted: review.Rank(f.text("doubted")), Wording: f.text("wording"), DeterminedOn: f.text("determined_on"), DeterminerName: f.text("determiner_name"), Remarks: f.text("remarks")}
	made.Label, made.Withheld = labelOf(f)
	made.Photos = photoForms(f)
	made.Observations = observationForms(book, f)
	made.Wider = widerAnswers(f)
	made.Unseen = unseenOf(book, f)
	return made, namesOf(made.Observations, made.Wider, made.Unseen)
}

// unseenOf are the characters that could not be stated, as the form keeps them: a state that is given takes their place.
func unseenOf(book pages.Book, f *sentForm) []review.Unseen {
	made := []review.Unseen{}
	for _, c := range book.Characters {
		why := f.text(pages.ObservationField(c.ID, "unseen"))
		if why != "" && f.text(pages.ObservationField(c.ID, "state")) == "" {
			made = append(made, review.Unseen{Character: c.ID, Why: review.WhyUnseen(why)})
		}
	}
	for field := range f.values {
		if character, ok := strings.CutPrefix(field, pages.UnseenWider); ok && book.Group.Within != "" && f.text(pages.WiderField(character)) == "" {
			made = append(made, review.Unseen{Group: book.Group.Within, Character: character, Why: review.WhyUnseen(f.text(field))})
		}
	}
	slices.SortFunc(made, func(a, b review.Unseen) int { return strings.Compare(a.Group+" "+a.Character, b.Group+" "+b.Character) })
	return made
}

// widerAnswers are answers to the questions of the wider group, by character.
func widerAnswers(f *sentForm) []review.WiderAnswer {
	made := []review.WiderAnswer{}
	for field := range f.values {
		if character, ok := pages.WiderCharacter(field); ok && f.text(field) != "" {
			made = append(made, review.WiderAnswer{Character: character, State: f.text(field)})
		}
	}
	slices.SortFunc(made, func(a, b review.WiderAnswer) int { return strings.Compare(a.Character, b.Character) })
	return made
}

func (f *sentForm) text(field string) string {
	// Browsers send line ends as CR LF; kept as LF, so that the same text is the same text.
	return strings.TrimSpace(strings.ReplaceAll(f.get(field), "\r\n", "\n"))
}

func photoForms(f *sentForm) []review.PhotoForm {
	made := []review.PhotoForm{}
	for _, p := range f.photos.Kept {
		made = append(made, review.PhotoForm{Photo: p.ID, View: p.View})
	}
	return made
}

// observationForms are the characters that were stated, in the order of the tables.
func observationForms(book pages.Book, f *sentForm) []review.ObservationForm {
	made := []review.ObservationForm{}
	for _, c := range book.Characters {
		part := func(name string) string { return f.text(pages.ObservationField(c.ID, name)) }
		if part("state") == "" {
			continue
		}
		o := review.ObservationForm{Character: c.ID, State: review.TypedDecimal(part("state")),
			Sureness: review.Sureness(part("sureness")), Photo: f.keptID(part("photo"))}
		o.Region = regionOf(part("left"), part("top"), part("width"), part("height"))
		made = append(made, o)
	}
	return made
}

// keptID is the id of a photo unless it was left out in this very form.
func (f *sentForm) keptID(id string) string {
	for i := range 2 * maxFormPhotos {
		if f.get(fmt.Sprintf("photos[%d].photo", i)) == id && f.get(fmt.Sprintf("photos[%d].out", i)) != "" {
			return ""
		}
	}
	return id
}

// regionOf turns per cent into fractions; nil where nothing was typed.
func regionOf(left, top, width, height string) *review.Region {
	if left+top+width+height == "" {
		return nil
	}
	fraction := func(text string) float64 {
		x := review.TypedNumber(text)
		if x == nil || *x == review.Unreadable {
			return -1 // lies on no photo
		}
		return math.Round(*x*1000) / 100000
	}
	return &review.Region{X: fraction(left), Y: fraction(top), W: fraction(width), H: fraction(height)}
}

// namesOf turns a path into observations or answers by position ("observations[2].state") into the name of its field.
func namesOf(observations []review.ObservationForm, wider []review.WiderAnswer, unseen []review.Unseen) func(string) string {
	return func(path string) string {
		for i, a := range wider {
			if strings.HasPrefix(path, fmt.Sprintf("wider[%d].", i)) {
				return pages.WiderField(a.Character)
			}
		}
		for i, u := range unseen {
			if strings.HasPrefix(path, fmt.Sprintf("unseen[%d].", i)) {
				return pages.ObservationField(u.Character, "unseen")
			}
		}
		for i, o := range observations {
			if part, ok := strings.CutPrefix(path, fmt.Sprintf("observations[%d].", i)); ok {
				return pages.ObservationField(o.Character, part)
			}
		}
		return path
	}
}

// typedDraft are the content of a draft as a form shows it.
func typedDraft(v service.SubmissionView) (pages.Form, []pages.KeptPhoto) {
	form := pages.NewForm(nil)
	form.Version = v.Version
	typedLabel(form, v.Specimen.Label, v.Withheld)
	d := v.Submission.Determination
	family := d.Family
	if d.AsGiven != "" {
		family = d.AsGiven
	}
	form.Set("family", family)
	form.Set("scientific_name", d.ScientificName)
	form.Set("qualifier", string(d.Qualifier))
	form.Set("doubted", string(d.Doubted))
	form.Set("wording", d.Wording)
	form.Set("determined_on", d.DeterminedOn)
	if d.Determiner != v.Submission.Owner {
		form.Set("determiner_name", service.WrittenName(v.Names[d.Determiner]))
	}
	form.Set("remarks", v.Submission.Remarks)
	for _, a := range v.Submission.Wider {
		form.Set(pages.WiderField(a.Character), a.State)
	}
	for _, u := range v.Submission.Unseen {
		if u.Group == "" {
			form.Set(pages.ObservationField(u.Character, "unseen"), string(u.Why))
		} else {
			form.Set(pages.UnseenWider+u.Character, string(u.Why))
		}
	}
	for _, shown := range pages.ShownOf(v) {
		if shown.Withdrawn == "" {
			typedObservation(form, shown.Observation)
		}
	}
	var kept []pages.KeptPhoto
	for _, id := range v.Submission.Photos {
		if p, ok := v.Specimen.Photo(id); ok {
			kept = append(kept, pages.KeptPhoto{ID: id, View: p.View})
		}
	}
	return form, kept
}

func typedObservation(form pages.Form, o review.Observation) {
	set := func(part, value string) { form.Set(pages.ObservationField(o.Character, part), value) }
	set("state", o.State)
	set("sureness", string(o.Sureness))
	set("photo", o.Photo)
	if o.Region != nil {
		set("left", percent(o.Region.X))
		set("top", percent(o.Region.Y))
		set("width", percent(o.Region.W))
		set("height", percent(o.Region.H))
	}
}

// percent has at most three decimals of a per cent, as many as regionOf keeps.
func percent(x float64) string { return strconv.FormatFloat(math.Round(x*100000)/1000, 'f', -1, 64) }
