package review

import (
	"strings"
	"time"
)

// DecideUndetermine closes a submission as one that cannot be named (Indet), with a reason.
func DecideUndetermine(m Moment, s *Submission, reason string) (Decision, error) {
	return decideClosing(m, s, ActUndetermine, reason, &Undetermined{Reason: strings.TrimSpace(reason)})
}

// DecideWithdraw lets its owner take a submission back, with a reason.
func DecideWithdraw(m Moment, s *Submission, reason string) (Decision, error) {
	return decideClosing(m, s, ActWithdraw, reason, &Withdrawn{Reason: strings.TrimSpace(reason)})
}

// DecideReopen puts a closed submission before reviewers again, with a reason. What was never submitted stays closed.
func DecideReopen(m Moment, s *Submission, reason string) (Decision, error) {
	if s.OpenedAt == nil && s.Status == StatusWithdrawn {
		return Decision{}, Errorf(KindConflict, "This was withdrawn as a draft and never submitted; its owner can submit it anew.")
	}
	return decideClosing(m, s, ActReopen, reason, &Reopened{Reason: strings.TrimSpace(reason)})
}

// DecideReopenFor is DecideReopen for a reassessment with a key, made at a time: of a determination that was settled since nothing is
// known from it, so that it stays settled.
func DecideReopenFor(m Moment, s *Submission, reason, key string, made time.Time) (Decision, error) {
	if s.Status != StatusConfirmed || s.ClosedAt != nil && s.ClosedAt.After(made) {
		return Decision{}, Errorf(KindConflict, "This determination is not settled any more, or was settled since. Nothing was changed.")
	}
	d, err := decideClosing(m, s, ActReopen, reason, &Reopened{Reason: strings.TrimSpace(reason), Reassessment: key})
	d.Touched = &TouchedBatch{Change: key, Opened: []string{s.ID}}
	return d, err
}

// decideClosing is an act that needs nothing but a reason.
func decideClosing(m Moment, s *Submission, action Action, reason string, change Change) (Decision, error) {
	if _, err := Transition(m.Actor, action, s); err != nil {
		return Decision{}, err
	}
	if action == ActUndetermine {
		if err := NotHeldByOther(m, s); err != nil {
			return Decision{}, err
		}
	}
	var p Problems
	CheckText(&p, "reason", reason, 1, MaxNote)
	if err := p.Err(); err != nil {
		return Decision{}, err
	}
	return Decision{Submission: []Change{change}}, nil
}
