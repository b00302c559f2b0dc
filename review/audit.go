package review

import (
	"slices"
	"strings"
	"time"
)

// Audit is that a curator has opened what others have said of a submission, to see how it is judged and not to judge it: for a
// written reason each time, and with no verdict of their own. It stays open to that person. What they say of the specimen from
// then on is told and weighed as given after opening, and they look blind at it no more.
type Audit struct {
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Reason string    `json:"reason,omitempty"` // left out for those from whom the submission is sealed: it may tell what was said
}

// Audited: a curator has opened what is sealed.
type Audited struct {
	Reason string `json:"reason"`
}

// EventKind implements Change.
func (*Audited) EventKind() string { return "audited" }

// WithoutReason leaves out what may tell of what was said.
func (*Audited) WithoutReason() Change { return &Audited{} }

func init() { newChange["audited"] = func() Change { return &Audited{} } }

// DecideAudit opens what is sealed from a curator, for a written reason.
func DecideAudit(now *Dossier, reason string) (Decision, error) {
	if _, err := Transition(now.Actor, ActAudit, now.Submission); err != nil {
		return Decision{}, err
	}
	if !SealedFrom(now.Actor, now.Submission) {
		return Decision{}, Errorf(KindConflict, "Nothing of this submission is closed to you, so there is nothing to open. Nothing was stored.")
	}
	var p Problems
	CheckText(&p, "reason", reason, 1, MaxNote)
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	return Decision{Submission: []Change{&Audited{Reason: strings.TrimSpace(reason)}}}, nil
}

// AuditedBy says whether a person has opened the submission in an audit.
func (s *Submission) AuditedBy(person string) bool {
	return slices.ContainsFunc(s.Audits, func(a Audit) bool { return a.By == person })
}

// audited says whether the actor has opened any submission of the specimen in an audit: what people say is of the specimen.
func (now *Dossier) audited() bool {
	return now.Submission.AuditedBy(now.Actor.Person) ||
		slices.ContainsFunc(now.Siblings, func(s Submission) bool { return s.AuditedBy(now.Actor.Person) })
}

// withoutReasons are audits as those see them from whom the submission is sealed.
func withoutReasons(audits []Audit) []Audit {
	audits = slices.Clone(audits)
	for i := range audits {
		audits[i].Reason = ""
	}
	return audits
}
