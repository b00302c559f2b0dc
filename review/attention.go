package review

import (
	"slices"
	"time"

	"revidit/review/confidence"
)

// Attention is a person whom a curator should speak with, and by which plain rule. It says nothing of who is right.
type Attention struct {
	Person string          `json:"person"`
	Why    AttentionReason `json:"why" enum:"reads-below,left-held,disabled,mentor-away"`
	// Group and Regions are of reads-below: the regions of the body that the person reads less well than members begin with.
	Group   string   `json:"group,omitempty"`
	Regions []string `json:"regions,omitempty"`
	// Count is of what the rule looked at: reports that were weighed, holds that were left, submissions that wait.
	Count int `json:"count"`
	// Since is when the oldest hold ran out, of left-held, or when the longest waiting was submitted, of mentor-away.
	Since *time.Time `json:"since,omitempty"`
	// Submission is one to begin with, of left-held and mentor-away.
	Submission string `json:"submission,omitempty"`
}

// AttentionReason is a rule by which somebody needs attention.
type AttentionReason string

const (
	// AttentionReadsBelow: a member's reports, LeastReports or more, were weighed, and of a region of the body the whole interval
	// of belowErrors standard errors lies below what members begin with.
	AttentionReadsBelow AttentionReason = "reads-below"
	// AttentionLeftHeld: somebody held submissions that are open still, let the hold run out LeftAfter ago or longer, and nobody
	// else has taken them up.
	AttentionLeftHeld AttentionReason = "left-held"
	// AttentionMentorAway: submissions of a beginner's series have waited LeftAfter or longer for this mentor.
	AttentionMentorAway AttentionReason = "mentor-away"
	// AttentionDisabled: the account is disabled, and submissions of the person are before reviewers or wait for an answer that
	// nobody can give.
	AttentionDisabled AttentionReason = "disabled"
)

const (
	// LeastReports is how many reports there must be before a member's reading is held against what members begin with. Our own
	// choice, no source.
	LeastReports = 50
	// belowErrors is how many standard errors an interval has on either side: 99 of 100 in a normal distribution, and not 95,
	// because several regions are looked at and one of them is soon low by chance. Our own choice, no source.
	belowErrors = 2.58
	// LeftAfter is how long ago a hold ran out that counts as left. Our own choice, no source.
	LeftAfter = 14 * 24 * time.Hour
)

// ReadsBelow are the regions of the body that a member reads less well than members begin with, beyond chance; none of anybody
// else, and none before there are LeastReports.
func (k PersonKnown) ReadsBelow() []string {
	if !k.Role.States() || k.Reports() < LeastReports {
		return nil
	}
	var below []string
	for region, known := range k.Regions {
		if belowRole(k.Role, known) {
			below = append(below, region)
		}
	}
	slices.Sort(below)
	return below
}

func belowRole(role Role, known confidence.KnownAccuracy) bool {
	return known.Value()+belowErrors*known.StandardError() < RoleAccuracy(role)
}

// Reports is how many reports of a person were weighed, of all regions.
func (k PersonKnown) Reports() (n int) {
	for _, known := range k.Regions {
		n += known.Verdicts
	}
	return n
}
