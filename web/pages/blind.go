package pages

import (
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
)

// BlindData is what somebody is to look at blind.
type BlindData struct {
	View service.BlindView
	Form Form
}

// NoStatePrefix begins the value of a choice that says why no state is seen; ids of states have no colon.
const NoStatePrefix = "none:"

// whyNone are the reasons for giving no state.
func whyNone(prefix string) []Choice {
	var choices []Choice
	for _, kind := range []review.VerdictKind{review.VerdictNotVisible, review.VerdictPartMissing, review.VerdictCannotJudge} {
		choices = append(choices, Choice{Value: prefix + string(kind), Label: noneWords[kind]})
	}
	return choices
}

var noneWords = map[review.VerdictKind]string{
	review.VerdictNotVisible: "not visible on these photos", review.VerdictPartMissing: "the part is missing", review.VerdictCannotJudge: "I cannot judge it",
}

func (d BlindData) number() string {
	if d.View.CatalogueNumber == "" {
		return "Specimen without number"
	}
	return d.View.CatalogueNumber
}

func (d BlindData) title() string { return "Look blind at " + d.number() }

const digitsHint = "Once a choice has the focus, the digits 0 to 9 choose among them: 0 is the first."

func (d BlindData) heading() string {
	if d.View.Recheck {
		return "Name it from the photos"
	}
	return "Look before you know"
}

func (d BlindData) why() string {
	if d.View.Recheck {
		return "This determination is closed and was drawn by chance for a second look by people who have not seen it. Nothing else of it is shown until you have answered; " +
			"your answer counts as an independent look at how often names here are right."
	}
	return "You were drawn by chance to look at one character before anything else is shown. Answer what you see; it counts as an independent look of your own, and then the submission opens."
}

// counted says whether the answer is a number.
func (d BlindData) counted(site Site) bool {
	c := site.Book.character(d.View.Character)
	return c != nil && c.Kind != diagnosis.KindStates
}

// marks are the marked place on its photo.
func (d BlindData) marks(p review.Photo) []Shown {
	if p.ID != d.View.Marked {
		return nil
	}
	return []Shown{{No: 1, Observation: review.Observation{Character: d.View.Character, Photo: p.ID, Region: d.View.Region}}}
}
