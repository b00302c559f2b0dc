package pages

import (
	"context"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/service"
	"revidit/web/words"
)

// BlindData is what somebody is to look at blind.
type BlindData struct {
	View service.BlindView
	Form Form
}

// NoStatePrefix begins the value of a choice that says why no state is seen; ids of states have no colon.
const NoStatePrefix = "none:"

// whyNone are the reasons for giving no state.
func whyNone(ctx context.Context, prefix string) []Choice {
	var choices []Choice
	for _, kind := range []review.VerdictKind{review.VerdictNotVisible, review.VerdictPartMissing, review.VerdictCannotJudge} {
		choices = append(choices, Choice{Value: prefix + string(kind), Label: words.T(ctx, "blind.none-"+string(kind))})
	}
	return choices
}

func (d BlindData) number(ctx context.Context) string {
	if d.View.CatalogueNumber == "" {
		return words.T(ctx, "common.without-number")
	}
	return d.View.CatalogueNumber
}

func (d BlindData) title(ctx context.Context) string {
	return words.T(ctx, "blind.title", "Number", d.number(ctx))
}

func (d BlindData) heading(ctx context.Context) string {
	if d.View.Recheck {
		return words.T(ctx, "blind.heading-panel")
	}
	return words.T(ctx, "blind.heading")
}

func (d BlindData) why(ctx context.Context) string {
	if d.View.Recheck {
		return words.T(ctx, "blind.why-panel")
	}
	return words.T(ctx, "blind.why")
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
