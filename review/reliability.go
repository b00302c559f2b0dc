package review

// What people are taken to be before anything is known of them: the probability of naming the true state of a
// character, and the anchoring, the probability of confirming what one was shown without looking. Assumed, no source;
// estimates from verdicts are to take their place.
const (
	memberAccuracy    = 0.85
	reviewerAccuracy  = 0.95
	memberAnchoring   = 0.4
	reviewerAnchoring = 0.2
)

// RoleAccuracy is the accuracy that a role starts with, in (0, 1).
func RoleAccuracy(r Role) float64 {
	if r == RoleMember {
		return memberAccuracy
	}
	return reviewerAccuracy
}

// RoleAnchoring is the anchoring that a role starts with, in [0, 1).
func RoleAnchoring(r Role) float64 {
	if r == RoleMember {
		return memberAnchoring
	}
	return reviewerAnchoring
}
