package review

import (
	"encoding/json"
	"fmt"
	"time"
)

// FoundKind says what a Found tells.
type FoundKind string

const (
	FoundAgreement   FoundKind = "agreement"
	FoundCalibration FoundKind = "calibration"
	FoundRefit       FoundKind = "refit"   // only while one is under way: what is stored of it is a Reliability
	FoundPreview     FoundKind = "preview" // key: the change that was asked about
	FoundDoubts      FoundKind = "doubts"  // key: the tables in force
	// FoundReassessment is what other tables, another policy or another reliability would do to all settled determinations: its
	// body is a Reassessment, its key that of what was asked.
	FoundReassessment FoundKind = "reassessment"
	// FoundReassessed says with which tables all that waits was last assessed: its body is their hash.
	FoundReassessed FoundKind = "reassessed"
	// FoundSwept says when photo files were last swept, and FoundExpired when what is past its time was last removed. They
	// are of no group, and hold counts for those who look into the database.
	FoundSwept   FoundKind = "swept"
	FoundExpired FoundKind = "expired"
	// FoundCompleted says when photos of before were last looked for that lack a copy or a look; of no group, with counts.
	FoundCompleted FoundKind = "photos-completed"
	// FoundChecked says what the last check of the database has found: its body is a Checked.
	FoundChecked FoundKind = "checked"
	// FoundSent says which checkpoint was last brought outside the database: its body is a Sent.
	FoundSent FoundKind = "sent"
)

// Checked is what a check of the database has found.
type Checked struct {
	At    time.Time `json:"at"`
	Parts int       `json:"parts"` // tables; 0: a database that sees to itself
	// Damages are the first ones that were found. Problems are the same in words, which the API fills in; checks of before codes left them in English.
	Damages  []Coded  `json:"damages,omitempty" doc:"What was found, the first ones: found-part (with what the database itself says), found-damaged, found-trigger, found-tree, found-hashes, found-gone or found-altered"`
	Problems []string `json:"problems,omitempty" doc:"damages, in words"`
	// Held is up to which position events were held against what was signed, and Whole when that was last done from the first one on.
	Held  int64     `json:"held,omitempty"`
	Whole time.Time `json:"whole,omitzero"`
	// Remade are assessments of past moments, taken by chance, that were computed again and are equal to what was stored then; Kept
	// are those that could not be, for lack of their tables or because of another method or machine. Otherwise names those that come
	// out as something else, in words as Problems are.
	Remade    int      `json:"remade,omitempty"`
	Kept      int      `json:"kept,omitempty"`
	Otherwise []Coded  `json:"otherwise,omitempty" doc:"Assessments that come out otherwise than they were stored: found-otherwise, or found-unmade where something of theirs cannot be read"`
	Differs   []string `json:"differs,omitempty" doc:"otherwise, in words"`
}

// Sound says whether a check has found nothing wrong with what is stored.
func (c Checked) Sound() bool { return len(c.Damages)+len(c.Problems) == 0 }

// Found is what a walk through a collection has found: a dated copy that pages read, and that can be made anew at any time.
type Found struct {
	Kind  FoundKind
	Group string
	Key   string // which of the kind
	// TouchedAt is when a slice of a walk last stored something.
	TouchedAt time.Time
	// Partial is what a walk under way has found so far, in JSON that the walk alone understands; nil where none is.
	Partial json.RawMessage
	Made    *Making // nil where none was made yet
	// Body is what was found, in JSON; nil where none was made yet.
	Body json.RawMessage
}

// DecodePartial reads what a walk under way has found so far, and is an error where that is not stored.
func (f *Found) DecodePartial(into any) error {
	if err := json.Unmarshal(f.Partial, into); err != nil {
		return fmt.Errorf("decode what was found so far of %s of %s: %w", f.Kind, f.Group, err)
	}
	return nil
}

// Making is how a Found was made.
type Making struct {
	At time.Time
	// Took is the time that it took, without what lay between slices.
	Took time.Duration
	// Peak is the most memory that the program had in use meanwhile, for whatever reason, in bytes.
	Peak int64
}

// Decode reads the body; a KindNotFound error where there is none.
func (f *Found) Decode(into any) error {
	if f.Body == nil {
		return Errorf(KindNotFound, "This was not worked out yet.")
	}
	if err := json.Unmarshal(f.Body, into); err != nil {
		return fmt.Errorf("decode %s of %s: %w", f.Kind, f.Group, err)
	}
	return nil
}
