package pages

import (
	"context"

	"revidit/review"
	"revidit/web/words"
)

// attentionWords say by which rule somebody needs attention, after their name.
func attentionWords(ctx context.Context, site Site, a review.Attention) string {
	switch a.Why {
	case review.AttentionReadsBelow:
		regions := make([]string, len(a.Regions))
		for i, r := range a.Regions {
			regions[i] = site.region(r)
		}
		return words.N(ctx, "ledger.reads-below", a.Count, "Regions", joinedBy(ctx, "sentence.and", regions))
	case review.AttentionLeftHeld:
		return words.N(ctx, "ledger.left-held", a.Count, "Day", Day(ctx, *a.Since))
	case review.AttentionMentorAway:
		return words.N(ctx, "ledger.mentor-away", a.Count, "Day", Day(ctx, *a.Since))
	case review.AttentionDisabled:
		return words.T(ctx, "ledger.disabled")
	}
	return string(a.Why)
}

// auditsWords say who has opened a submission in an audit.
func auditsWords(ctx context.Context, names map[string]string, audits []review.Audit) []string {
	var told []string
	for _, a := range audits {
		if a.Reason == "" {
			told = append(told, words.T(ctx, "ledger.audited", "Name", name(ctx, names, a.By), "At", Minute(ctx, a.At)))
			continue
		}
		told = append(told, words.T(ctx, "ledger.audited-reason", "Name", name(ctx, names, a.By), "At", Minute(ctx, a.At), "Reason", typed(a.Reason)))
	}
	return told
}
