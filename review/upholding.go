package review

import (
	"strings"
	"time"
)

// Upholding is that a curator has looked into a closed determination that a panel or other tables speak against, and lets it
// stand. It answers what was known by then: a panel that is complete later, or another release, asks again.
type Upholding struct {
	Reason     string    `json:"reason"`
	TablesHash string    `json:"tables_hash"` // of the tables in force then
	By         string    `json:"by"`
	At         time.Time `json:"at"`
}

// Upheld: a curator lets a closed determination stand.
type Upheld struct {
	Upholding Upholding `json:"upholding"`
}

// EventKind implements Change.
func (*Upheld) EventKind() string { return "upheld" }

func init() { newChange["upheld"] = func() Change { return &Upheld{} } }

// DecideUphold lets a closed determination stand, with a reason. Nobody upholds a name of their own.
func DecideUphold(now *Dossier, reason string) (Decision, error) {
	if _, err := Transition(now.Actor, ActUphold, now.Submission); err != nil {
		return Decision{}, err
	}
	if err := now.notOwnName("upholds"); err != nil {
		return Decision{}, err
	}
	var p Problems
	CheckText(&p, "reason", reason, 1, MaxNote)
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	made := Upholding{Reason: strings.TrimSpace(reason), TablesHash: now.Judge.Tables().Hash, By: now.Actor.Person, At: now.Now}
	return Decision{Submission: []Change{&Upheld{Upholding: made}}}, nil
}

// Parted says whether a complete panel does not bear out how a determination was closed, and no curator has answered it since:
// of a confirmed name more than half did not name it, or what was left undetermined more than half named.
func (s *Submission) Parted() bool {
	if s.Recheck == nil || !s.Recheck.Complete() || s.answeredPanel() {
		return false
	}
	found, named := s.Recheck.Truth()
	switch s.Status {
	case StatusConfirmed:
		return found != s.Determination.Family
	case StatusUndetermined:
		return named
	}
	return false
}

// answeredPanel says whether a curator has let the determination stand after the last one of the panel had looked.
func (s *Submission) answeredPanel() bool {
	last := s.Recheck.Opinions[len(s.Recheck.Opinions)-1]
	return s.Upholding != nil && !s.Upholding.At.Before(last.At)
}

// StandsInDoubt says whether a determination that tables with this hash put in doubt still asks for a decision: it is closed as it
// was, and no curator has let it stand under these tables.
func (s *Submission) StandsInDoubt(hash string) bool {
	if s.Status != StatusConfirmed || s.Assessment == nil || s.Assessment.TablesHash == hash {
		return false
	}
	return s.Upholding == nil || s.Upholding.TablesHash != hash
}
