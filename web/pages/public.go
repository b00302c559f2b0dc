package pages

import (
	"context"
	"slices"
	"strings"

	"revidit/review"
	"revidit/web/words"
)

// PublishedPath begins the addresses of published specimens.
const PublishedPath = "/published/"

// Fact is a term with what there is to say.
type Fact struct{ Title, Text string }

// PublicTitle is the name of a published specimen with its number.
func PublicTitle(ctx context.Context, v *review.PublicSpecimen) string {
	name := publicName(ctx, v)
	if v.CatalogueNumber == "" {
		return name
	}
	return words.T(ctx, "public.title", "Name", name, "Number", v.CatalogueNumber)
}

func publicName(ctx context.Context, v *review.PublicSpecimen) string {
	switch {
	case v.Undeterminable:
		return words.T(ctx, "public.undetermined")
	case v.Determination == nil:
		return words.T(ctx, "public.not-settled")
	case v.Determination.ScientificName != "":
		return v.Determination.ScientificName + " (" + determinationName(ctx, *v.Determination) + ")"
	}
	return determinationName(ctx, *v.Determination)
}

// PublicFacts are what everybody may read of a specimen, always the same terms for the same one.
func PublicFacts(ctx context.Context, v *review.PublicSpecimen) []Fact {
	facts := []Fact{{words.T(ctx, "public.name"), publicName(ctx, v)}}
	add := func(title, text string) {
		if text != "" {
			facts = append(facts, Fact{title, text})
		}
	}
	add(words.T(ctx, "public.number"), v.CatalogueNumber)
	add(words.T(ctx, "public.country"), v.Place.Country)
	add(words.T(ctx, "public.province"), v.Place.Province)
	if p := v.Place.Point; p != nil {
		point := words.T(ctx, "public.point", "Latitude", words.Number(ctx, p.Latitude), "Longitude", words.Number(ctx, p.Longitude))
		if p.UncertaintyM > 0 {
			point += words.T(ctx, "public.within", "Metres", words.Number(ctx, p.UncertaintyM))
		}
		add(words.T(ctx, "public.coordinates"), point)
	}
	add(words.T(ctx, "public.collected"), publicDays(ctx, v.CollectedFrom, v.CollectedTo))
	if v.Sex != "" {
		add(words.T(ctx, "public.sex"), labelValue(ctx, "sex", v.Sex))
	}
	add(words.T(ctx, "public.stage"), v.Stage)
	if v.Place.Withheld && v.Place.Grid != review.GridExact {
		add(words.T(ctx, "public.withheld"), words.T(ctx, "public.withheld-means"))
	}
	return facts
}

func publicDays(ctx context.Context, from, to string) string {
	switch {
	case to == "" || to == from:
		return from
	case from == "":
		return words.T(ctx, "label.until", "To", to)
	}
	return words.T(ctx, "label.range", "From", from, "To", to)
}

// PublicRights is the term of who holds the rights.
func PublicRights(ctx context.Context) string { return words.T(ctx, "public.rights") }

// PublicCredit is what has to stand beside a published photo.
func PublicCredit(ctx context.Context, p *review.Publication) string {
	return words.T(ctx, "public.credit", "Holder", p.Holder, "Licence", licenceWords(ctx, p.Licence))
}

// licenceWords is what a licence is called.
func licenceWords(ctx context.Context, iri string) string {
	switch iri {
	case review.LicenceCC0:
		return "CC0 1.0"
	case review.RightsReserved:
		return words.T(ctx, "public.reserved")
	}
	name, _, _ := strings.Cut(strings.TrimPrefix(iri, "https://creativecommons.org/licenses/"), "/")
	return "CC " + strings.ToUpper(name) + " 4.0"
}

// publishChoices are photos that can be published: those of the labels tell the place.
func publishChoices(s review.Specimen, published bool) (photos []review.Photo) {
	for _, p := range s.Photos {
		if p.View != review.ViewOfLabels && (p.Published != nil) == published {
			photos = append(photos, p)
		}
	}
	return photos
}

// numberIn is the number of a photo among all of a specimen, from 1.
func numberIn(s review.Specimen, id string) int {
	return 1 + slices.IndexFunc(s.Photos, func(p review.Photo) bool { return p.ID == id })
}

// publicMarks are the observations on a published photo, numbered from 1.
func publicMarks(v *review.PublicSpecimen, photo string) (marks []Shown) {
	for i, o := range v.MarkedOn(photo) {
		marks = append(marks, Shown{No: i + 1, Observation: o})
	}
	return marks
}

// asPublished is a photo with the size of its published copy.
func asPublished(p review.Photo) review.Photo {
	p.Width, p.Height = p.Published.Width, p.Published.Height
	return p
}

// licenceInFull are the texts of what licences are called and ask for.
var licenceInFull = map[string]string{review.LicenceCC0: "public.licence-cc0", review.LicenceBY: "public.licence-by", review.LicenceBYSA: "public.licence-by-sa",
	review.LicenceBYNC: "public.licence-by-nc", review.LicenceBYNCSA: "public.licence-by-nc-sa", review.RightsReserved: "public.reserved"}

// licenceChoices begin with none: which rights are given away is nobody's default.
func licenceChoices(ctx context.Context, licences []string) []Choice {
	choices := []Choice{{Label: words.T(ctx, "public.licence-choose")}}
	for _, iri := range licences {
		choices = append(choices, Choice{Value: iri, Label: words.T(ctx, licenceInFull[iri])})
	}
	return choices
}

func sideChoices(ctx context.Context) (choices []Choice) {
	for _, side := range []int{review.SidePublic, 800, review.SideLarge} {
		choices = append(choices, Choice{Value: itoa(side), Label: words.T(ctx, "public.pixels", "Side", words.Number(ctx, float64(side)))})
	}
	return choices
}

// anyShown says whether everybody may see a photo of the specimen.
func anyShown(s review.Specimen) bool { return len(publishChoices(s, true)) > 0 }

// numberOr is the number of a specimen in the catalogue, or that it has none.
func numberOr(ctx context.Context, number string) string {
	if number == "" {
		return words.T(ctx, "fields.seen-without-number")
	}
	return number
}
