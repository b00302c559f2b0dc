package pages

import (
	"context"
	"net/url"
	"strconv"

	"github.com/a-h/templ"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/words"
)

// ReassessmentsData are the questions that were asked of a group of tables.
type ReassessmentsData struct {
	All      []review.Reassessment
	Releases []review.Release // that are not in force
	Approved int              // changes that wait for a release
	Policy   review.Policy
	Form     Form
}

// choices of tables.
func (d ReassessmentsData) choices(ctx context.Context, b Book) []Choice {
	out := []Choice{{Value: "", Label: words.T(ctx, "reassessment.in-force", "Release", b.Group.Release)}}
	if d.Approved > 0 {
		out = append(out, Choice{Value: service.Approved, Label: words.N(ctx, "reassessment.approved", d.Approved)})
	}
	for _, r := range d.Releases {
		out = append(out, Choice{Value: r.Hash, Label: r.Version})
	}
	return out
}

// ReassessmentData is one answer, with the determinations of one of its groups.
type ReassessmentData struct {
	review.Reassessment
	Names map[string]string
	Of    *review.TouchGroup // nil: none is shown
	Lines []service.TouchedLine
	Next  string
	Form  Form
}

func groupValue(g review.TouchedByCause) string { return string(g.Effect) + "/" + g.Cause.Key() }

func groupURL(b Book, key, of, after string) templ.SafeURL {
	q := url.Values{"of": {of}}
	if after != "" {
		q.Set("after", after)
	}
	return tableURL(b, "reassessments", key) + templ.SafeURL("?"+q.Encode()+"#group")
}

func touchWords(ctx context.Context, t review.Touch) string {
	switch t {
	case review.TouchNew:
		return words.T(ctx, "reassessment.touch-new")
	case review.TouchGone:
		return words.T(ctx, "reassessment.touch-gone")
	case review.TouchBelow:
		return words.T(ctx, "reassessment.touch-below")
	}
	return words.T(ctx, "reassessment.touch-nameless")
}

// touchCause says which part of a change it is.
func touchCause(ctx context.Context, b Book, c review.Cause, names map[string]string) string {
	character := c.Character
	if known, ok := b.Tables.Character(c.Character); ok {
		character = known.Label
	}
	switch c.Kind {
	case review.CauseCell:
		return words.T(ctx, "reassessment.cause-cell", "Family", c.Family, "Character", character)
	case review.CauseCharacter:
		return words.T(ctx, "reassessment.cause-character", "Character", character)
	case review.CauseCommon:
		return words.T(ctx, "reassessment.cause-common")
	case review.CauseFamily:
		return words.T(ctx, "reassessment.cause-family", "Family", c.Family)
	case review.CauseThreshold:
		return words.T(ctx, "reassessment.cause-threshold")
	case review.CauseList:
		return words.T(ctx, "reassessment.cause-list")
	case review.CausePerson:
		return words.T(ctx, "reassessment.cause-person", "Name", name(ctx, names, c.Person))
	}
	return words.T(ctx, "reassessment.cause-people")
}

func standardWords(ctx context.Context, s review.Standard) string {
	policy := strconv.Itoa(s.Policy)
	if s.Policy == review.ProposedPolicy {
		policy = words.T(ctx, "reassessment.tried-policy")
	}
	return words.T(ctx, "reassessment.standard", "Release", s.Release, "Policy", policy, "Reliability", s.Reliability)
}

// touchedDetail says what comes or goes.
func touchedDetail(ctx context.Context, b Book, t review.Touched) []string {
	var out []string
	for _, d := range t.Details() {
		character, state := d[1], d[2]
		if known, ok := b.Tables.Character(character); ok {
			character = known.Label
			if at := known.State(state); at >= 0 && at < len(known.States) && known.States[at].Label != "" {
				state = known.States[at].Label
			}
		}
		out = append(out, words.T(ctx, "reassessment.detail", "Character", character, "State", state))
	}
	return out
}
