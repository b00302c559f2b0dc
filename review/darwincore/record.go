package darwincore

import (
	"sync"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"

	"revidit/review"
)

// Options are what a curator chooses for an archive.
type Options struct {
	Title        string `json:"title" doc:"Title of the whole"`
	Organization string `json:"organization" doc:"Who hands it over"`
	Contact      string `json:"contact,omitempty" doc:"Address for questions: e-mail"`
	License      string `json:"license" doc:"IRI of the licence"`
	RightsHolder string `json:"rights_holder,omitempty"`
	Institution  string `json:"institution,omitempty" doc:"dwc:institutionCode"`
	Collection   string `json:"collection,omitempty" doc:"dwc:collectionCode"`
	Collectors   bool   `json:"collectors,omitempty" doc:"Name collectors"`
	Media        bool   `json:"media,omitempty" doc:"Describe photos and their regions"`
	Unsettled    bool   `json:"unsettled,omitempty" doc:"Also specimens of which no name is settled"`
	// Places is the club's rule in force.
	Places review.Places `json:"-"`
}

// Licences are those that an archive may be handed over under, by their IRIs.
var Licences = []string{review.LicenceCC0, review.LicenceBY, review.LicenceBYNC}

// Record is all of one specimen that may leave the house.
type Record struct {
	Specimen    review.ExtractedSpecimen
	Withheld    *review.Withheld // nil: there is none, or it was erased
	Submissions []review.ExtractedSubmission
}

// Higher are the taxa above a family; what is not known is empty.
type Higher struct{ Kingdom, Phylum, Class, Order string }

// Book tells what stands elsewhere than in a record.
type Book interface {
	// Person is the name of somebody, empty where it was erased.
	Person(id string) string
	// Higher is of a family, or of a taxon above; rank is that of the names that the tables judge where it is of a group of theirs.
	Higher(taxon string) Higher
	// Group is the taxon that the tables of a group are about, and the rank of the names in it.
	Group(id string) (taxon, rank string)
	// View is what a view shows, in words of Audiovisual Core.
	View(view string) (part, orientation string)
}

const urn = "urn:uuid:"

// occurrenceID never changes: what came from elsewhere keeps what it had there.
func occurrenceID(s *review.ExtractedSpecimen) string {
	if s.Origin != nil && s.Origin.Source != "" {
		return s.Origin.Source
	}
	return urn + s.ID
}

// countryCodes are the codes of ISO 3166-1 (alpha-2) by names in English and German, as Unicode CLDR has them.
var countryCodes = sync.OnceValue(func() map[string]string {
	codes := map[string]string{}
	names := []display.Namer{display.Regions(language.English), display.Regions(language.German)}
	for a := 'A'; a <= 'Z'; a++ {
		for b := 'A'; b <= 'Z'; b++ {
			region, err := language.ParseRegion(string(a) + string(b))
			if err != nil || !region.IsCountry() || region.Canonicalize() != region {
				continue
			}
			for _, n := range names {
				if name := n.Name(region); name != "" {
					codes[name] = region.String()
				}
			}
			codes[region.String()] = region.String()
		}
	}
	return codes
})
