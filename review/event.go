package review

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"revidit/review/judgement"
)

// Event is one change, never altered after it was written. Streams are "specimen/ID", "submission/ID", "policy", "tables/GROUP" and
// "cell-proposal/ID"; (Stream, Seq) is the key, Seq counts from 1 without gaps, and writing the same key twice is how a lost race shows.
type Event struct {
	Stream string    `json:"stream"`
	Seq    int       `json:"seq"`
	At     time.Time `json:"at"`    // UTC, whole microseconds
	Actor  string    `json:"actor"` // person id
	Role   Role      `json:"role"`  // the actor's at the time
	Change Change    `json:"change"`
}

// Change is what an event changed: one of the types below.
type Change interface {
	// EventKind is the name under which the change is stored.
	EventKind() string
}

// SpecimenStream is the stream of a specimen.
func SpecimenStream(id string) string { return "specimen/" + id }

// SubmissionStream is the stream of a submission.
func SubmissionStream(id string) string { return "submission/" + id }

// PolicyStream is the one stream of the club's policy.
const PolicyStream = "policy"

// Changes of a specimen.
type (
	// SpecimenRegistered begins a specimen.
	SpecimenRegistered struct {
		ID          string      `json:"id"`
		Label       Label       `json:"label"`
		Withholding Withholding `json:"seal"`
	}
	// LabelCorrected replaces the label data; the former stay readable in the events.
	LabelCorrected struct {
		Label       Label       `json:"label"`
		Withholding Withholding `json:"seal"`
		Reason      string      `json:"reason"`
	}
	// PhotosAdded adds photos; one with a known id replaces it (its view was corrected in a draft).
	PhotosAdded struct {
		Photos []Photo `json:"photos"`
	}
	// ObservationsRecorded adds observations.
	ObservationsRecorded struct {
		Observations []Observation `json:"observations"`
	}
	// ObservationWithdrawn: its observer takes an observation back.
	ObservationWithdrawn struct {
		Observation string `json:"observation"`
		Reason      string `json:"reason"`
		// Discard: it stood in a draft alone and leaves the specimen; otherwise it stays readable.
		Discard bool `json:"discard,omitempty"`
	}
)

// Changes of a submission.
type (
	// Drafted begins a submission.
	Drafted struct {
		ID string `json:"id"`
		Proposal
		Follows string `json:"follows,omitempty"`
	}
	// Revised replaces the content of a draft.
	Revised struct{ Proposal }
	// Submitted puts a draft before reviewers, and throws the dice for who looks blind first.
	Submitted struct {
		Draw *Draw `json:"draw,omitempty"`
		// Series is the beginner's series that it becomes part of: then nobody looks blind.
		Series string `json:"series,omitempty"`
	}
	// Held keeps it for one reviewer.
	Held struct {
		Until time.Time `json:"until"`
	}
	// HoldEnded ends a hold early.
	HoldEnded struct{}
	// HoldPassedOn: who keeps accounts has given what somebody held to somebody else, who may review it.
	HoldPassedOn struct {
		To     string    `json:"to"`
		Until  time.Time `json:"until"`
		Reason string    `json:"reason"`
	}
	// VerdictsGiven are one reviewer's verdicts of one sitting.
	VerdictsGiven struct {
		Verdicts []Verdict `json:"verdicts"`
	}
	// OpinionGiven is a reviewer's opinion on the name.
	OpinionGiven struct {
		Opinion Opinion `json:"opinion"`
	}
	// Replied is a written reason why a contradiction does not stand.
	Replied struct {
		Reply Reply `json:"reply"`
	}
	// Returned asks the owner for something.
	Returned struct {
		Return Return `json:"return"`
	}
	// Answered is the owner's answer; new evidence stands in the specimen's events.
	Answered struct {
		Answer Answer `json:"answer"`
	}
	// Assessed is what the service computed, with the versions it computed from.
	Assessed struct {
		Assessment judgement.Assessment `json:"assessment"`
		// Gain is what one more look is expected to tell, in bits: the queue orders by it. Gains are those of the regions of
		// the body, the best first. They count what reviewers said, and are told to nobody who has not looked.
		Gain  float64      `json:"gain"`
		Gains []RegionGain `json:"gains,omitempty"`
		// Machine is the type of the machine that computed it (GOARCH), on which the last digits depend; empty in events of a time
		// that did not note it.
		Machine string `json:"machine,omitempty"`
	}
	// Confirmed: the submission has settled.
	Confirmed struct {
		Settlement Settlement `json:"settlement"`
	}
	// Redetermined: another determination follows.
	Redetermined struct {
		FollowedBy string `json:"followed_by"` // submission id
		Family     string `json:"family"`
		Reason     string `json:"reason"`
	}
	// Undetermined: it cannot be named at the rank of the tables (Indet), and why.
	Undetermined struct {
		Reason string `json:"reason"`
	}
	// Withdrawn: the owner takes it back.
	Withdrawn struct {
		Reason string `json:"reason"`
	}
	// Reopened by a curator.
	Reopened struct {
		Reason string `json:"reason"`
		// Reassessment is the key of what a curator picked it from; empty: it was picked by itself.
		Reassessment string `json:"reassessment,omitempty"`
	}
)

// Proposal is the content of a draft.
type Proposal struct {
	Group         string        `json:"group"`
	Specimen      string        `json:"specimen"`
	Determination Determination `json:"determination"`
	Cites         []string      `json:"cites"`
	Photos        []string      `json:"photos"`
	Remarks       string        `json:"remarks,omitempty"`
	Wider         []WiderAnswer `json:"wider,omitempty"`
	Unseen        []Unseen      `json:"unseen,omitempty"`
}

// PolicySet puts a new policy in force.
type PolicySet struct {
	Policy Policy `json:"policy"`
}

func (*SpecimenRegistered) EventKind() string   { return "specimen-registered" }
func (*LabelCorrected) EventKind() string       { return "label-corrected" }
func (*PhotosAdded) EventKind() string          { return "photos-added" }
func (*ObservationsRecorded) EventKind() string { return "observations-recorded" }
func (*ObservationWithdrawn) EventKind() string { return "observation-withdrawn" }
func (*Drafted) EventKind() string              { return "drafted" }
func (*Revised) EventKind() string              { return "revised" }
func (*Submitted) EventKind() string            { return "submitted" }
func (*Held) EventKind() string                 { return "held" }
func (*HoldEnded) EventKind() string            { return "released" }
func (*HoldPassedOn) EventKind() string         { return "hold-passed-on" }
func (*VerdictsGiven) EventKind() string        { return "verdicts-given" }
func (*OpinionGiven) EventKind() string         { return "opinion-given" }
func (*Replied) EventKind() string              { return "replied" }
func (*Returned) EventKind() string             { return "returned" }
func (*Answered) EventKind() string             { return "answered" }
func (*Assessed) EventKind() string             { return "assessed" }
func (*Confirmed) EventKind() string            { return "confirmed" }
func (*Redetermined) EventKind() string         { return "redetermined" }
func (*Undetermined) EventKind() string         { return "undetermined" }
func (*Withdrawn) EventKind() string            { return "withdrawn" }
func (*Reopened) EventKind() string             { return "reopened" }
func (*PolicySet) EventKind() string            { return "policy-set" }

var newChange = map[string]func() Change{} // by kind; filled by the files that declare changes

func init() {
	for _, make := range []func() Change{
		func() Change { return &SpecimenRegistered{} }, func() Change { return &LabelCorrected{} },
		func() Change { return &PhotosAdded{} }, func() Change { return &ObservationsRecorded{} },
		func() Change { return &ObservationWithdrawn{} }, func() Change { return &Drafted{} },
		func() Change { return &Revised{} }, func() Change { return &Submitted{} },
		func() Change { return &Held{} }, func() Change { return &HoldEnded{} }, func() Change { return &HoldPassedOn{} },
		func() Change { return &VerdictsGiven{} }, func() Change { return &OpinionGiven{} },
		func() Change { return &Replied{} }, func() Change { return &Returned{} },
		func() Change { return &Answered{} }, func() Change { return &Assessed{} },
		func() Change { return &Confirmed{} }, func() Change { return &Redetermined{} },
		func() Change { return &Undetermined{} }, func() Change { return &Withdrawn{} },
		func() Change { return &Reopened{} }, func() Change { return &PolicySet{} },
	} {
		newChange[make().EventKind()] = make
	}
}

// EventKinds are all kinds of changes, in the order of their names.
func EventKinds() []string { return slices.Sorted(maps.Keys(newChange)) }

// NewChange is an empty change of a kind; nil where there is none.
func NewChange(kind string) Change {
	if make, ok := newChange[kind]; ok {
		return make()
	}
	return nil
}

// EncodeChange returns the kind and the JSON text under which a change is stored. It refuses whole numbers that no IEEE 754 double
// is: the signed line of an event has its numbers as doubles (RFC 8785, 3.2.2.3), and two of these beyond 2^53 may be the same. Such a number is
// stored as text.
func EncodeChange(c Change) (kind, data string, err error) {
	text, err := json.Marshal(c)
	if err == nil {
		err = checkWholeNumbers(text)
	}
	if err != nil {
		return "", "", fmt.Errorf("encode %s: %w", c.EventKind(), err)
	}
	return c.EventKind(), string(text), nil
}

// checkWholeNumbers refuses JSON that has a whole number which no double is. One with a fraction or an exponent is a double already.
func checkWholeNumbers(text []byte) error {
	const fewestDigits = 16 // of 2^53
	for at := 0; at < len(text); at++ {
		switch c := text[at]; {
		case c == '"':
			for at++; text[at] != '"'; at++ {
				if text[at] == '\\' {
					at++
				}
			}
		case '0' <= c && c <= '9':
			begin := at
			for at < len(text) && strings.IndexByte("0123456789.eE+-", text[at]) >= 0 {
				at++
			}
			number := string(text[begin:at])
			at--
			if len(number) < fewestDigits || strings.ContainsAny(number, ".eE") {
				continue
			}
			if double, err := strconv.ParseFloat(number, 64); err != nil || strconv.FormatFloat(double, 'f', -1, 64) != number {
				return fmt.Errorf("the whole number %s has more digits than a double holds; it has to be stored as text", number)
			}
		}
	}
	return nil
}

// DecodeChange is the inverse of EncodeChange. An unknown kind or field is an error: it was written by a newer program.
func DecodeChange(kind, data string) (Change, error) {
	make, ok := newChange[kind]
	if !ok {
		return nil, fmt.Errorf("unknown event kind %q: was it written by a newer version?", kind)
	}
	change := make()
	decoder := json.NewDecoder(bytes.NewReader([]byte(data)))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(change); err != nil {
		return nil, fmt.Errorf("decode %s: %w", kind, err)
	}
	return change, nil
}

// WithoutDraw leaves out the dice, by which one could work out who is to look blind.
func (c *Submitted) WithoutDraw() Change { return &Submitted{Series: c.Series} }
