package review

import "time"

// Specimen is one pinned animal (or lot) with its label data, photos and observations. Observations belong to the
// specimen and determinations cite them, so that a redetermination never counts the same evidence twice.
type Specimen struct {
	ID           string        `json:"id"`
	Seq          int           `json:"seq"`   // sequence of its last event
	Owner        string        `json:"owner"` // person who registered it
	RegisteredAt time.Time     `json:"registered_at"`
	Label        Label         `json:"label"`
	Withholding  Withholding   `json:"seal"` // of the Withheld part
	Photos       []Photo       `json:"photos"`
	Observations []Observation `json:"observations"`
	// Origin is where it was taken in from; nil of what was registered here.
	Origin *Origin `json:"origin,omitempty"`
	// Slips are determinations that were made before it came here.
	Slips []Slip `json:"slips,omitempty"`
	// Described are photos that stay elsewhere, of which only a description came here.
	Described []Described `json:"described,omitempty"`
	// Vouchings are what curators vouch for, the latest of each determination.
	Vouchings []Vouching `json:"vouchings,omitempty"`
}

// Photo shows one view of a specimen. Bytes are kept under the SHA-256 of the original.
type Photo struct {
	ID     string    `json:"id"`
	View   string    `json:"view"` // id of a view of the group
	SHA256 string    `json:"sha256"`
	Type   string    `json:"type"` // media type of the original
	Width  int       `json:"width"`
	Height int       `json:"height"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	// Published is what everybody may see of it; nil: nothing.
	Published *Publication `json:"published,omitempty"`
}

// List is how a list of observations arose.
type List string

const (
	ListFree  List = "free"  // told as it struck the eye, before anything was asked: what is not in it tells something, too
	ListAsked List = "asked" // answers to questions, a form with all characters, an import
)

// Sureness is how sure an observer is of an observation.
type Sureness string

const (
	Sure       Sureness = "sure"
	FairlySure Sureness = "fairly-sure"
	Unsure     Sureness = "unsure"
)

// Observation is a state recorded on a specimen.
type Observation struct {
	ID        string   `json:"id"`
	Character string   `json:"character"`
	State     string   `json:"state"` // state id, whole number, or millimetres
	Sureness  Sureness `json:"sureness"`
	Photo     string   `json:"photo,omitempty"` // photo id
	Region    *Region  `json:"region,omitempty"`
	By        string   `json:"by"`
	// List is how the list arose that it stands in; "" is ListAsked.
	List List `json:"list,omitempty"`
	// Role is the observer's at the time: reliability starts from it.
	Role Role      `json:"role"`
	At   time.Time `json:"at"`
	// AfterHint: its observer had been told that another state of the character does not fit, before it was stated. It weighs as
	// agreement with what was shown, and tells nothing of the observer's eye.
	AfterHint bool `json:"after_hint,omitempty" doc:"Its observer had been told that another state of the character does not fit"`
	// Withdrawn says why its observer took it back; it stays readable and no longer counts.
	Withdrawn string `json:"withdrawn,omitempty"`
}

// Region is a rectangle on a photo in fractions of its width and height (Audiovisual Core xFrac, yFrac, widthFrac,
// heightFrac), origin at the top left.
type Region struct {
	X float64 `json:"x" minimum:"0" maximum:"1"`
	Y float64 `json:"y" minimum:"0" maximum:"1"`
	W float64 `json:"w" minimum:"0" maximum:"1"`
	H float64 `json:"h" minimum:"0" maximum:"1"`
}

// Photo returns the photo with that id, or false.
func (s *Specimen) Photo(id string) (Photo, bool) {
	for _, p := range s.Photos {
		if p.ID == id {
			return p, true
		}
	}
	return Photo{}, false
}

// Observation returns the observation with that id, or false.
func (s *Specimen) Observation(id string) (Observation, bool) {
	for _, o := range s.Observations {
		if o.ID == id {
			return o, true
		}
	}
	return Observation{}, false
}

func (o Observation) sameAs(form ObservationForm) bool {
	sureness := form.Sureness
	if sureness == "" {
		sureness = Sure
	}
	return o.Character == form.Character && o.State == form.State && o.Sureness == sureness && o.Photo == form.Photo &&
		(o.List == ListFree) == (form.List == ListFree) && sameRegion(o.Region, form.Region)
}

func sameRegion(a, b *Region) bool {
	if a == nil || b == nil {
		return a == b
	}
	return *a == *b
}
