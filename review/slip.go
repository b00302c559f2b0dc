package review

import (
	"slices"
	"strings"
	"time"
)

// Slip is a determination that was made before its specimen came here, as whoever held it told of it: it is kept and shown, and
// nothing of it is judged here, so that its name may be of any rank and of no table.
type Slip struct {
	// ID is the identifier that it came with, or one of ours where it came without.
	ID string `json:"id"`
	// Name is the name alone, without words of doubt; empty where only Wording is known.
	Name   string `json:"name,omitempty"`
	Rank   string `json:"rank,omitempty"` // as it was told, such as species
	Family string `json:"family,omitempty"`
	// Qualifier is the doubt with the part of the name that it is about, as in "cf. lineatus"; Formula the pattern of both.
	Qualifier string `json:"qualifier,omitempty"`
	Formula   string `json:"formula,omitempty"`
	// Determiners are person ids, in the order of the slip.
	Determiners  []string `json:"determiners,omitempty"`
	DeterminedOn string   `json:"determined_on,omitempty"` // day, month or year
	// Wording is the name as it was written, letter for letter.
	Wording string `json:"wording,omitempty"`
	// Verification is a level of HISPID 3, "0" to "4"; empty where it is not known.
	Verification string `json:"verification,omitempty"`
	TypeStatus   string `json:"type_status,omitempty"`
	Evidence     string `json:"evidence,omitempty"` // what it rests on (dwc:identificationType)
	References   string `json:"references,omitempty"`
	Remarks      string `json:"remarks,omitempty"`
	// Accepted: it was the preferred one where it comes from. One of a specimen's slips is.
	Accepted bool `json:"accepted,omitempty"`
}

// Described is a photo that stays elsewhere: what is known of it, and its regions.
type Described struct {
	ID          string            `json:"id"` // that it came with
	Address     string            `json:"address,omitempty"`
	SHA256      string            `json:"sha256,omitempty"`
	Type        string            `json:"type,omitempty"` // media type
	Width       int               `json:"width,omitempty"`
	Height      int               `json:"height,omitempty"`
	Part        string            `json:"part,omitempty"`        // word of Audiovisual Core's subjectPart
	Orientation string            `json:"orientation,omitempty"` // word of its subjectOrientation
	TakenOn     string            `json:"taken_on,omitempty"`
	License     string            `json:"license,omitempty"`
	Regions     []DescribedRegion `json:"regions,omitempty"`
}

// DescribedRegion is a rectangle on a photo that stays elsewhere, with what was seen there.
type DescribedRegion struct {
	ID string `json:"id"`
	Region
	Text string `json:"text,omitempty"`
}

// Origin is where a specimen was taken in from.
type Origin struct {
	Intake string `json:"intake"`
	File   string `json:"file,omitempty"`
	// Source is the identifier that it had there; whatever leaves the house keeps it.
	Source string `json:"source,omitempty"`
	// Rest is of what came with it and has no place here, kept word for word (IntakeRest).
	Rest Withholding `json:"rest,omitzero"`
	// Undone says why the intake was undone; the specimen then stays readable and leaves the house no more.
	Undone string `json:"undone,omitempty"`
}

// VouchForm is what a curator vouches for, of one determination: no program says either by itself.
type VouchForm struct {
	// Determination is the id of a submission or a slip.
	Determination string `json:"determination" maxLength:"200" doc:"Id of a submission or of an earlier determination of the specimen"`
	// Verification is "3" (by somebody revising the group) or "4" (of the type gathering); empty for neither.
	Verification string `json:"verification,omitempty" enum:",3,4" doc:"Level of HISPID 3: 3 determined by somebody engaged in a revision of the group, 4 part of the type gathering"`
	TypeStatus   string `json:"type_status,omitempty" maxLength:"300" doc:"Nomenclatural type status, as in: holotype of NAME. CITATION (dwc:typeStatus)"`
	Reason       string `json:"reason" minLength:"1" maxLength:"2000" doc:"Why, and where it is written"`
}

// Vouching is what a curator has vouched for.
type Vouching struct {
	VouchForm
	By string    `json:"by"`
	At time.Time `json:"at"`
}

// Changes of a specimen that came from elsewhere.
type (
	// TakenIn follows the registration of a specimen from elsewhere, with what was known of it there.
	TakenIn struct {
		Intake    string      `json:"intake"`
		File      string      `json:"file,omitempty"`
		Source    string      `json:"source,omitempty"`
		Slips     []Slip      `json:"slips,omitempty"`
		Described []Described `json:"described,omitempty"`
		Rest      Withholding `json:"rest,omitzero"`
	}
	// TakenOut: the intake that brought it was undone.
	TakenOut struct {
		Reason string `json:"reason"`
	}
	// Vouched: a curator vouches for something of a determination.
	Vouched struct{ VouchForm }
)

func (*TakenIn) EventKind() string  { return "taken-in" }
func (*TakenOut) EventKind() string { return "taken-out" }
func (*Vouched) EventKind() string  { return "vouched" }

func init() {
	for _, make := range []func() Change{func() Change { return &TakenIn{} }, func() Change { return &TakenOut{} }, func() Change { return &Vouched{} }} {
		newChange[make().EventKind()] = make
	}
}

// Undone says whether the specimen came with an intake that was undone.
func (s *Specimen) Undone() bool { return s.Origin != nil && s.Origin.Undone != "" }

func (s *Specimen) vouch(v Vouching) {
	s.Vouchings = slices.DeleteFunc(slices.Clone(s.Vouchings), func(known Vouching) bool { return known.Determination == v.Determination })
	if v.Verification != "" || v.TypeStatus != "" {
		s.Vouchings = append(s.Vouchings, v)
	}
}

// DecideVouch lets a curator vouch for a level of verification or a type status of a determination of a specimen; with neither, what
// was vouched for is taken back. submissions are all of the specimen.
func DecideVouch(m Moment, s *Specimen, submissions []Submission, form VouchForm) (Change, error) {
	if !May(m.Actor, ActVouch, "") {
		return nil, Forbidden(m.Actor, ActVouch, "")
	}
	form.TypeStatus, form.Reason = strings.TrimSpace(form.TypeStatus), strings.TrimSpace(form.Reason)
	var p Problems
	known := slices.ContainsFunc(s.Slips, func(slip Slip) bool { return slip.ID == form.Determination }) ||
		slices.ContainsFunc(submissions, func(sub Submission) bool { return sub.ID == form.Determination && sub.OpenedAt != nil })
	if !known {
		p.Addf("determination", "is none of this specimen")
	}
	if form.Verification != "" && form.Verification != "3" && form.Verification != "4" {
		p.Addf("verification", "must be 3, 4 or empty")
	}
	CheckText(&p, "type_status", form.TypeStatus, 0, 300)
	CheckText(&p, "reason", form.Reason, 1, MaxNote)
	if err := p.Err(); err != nil {
		return nil, err
	}
	return &Vouched{VouchForm: form}, nil
}
