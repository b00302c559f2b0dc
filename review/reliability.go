package review

import (
	"time"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// What people are taken to be before anything is known of them: the probability of naming the true state of a
// character, and the anchoring, the probability of confirming what one was shown without looking. Assumed, no source;
// estimates from reports take their place (Reliability).
const (
	MemberAccuracy    = 0.85
	ReviewerAccuracy  = 0.95
	MemberAnchoring   = 0.4
	ReviewerAnchoring = 0.2
	// RoleWeight is how many reports of known truth an assumption about a role counts as. Assumed, no source.
	RoleWeight = 20
)

// RoleAccuracy is the accuracy that a role starts with, in (0, 1).
func RoleAccuracy(r Role) float64 {
	if r == RoleMember {
		return MemberAccuracy
	}
	return ReviewerAccuracy
}

// RoleAnchoring is the anchoring that a role starts with, in [0, 1).
func RoleAnchoring(r Role) float64 {
	if r == RoleMember {
		return MemberAnchoring
	}
	return ReviewerAnchoring
}

// Reliability is what people have turned out to be like when they report on characters of one group, by region of the
// body: a snapshot. Assessments name its version. Version 0 knows the roles only.
type Reliability struct {
	Group   string    `json:"group"`
	Version int       `json:"version"` // sequence in the stream of the group
	At      time.Time `json:"at"`
	// Specimens and Items are what it rests on: specimens whose submissions are all closed, and characters of them.
	Specimens int `json:"specimens"`
	Items     int `json:"items"`
	// Added are the specimens taken in since the last refit, each once.
	Added []string `json:"added"`
	// Refitted is when all reports were last weighed together.
	Refitted time.Time              `json:"refitted"`
	People   map[string]PersonKnown `json:"people"` // by id
	// Warnings are those of the last refit.
	Warnings []confidence.Warning `json:"warnings"`
}

// PersonKnown is what is known about one person.
type PersonKnown struct {
	Role      Role                                `json:"role"`
	Regions   map[string]confidence.KnownAccuracy `json:"regions"`
	Anchoring confidence.KnownAnchoring           `json:"anchoring"`
}

// Accuracy of a person on a region of the body, in (0, 1): that of the role where nothing is known.
func (r *Reliability) Accuracy(person string, role Role, region string) float64 {
	if r != nil {
		if known, ok := r.People[person].Regions[region]; ok {
			return known.Value()
		}
	}
	return RoleAccuracy(role)
}

// Anchoring of a person, in (0, 1): that of the role until there are blind checks enough.
func (r *Reliability) Anchoring(person string, role Role) float64 {
	if r != nil {
		if known, ok := r.People[person]; ok && known.Anchoring.Estimated() {
			return known.Anchoring.Value()
		}
	}
	return RoleAnchoring(role)
}

// Look is a person as the one who looks next.
func (r *Reliability) Look(person string, role Role, t *diagnosis.Tables) judgement.Look {
	look := judgement.Look{Accuracy: RoleAccuracy(role), ByRegion: map[string]float64{}}
	for _, region := range t.Regions() {
		look.ByRegion[region] = r.Accuracy(person, role, region)
	}
	return look
}

// NewJudge is a judge of tables to whom whoever states something is a member, and whoever would look next a reviewer, where
// nothing else is said.
func NewJudge(t *diagnosis.Tables) *judgement.Judge {
	return judgement.New(t, judgement.Taken{Stated: RoleAccuracy(RoleMember), Look: RoleAccuracy(RoleReviewer)})
}
