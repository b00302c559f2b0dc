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
	Seal         Seal          `json:"seal"` // of the Withheld part
	Photos       []Photo       `json:"photos"`
	Observations []Observation `json:"observations"`
}

// Label is the part of the label data that everybody may read. Terms follow Darwin Core, named in the comments.
type Label struct {
	CatalogueNumber string `json:"catalogue_number" required:"false" maxLength:"60" doc:"Number of the specimen in its collection (dwc:catalogNumber)"`
	Country         string `json:"country,omitempty" maxLength:"80" doc:"dwc:country"`
	Province        string `json:"province,omitempty" maxLength:"120" doc:"State, canton, province (dwc:stateProvince)"`
	CollectedFrom   string `json:"collected_from,omitempty" maxLength:"10" doc:"Day, month or year: 2026-05-14, 2026-05 or 2026 (dwc:eventDate)"`
	CollectedTo     string `json:"collected_to,omitempty" maxLength:"10" doc:"End of a range, in the same form"`
	Trip            string `json:"trip,omitempty" maxLength:"120" doc:"Collecting trip or trap series (dwc:eventID)"`
	Method          string `json:"method,omitempty" maxLength:"120" doc:"dwc:samplingProtocol"`
	Habitat         string `json:"habitat,omitempty" maxLength:"300" doc:"dwc:habitat"`
	Sex             string `json:"sex,omitempty" enum:",male,female" doc:"dwc:sex; empty when not known"`
	Stage           string `json:"stage,omitempty" maxLength:"40" doc:"dwc:lifeStage"`
	Count           int    `json:"count,omitempty" minimum:"0" maximum:"10000" doc:"dwc:individualCount"`
	Preparation     string `json:"preparation,omitempty" maxLength:"120" doc:"dwc:preparations"`
	MissingParts    string `json:"missing_parts,omitempty" maxLength:"300" doc:"What has broken off"`
	StoragePlace    string `json:"storage_place,omitempty" maxLength:"120" doc:"Cabinet, drawer, box"`
}

// Withheld is the part of the label data that can endanger a population or name a person. It stands in an erasable
// table; events hold only its Seal.
type Withheld struct {
	VerbatimLabel string   `json:"verbatim_label,omitempty" maxLength:"2000" doc:"The label as it is written (dwc:verbatimLabel)"`
	Locality      string   `json:"locality,omitempty" maxLength:"300" doc:"dwc:locality"`
	Latitude      *float64 `json:"latitude,omitempty" minimum:"-90" maximum:"90" doc:"dwc:decimalLatitude, WGS 84"`
	Longitude     *float64 `json:"longitude,omitempty" minimum:"-180" maximum:"180" doc:"dwc:decimalLongitude, WGS 84"`
	UncertaintyM  *float64 `json:"uncertainty_m,omitempty" minimum:"0" maximum:"5000000" doc:"dwc:coordinateUncertaintyInMeters"`
	ElevationM    *float64 `json:"elevation_m,omitempty" minimum:"-500" maximum:"9000" doc:"Metres above sea level"`
	Collector     string   `json:"collector,omitempty" maxLength:"200" doc:"dwc:recordedBy"`
	Permit        string   `json:"permit,omitempty" maxLength:"200" doc:"Number of the collecting permit, where one was needed"`
}

// Seal ties events to withheld data without holding any: Digest is the SHA-256, in hex, of a random salt followed by
// the data as stored. When data and salt are erased the digest tells nothing.
type Seal struct {
	ID     string `json:"id,omitempty"`
	Digest string `json:"digest,omitempty"`
}

// SealedWithheld is a Withheld on its way into or out of the store. Body is the JSON text that was sealed.
type SealedWithheld struct {
	ID, Digest string
	Salt       []byte
	Body       string
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
}

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
	// Role is the observer's at the time: reliability starts from it.
	Role Role      `json:"role"`
	At   time.Time `json:"at"`
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
