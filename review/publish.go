package review

import (
	"cmp"
	"slices"
	"strings"
	"time"
)

// Licences under which photos are published, by their IRIs. Of all but the last one anybody may use the photo as it says.
const (
	LicenceCC0    = "https://creativecommons.org/publicdomain/zero/1.0/"
	LicenceBY     = "https://creativecommons.org/licenses/by/4.0/"
	LicenceBYSA   = "https://creativecommons.org/licenses/by-sa/4.0/"
	LicenceBYNC   = "https://creativecommons.org/licenses/by-nc/4.0/"
	LicenceBYNCSA = "https://creativecommons.org/licenses/by-nc-sa/4.0/"
	// RightsReserved: all rights reserved; the holder has permitted that the club shows it (RightsStatements.org, In Copyright).
	RightsReserved = "https://rightsstatements.org/vocab/InC/1.0/"
)

// Licences are all of them, in the order in which they are offered.
var Licences = []string{LicenceCC0, LicenceBY, LicenceBYSA, LicenceBYNC, LicenceBYNCSA, RightsReserved}

// Long sides in pixels that a published photo may have at most. Larger ones than the usual stand for a licence that gives more away.
const (
	SidePublic = 1600
	SideLarge  = 3200
)

// PublicSides are those that can be chosen, the smallest first.
var PublicSides = []int{800, SidePublic, SideLarge}

// PublishForm is how a curator lets photos of a specimen be seen by everybody.
type PublishForm struct {
	Photos  []string `json:"photos" nullable:"false" minItems:"1" maxItems:"50" doc:"Ids of photos of the specimen"`
	Licence string   `json:"license" enum:"https://creativecommons.org/publicdomain/zero/1.0/,https://creativecommons.org/licenses/by/4.0/,https://creativecommons.org/licenses/by-sa/4.0/,https://creativecommons.org/licenses/by-nc/4.0/,https://creativecommons.org/licenses/by-nc-sa/4.0/,https://rightsstatements.org/vocab/InC/1.0/" doc:"IRI of the licence"`
	Holder  string   `json:"holder" minLength:"1" maxLength:"200" doc:"Who holds the rights, as it is to stand beside the photo"`
	// Side is 0 for SidePublic.
	Side   int    `json:"side,omitempty" enum:"0,800,1600,3200" doc:"Largest long side in pixels, 1600 if left out; 3200 needs a licence that lets others use the photo"`
	Reason string `json:"reason" minLength:"1" maxLength:"2000" doc:"Why, and who agreed"`
}

// UnpublishForm takes published photos back.
type UnpublishForm struct {
	Photos []string `json:"photos" nullable:"false" minItems:"1" maxItems:"50" doc:"Ids of published photos of the specimen"`
	Reason string   `json:"reason" minLength:"1" maxLength:"2000"`
}

// PublicCopy is the JPEG that everybody may see of a photo.
type PublicCopy struct {
	Photo  string `json:"photo"`
	SHA256 string `json:"sha256"` // of its bytes
	Width  int    `json:"width"`
	Height int    `json:"height"`
}

// Publication is what a photo is published as.
type Publication struct {
	PublicCopy
	Licence string    `json:"license"`
	Holder  string    `json:"holder"`
	Side    int       `json:"side"` // that was chosen; the copy may be smaller
	By      string    `json:"by"`
	At      time.Time `json:"at"`
}

// Changes of what everybody may see of a specimen.
type (
	// PhotosPublished: a curator lets everybody see photos.
	PhotosPublished struct {
		Copies  []PublicCopy `json:"copies"`
		Licence string       `json:"license"`
		Holder  string       `json:"holder"`
		Side    int          `json:"side"`
		Reason  string       `json:"reason"`
	}
	// PhotosUnpublished: a curator takes photos back from the public.
	PhotosUnpublished struct {
		Photos []string `json:"photos"`
		Reason string   `json:"reason"`
	}
)

func (*PhotosPublished) EventKind() string   { return "photos-published" }
func (*PhotosUnpublished) EventKind() string { return "photos-unpublished" }

func init() {
	newChange["photos-published"] = func() Change { return &PhotosPublished{} }
	newChange["photos-unpublished"] = func() Change { return &PhotosUnpublished{} }
}

func (s *Specimen) publish(e Event, c *PhotosPublished) {
	s.Photos = slices.Clone(s.Photos)
	for i := range s.Photos {
		at := slices.IndexFunc(c.Copies, func(known PublicCopy) bool { return known.Photo == s.Photos[i].ID })
		if at >= 0 {
			s.Photos[i].Published = &Publication{PublicCopy: c.Copies[at], Licence: c.Licence, Holder: c.Holder, Side: c.Side, By: e.Actor, At: e.At}
		}
	}
}

func (s *Specimen) unpublish(photos []string) {
	s.Photos = slices.Clone(s.Photos)
	for i := range s.Photos {
		if slices.Contains(photos, s.Photos[i].ID) {
			s.Photos[i].Published = nil
		}
	}
}

// CheckPublish says whether a curator may publish photos of a specimen so, and returns the form as it is to be stored. submissions are all
// of the specimen.
func CheckPublish(m Moment, s *Specimen, submissions []Submission, form PublishForm) (PublishForm, error) {
	if !May(m.Actor, ActPublish, "") {
		return form, Forbidden(m.Actor, ActPublish, "")
	}
	form.Holder, form.Reason, form.Side = strings.TrimSpace(form.Holder), strings.TrimSpace(form.Reason), cmp.Or(form.Side, SidePublic)
	form.Photos = slices.Compact(slices.Sorted(slices.Values(form.Photos)))
	var p Problems
	if len(form.Photos) == 0 {
		p.Addf("photos", "choose at least one photo")
	}
	for _, id := range form.Photos {
		photo, ok := s.Photo(id)
		switch {
		case !ok || !inOpened(submissions, id):
			p.Addf("photos", "photo %s is none of this specimen, or was not submitted yet", id)
		case photo.View == ViewOfLabels:
			p.Addf("photos", "a photo of the labels tells the exact place and is not published")
		}
	}
	if !slices.Contains(Licences, form.Licence) {
		p.Addf("license", "choose one of the licences that are offered")
	}
	if !slices.Contains(PublicSides, form.Side) {
		p.Addf("side", "must be 800, 1600 or 3200 pixels")
	}
	if form.Side > SidePublic && form.Licence == RightsReserved {
		p.Addf("side", "above 1600 pixels needs a licence that lets others use the photo")
	}
	CheckText(&p, "holder", form.Holder, 1, 200)
	CheckText(&p, "reason", form.Reason, 1, MaxNote)
	if s.Undone() {
		p.Addf("photos", "the intake that brought this specimen was undone: it leaves the house no more")
	}
	return form, p.Err()
}

func inOpened(submissions []Submission, photo string) bool {
	return slices.ContainsFunc(submissions, func(s Submission) bool { return s.OpenedAt != nil && slices.Contains(s.Photos, photo) })
}

// DecidePublish publishes photos as CheckPublish has let them pass, in copies of these bytes.
func DecidePublish(m Moment, s *Specimen, submissions []Submission, form PublishForm, copies []PublicCopy) (Change, error) {
	form, err := CheckPublish(m, s, submissions, form)
	if err != nil {
		return nil, err
	}
	return &PhotosPublished{Copies: copies, Licence: form.Licence, Holder: form.Holder, Side: form.Side, Reason: form.Reason}, nil
}

// DecideUnpublish takes published photos back. Those that are not published stay as they are; none of them is an error.
func DecideUnpublish(m Moment, s *Specimen, form UnpublishForm) (Change, error) {
	if !May(m.Actor, ActPublish, "") {
		return nil, Forbidden(m.Actor, ActPublish, "")
	}
	form.Reason = strings.TrimSpace(form.Reason)
	var p Problems
	var published []string
	for _, photo := range s.Photos {
		if photo.Published != nil && slices.Contains(form.Photos, photo.ID) {
			published = append(published, photo.ID)
		}
	}
	if len(published) == 0 {
		p.Addf("photos", "choose at least one photo that is published")
	}
	CheckText(&p, "reason", form.Reason, 1, MaxNote)
	if err := p.Err(); err != nil {
		return nil, err
	}
	return &PhotosUnpublished{Photos: published, Reason: form.Reason}, nil
}

// PublicPlace is where a specimen was collected, as coarse as the club's rule has it.
type PublicPlace struct {
	Country  string       `json:"country,omitempty"`
	Province string       `json:"province,omitempty"`
	Point    *CoarsePoint `json:"point,omitempty"`
	Grid     Grid         `json:"grid"`
	Withheld bool         `json:"withheld"` // more is known than is told
}

// PublicSpecimen is what everybody may see of a specimen. It names nobody but who holds the rights.
type PublicSpecimen struct {
	ID              string
	Group           string // of its tables; empty where none is known
	CatalogueNumber string
	// Determination is that on which reviewers have settled last; nil where none has.
	Determination *Determination
	// Undeterminable: it was settled that it cannot be named at the rank of the tables.
	Undeterminable bool
	Place          PublicPlace
	CollectedFrom  string
	CollectedTo    string
	Sex, Stage     string
	Photos         []Photo // published ones
	// Marked are observations that mark a region of one of Photos, and rest in submissions that are closed.
	Marked []Observation
}

// MarkedOn are the observations on a photo.
func (p *PublicSpecimen) MarkedOn(photo string) (marked []Observation) {
	for _, o := range p.Marked {
		if o.Photo == photo {
			marked = append(marked, o)
		}
	}
	return marked
}

// PublicView is a specimen for everybody; false where nothing of it is published. What somebody might yet be asked to look at blind, the
// name and the states of a specimen of which any submission is open, is left out. withheld is nil where there is none.
func PublicView(s *Specimen, submissions []Submission, withheld *Withheld, places Places) (PublicSpecimen, bool) {
	v := PublicSpecimen{ID: s.ID, CatalogueNumber: s.Label.CatalogueNumber, CollectedFrom: s.Label.CollectedFrom, CollectedTo: s.Label.CollectedTo, Sex: s.Label.Sex, Stage: s.Label.Stage}
	for _, p := range s.Photos {
		if p.Shown() && !s.Undone() && inOpened(submissions, p.ID) {
			v.Photos = append(v.Photos, p)
		}
	}
	if len(v.Photos) == 0 {
		return PublicSpecimen{}, false
	}
	v.settled(submissions)
	v.marked(s, submissions)
	v.Place = publicPlace(s, submissions, withheld, places)
	return v, true
}

// Shown says whether everybody may see the photo: it is published, and does not show the labels.
func (p *Photo) Shown() bool { return p.Published != nil && p.View != ViewOfLabels }

// underReview says whether anything of the specimen is before reviewers.
func underReview(submissions []Submission) bool {
	return slices.ContainsFunc(submissions, func(s Submission) bool { return s.Status == StatusOpen || s.Status == StatusReturned })
}

func (p *PublicSpecimen) settled(submissions []Submission) {
	var last *Submission
	for i := range submissions {
		s := &submissions[i]
		if s.OpenedAt != nil {
			p.Group = s.Group
		}
		if (s.Status == StatusConfirmed || s.Status == StatusUndetermined) && s.ClosedAt != nil && (last == nil || s.ClosedAt.After(*last.ClosedAt)) {
			last = s
		}
	}
	if last == nil || underReview(submissions) {
		return
	}
	p.Group = last.Group
	if last.Status == StatusUndetermined {
		p.Undeterminable = true
		return
	}
	d := last.Determination
	d.Determiner = "" // names nobody
	p.Determination = &d
}

func (p *PublicSpecimen) marked(s *Specimen, submissions []Submission) {
	if underReview(submissions) {
		return
	}
	cited := map[string]bool{}
	for i := range submissions {
		if submissions[i].Closed() && submissions[i].Status != StatusWithdrawn && submissions[i].OpenedAt != nil {
			for _, id := range submissions[i].Cites {
				cited[id] = true
			}
		}
	}
	for _, o := range s.Observations {
		shown := slices.ContainsFunc(p.Photos, func(photo Photo) bool { return photo.ID == o.Photo })
		if shown && o.Region != nil && o.Withdrawn == "" && cited[o.ID] {
			p.Marked = append(p.Marked, o)
		}
	}
}

// publicPlace goes by all names that the specimen ever had, so that a doubtful one does not open what another protects.
func publicPlace(s *Specimen, submissions []Submission, w *Withheld, places Places) PublicPlace {
	var names []string
	for i := range submissions {
		if submissions[i].OpenedAt != nil {
			names = append(names, submissions[i].Determination.Family, submissions[i].Determination.ScientificName)
		}
	}
	for i := range s.Slips {
		names = append(names, s.Slips[i].Family, s.Slips[i].Name)
	}
	place := PublicPlace{Country: s.Label.Country, Province: s.Label.Province, Grid: places.Of(names...), Withheld: s.Withholding.ID != ""}
	if w == nil || w.Latitude == nil || w.Longitude == nil || place.Grid == GridNone {
		return place
	}
	point := place.Grid.Coarsen(*w.Latitude, *w.Longitude, w.UncertaintyM)
	place.Point = &point
	return place
}
