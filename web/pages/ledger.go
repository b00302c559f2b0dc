package pages

import (
	"context"
	"strings"

	"revidit/review"
)

// attentionWords say by which rule somebody needs attention, after their name.
func attentionWords(site Site, a review.Attention) string {
	switch a.Why {
	case review.AttentionReadsBelow:
		regions := make([]string, len(a.Regions))
		for i, r := range a.Regions {
			regions[i] = strings.ToLower(Region{ID: r}.Title())
		}
		return "reads " + listed(context.TODO(), regions) + " below what members begin with, beyond chance: of " + count(a.Count, "report that was weighed", "reports that were weighed") +
			" the whole interval lies below. Looking together at a drawer helps more than words."
	case review.AttentionLeftHeld:
		return "held " + count(a.Count, "submission that is open still", "submissions that are open still") + " and let the hold run out on " + Day(context.TODO(), *a.Since) +
			". Anybody can take them up; ask whether there is something in the way."
	case review.AttentionMentorAway:
		return "has " + count(a.Count, "beginner’s submission", "beginners’ submissions") + " waiting since " + Day(context.TODO(), *a.Since) +
			". Ask whether they are away: you can hand the series over on its page."
	case review.AttentionDisabled:
		return "cannot log in: the account is disabled, and submissions of theirs wait that only they can answer. The keeper of the server lets them in again."
	}
	return string(a.Why)
}

// auditsWords say who has opened a submission in an audit.
func auditsWords(names map[string]string, audits []review.Audit) []string {
	var words []string
	for _, a := range audits {
		line := name(context.TODO(), names, a.By) + " opened it in an audit on " + Minute(context.TODO(), a.At)
		if a.Reason != "" {
			line += ": “" + typed(a.Reason) + "”"
		}
		words = append(words, line+".")
	}
	return words
}
