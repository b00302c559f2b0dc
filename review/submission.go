package review

import (
	"cmp"
	"slices"
	"time"

	"revidit/review/judgement"
)

// Status is where a submission stands.
type Status string

const (
	// StatusDraft: being written by its owner, seen by nobody else. Entered by draft; left by submit or withdraw.
	StatusDraft Status = "draft"
	// StatusOpen: before reviewers. Entered by submit, answer and reopen; left by settlement, return, redetermine,
	// undetermine, withdraw.
	StatusOpen Status = "open"
	// StatusReturned: waits for its owner (a photo, the specimen, preparation). Entered by return; left by answer or
	// withdraw.
	StatusReturned Status = "returned"
	// StatusConfirmed: enough reviewers agree, the characters carry the name, nothing contradicts unanswered; or an
	// expert settled it on authority. Left by redetermine, or reopen (curator).
	StatusConfirmed Status = "confirmed"
	// StatusRedetermined: another determination of the same specimen has followed this one. Left by reopen (curator).
	StatusRedetermined Status = "redetermined"
	// StatusUndetermined: cannot be determined to family as it is (Indet). Left by reopen (curator).
	StatusUndetermined Status = "undetermined"
	// StatusWithdrawn: its owner took it back. Left by reopen (curator).
	StatusWithdrawn Status = "withdrawn"
)

// Statuses are all of them, in the order of a submission's life.
var Statuses = []Status{StatusDraft, StatusOpen, StatusReturned, StatusConfirmed, StatusRedetermined,
	StatusUndetermined, StatusWithdrawn}

// Valid says whether the status is one of Statuses.
func (s Status) Valid() bool {
	for _, known := range Statuses {
		if s == known {
			return true
		}
	}
	return false
}

// Submission puts one proposed determination of one specimen before reviewers.
type Submission struct {
	ID            string                `json:"id"`
	Seq           int                   `json:"seq"`   // sequence of its last event
	Group         string                `json:"group"` // of tables
	Specimen      string                `json:"specimen"`
	Owner         string                `json:"owner"` // person who submits
	Status        Status                `json:"status" enum:"draft,open,returned,confirmed,redetermined,undetermined,withdrawn"`
	Determination Determination         `json:"determination"`
	Cites         []string              `json:"cites"`  // observation ids
	Photos        []string              `json:"photos"` // photo ids
	Remarks       string                `json:"remarks,omitempty"`
	Wider         []WiderAnswer         `json:"wider,omitempty"`  // whether the specimen belongs to the group at all
	Unseen        []Unseen              `json:"unseen,omitempty"` // what its owner was asked for and could not state
	DraftedAt     time.Time             `json:"drafted_at"`
	ChangedAt     time.Time             `json:"changed_at"`
	OpenedAt      *time.Time            `json:"opened_at,omitempty"` // when it last came before reviewers
	ClosedAt      *time.Time            `json:"closed_at,omitempty"`
	Hold          *Hold                 `json:"hold,omitempty"`
	Verdicts      []Verdict             `json:"verdicts"` // the latest of each reviewer on each observation
	Opinions      []Opinion             `json:"opinions"` // the latest of each reviewer
	Returns       []Return              `json:"returns"`
	Replies       []Reply               `json:"replies"`
	Assessment    *judgement.Assessment `json:"assessment,omitempty"`
	// Gain is what one more look is expected to tell about the family, in bits, 0 to 1.
	Gain float64 `json:"gain"`
	// Gains are the same by region of the body, the best first.
	Gains      []RegionGain `json:"gains,omitempty"`
	Settlement *Settlement  `json:"settlement,omitempty"`
	Follows    string       `json:"follows,omitempty"`     // submission that this one redetermines
	FollowedBy string       `json:"followed_by,omitempty"` // submission that redetermines this one
	// Undeterminable says why it cannot be determined, while it is StatusUndetermined.
	Undeterminable string `json:"undeterminable,omitempty"`
	// UndeterminedBy is who said so; empty in rows of a time that did not note it.
	UndeterminedBy string `json:"undetermined_by,omitempty"`
	// Draw is the chance by which reviewers were picked to look blind; told to nobody.
	Draw  *Draw        `json:"draw,omitempty"`
	Blind []BlindCheck `json:"blind,omitempty"`
	// Opening is what the first assessment claimed.
	Opening Claim `json:"opening"`
	// Series is the beginner's series that it is part of: it goes to one mentor, without quorum or scores.
	Series  string   `json:"series,omitempty"`
	Recheck *Recheck `json:"recheck,omitempty"`
	// Audits are by whom, and why, what others said was opened without a verdict.
	Audits []Audit `json:"audits,omitempty"`
	// Upholding is the last one, while it is closed.
	Upholding *Upholding `json:"upholding,omitempty"`
	// Evidence counts how often there was something new to see: it came before reviewers, or was answered. What others
	// make of it is nothing new: else everybody's verdict would bring it back to everybody.
	Evidence int `json:"-"`
	// Saves counts how often a draft was saved that is a row (Draft) and has no events; 0: it has events.
	Saves int `json:"-"`
}

// NewEvidence says whether a change of a submission brings something new to see.
func NewEvidence(c Change) bool {
	switch c.(type) {
	case *Submitted, *Answered, *Reopened:
		return true
	}
	return false
}

// Judges says whether who makes a change has thereby judged the submission.
func Judges(c Change) bool {
	switch c.(type) {
	case *VerdictsGiven, *OpinionGiven:
		return true
	}
	return false
}

// Determination is a name given to a specimen by somebody on a date.
type Determination struct {
	Family string `json:"family"` // accepted name in the tables
	// AsGiven is the name as it was written where that is an old name of Family.
	AsGiven string `json:"as_given,omitempty"`
	// ScientificName is a genus or species where the determiner went further; it is not judged here.
	ScientificName string    `json:"scientific_name,omitempty"`
	Qualifier      Qualifier `json:"qualifier,omitempty"`
	// Doubted is the word before which cf. or aff. stands; empty: the whole name, of a time when that was not asked.
	Doubted      Rank   `json:"doubted,omitempty"`
	Determiner   string `json:"determiner"`    // person id
	DeterminedOn string `json:"determined_on"` // day, month or year; empty where the slip has no date
	// Wording is the name as it stands on an old slip, letter for letter.
	Wording string `json:"wording,omitempty"`
}

// Qualifier is the doubt written with a name.
type Qualifier string

const (
	QualifierNone  Qualifier = ""
	QualifierDoubt Qualifier = "?"    // at family rank
	QualifierCf    Qualifier = "cf."  // where a genus or species is named
	QualifierAff   Qualifier = "aff." // where a genus or species is named
)

// Hold keeps a submission for one reviewer until it runs out by itself.
type Hold struct {
	By    string    `json:"by"`
	Until time.Time `json:"until"`
}

// HeldByOther says whether somebody else than person holds the submission at that time.
func (s *Submission) HeldByOther(person string, now time.Time) bool {
	return s.Hold != nil && s.Hold.By != person && now.Before(s.Hold.Until)
}

// VerdictKind is what a reviewer says about one observation.
type VerdictKind string

const (
	VerdictConfirm     VerdictKind = "confirm"
	VerdictDispute     VerdictKind = "dispute"
	VerdictNotVisible  VerdictKind = "not-visible"  // not visible here
	VerdictPartMissing VerdictKind = "part-missing" // the part has broken off
	VerdictCannotJudge VerdictKind = "cannot-judge"
)

// VerdictKinds are all of them.
var VerdictKinds = []VerdictKind{VerdictConfirm, VerdictDispute, VerdictNotVisible, VerdictPartMissing, VerdictCannotJudge}

// Verdict is a reviewer's on one observation.
type Verdict struct {
	Observation string      `json:"observation"`
	Kind        VerdictKind `json:"kind"`
	Better      string      `json:"better,omitempty"` // the state that a dispute gives instead; empty: only "not this one"
	Note        string      `json:"note,omitempty"`
	By          string      `json:"by"`
	Role        Role        `json:"role"`
	At          time.Time   `json:"at"`
	// AfterOpening: it was given when the reviewer had been shown what others said of the specimen.
	AfterOpening bool `json:"after_opening,omitempty"`
}

// OpinionKind is what a reviewer says about the name.
type OpinionKind string

const (
	OpinionAgrees   OpinionKind = "agrees"    // prints conf. and down to which rank
	OpinionAnother  OpinionKind = "another"   // gives another family
	OpinionLeftOpen OpinionKind = "left-open" // has seen it and leaves the name open: vid., which prints no slip
)

// Basis is what an opinion rests on.
type Basis string

const (
	BasisSpecimen  Basis = "specimen"
	BasisPhotos    Basis = "photos"
	BasisDissected Basis = "dissected"
)

// Opinion is a reviewer's on the name. It never enters the confidence, which rests on characters.
type Opinion struct {
	Kind   OpinionKind `json:"kind"`
	Family string      `json:"family,omitempty"` // OpinionAnother only
	// Rank is that down to which it agrees; empty: that of the tables, of a time when nothing else was asked.
	Rank  Rank      `json:"rank,omitempty"`
	Basis Basis     `json:"basis"`
	Note  string    `json:"note,omitempty"`
	By    string    `json:"by"`
	At    time.Time `json:"at"`
	// AfterOpening: it was given when the reviewer had been shown what others said of the specimen, and is no voice of its own
	// for the quorum.
	AfterOpening bool `json:"after_opening,omitempty"`
	// ReleasedAt is since when its slip may be printed; nil: its reviewer has not released it.
	ReleasedAt *time.Time `json:"released_at,omitempty" doc:"Since when its slip may be printed; left out where its reviewer has not released it"`
}

// InHand says whether somebody who gave an opinion had the specimen itself before them.
func (s *Submission) InHand(person string) bool {
	return slices.ContainsFunc(s.Opinions, func(o Opinion) bool { return o.By == person && o.Basis.InHand() })
}

// InHand: the specimen itself was looked at.
func (b Basis) InHand() bool { return b == BasisSpecimen || b == BasisDissected }

// Want is what a return asks for.
type Want string

const (
	WantPhoto       Want = "photo"
	WantSpecimen    Want = "specimen"    // to a meeting or as a loan
	WantPreparation Want = "preparation" // clean, remount, dissect
)

// Return sends a submission back to its owner with a request.
type Return struct {
	ID       string    `json:"id"`
	Want     Want      `json:"want"`
	View     string    `json:"view,omitempty"` // WantPhoto: the view asked for
	Text     string    `json:"text"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
	Answers  []Answer  `json:"answers"`
	Answered bool      `json:"answered"`
}

// Answer is an owner's, to a return or on their own account.
type Answer struct {
	Text         string    `json:"text,omitempty"`
	Photos       []string  `json:"photos,omitempty"`       // ids, added to the specimen
	Observations []string  `json:"observations,omitempty"` // ids, added to the specimen
	Withdrawn    []string  `json:"withdrawn,omitempty"`    // ids of observations taken back
	SentOn       string    `json:"sent_on,omitempty"`      // the specimen itself: day sent
	ReceivedOn   string    `json:"received_on,omitempty"`  // and day received
	By           string    `json:"by"`
	At           time.Time `json:"at"`
}

// Reply is a written reason why a contradiction does not stand against the name.
type Reply struct {
	Kind      judgement.ContradictionKind `json:"kind"`
	Character string                      `json:"character"`
	State     string                      `json:"state"`
	Reason    string                      `json:"reason"`
	By        string                      `json:"by"`
	At        time.Time                   `json:"at"`
}

// Settlement is how a submission came to be confirmed.
type Settlement struct {
	OnAuthority bool      `json:"on_authority"`
	Reason      string    `json:"reason,omitempty"`
	Agreeing    []string  `json:"agreeing"` // persons
	Confidence  float64   `json:"confidence"`
	Policy      int       `json:"policy"` // version
	By          string    `json:"by"`
	At          time.Time `json:"at"`
}

// HasReviewed says whether a person has saved a verdict or an opinion on the submission.
func (s *Submission) HasReviewed(person string) bool {
	for _, v := range s.Verdicts {
		if v.By == person {
			return true
		}
	}
	for _, o := range s.Opinions {
		if o.By == person {
			return true
		}
	}
	return false
}

// Closed says whether the submission is before nobody any more.
func (s *Submission) Closed() bool {
	switch s.Status {
	case StatusConfirmed, StatusRedetermined, StatusUndetermined, StatusWithdrawn:
		return true
	}
	return false
}

// InOrder puts submissions of one specimen into the order in which they are weighed and told of: the oldest first. A draft that has
// become one is no older than that.
func InOrder(submissions []Submission) {
	slices.SortFunc(submissions, func(a, b Submission) int {
		return cmp.Or(a.DraftedAt.Compare(b.DraftedAt), cmp.Compare(a.ID, b.ID))
	})
}
