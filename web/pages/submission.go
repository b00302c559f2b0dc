package pages

import (
	"context"
	"fmt"
	"math"
	"slices"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/review/service"
	"revidit/web/words"
)

// SubmissionData is the page of one submission.
type SubmissionData struct {
	View service.SubmissionView
	// HeldByOther says whether another reviewer holds it now.
	HeldByOther bool
	// Action is the form that came back with Form, or empty.
	Action review.Action
	Form   Form
	// Looked is what somebody has just done who looked blind: blind, recheck, left; empty otherwise.
	Looked string
	// AskAuthority: a settlement on authority came without having been asked about.
	AskAuthority bool
	// ReplyTo is the contradiction that a reply which came back is about.
	ReplyTo review.ReplyForm
}

// form is the form of an action: the one that came back, or an empty one.
func (d SubmissionData) form(action review.Action) Form {
	f := Form{Version: d.View.Version}
	if d.Action == action {
		f = d.Form
	}
	f.Prefix = string(action) + "-"
	return f
}

// summary is the form that came back, with the ids that its fields have on the page.
func (d SubmissionData) summary() Form {
	if d.Action == review.ActReply {
		return d.replyForm(judgement.Contradiction{Kind: d.ReplyTo.Kind, Character: d.ReplyTo.Character, State: d.ReplyTo.State})
	}
	return d.form(d.Action)
}

func (d SubmissionData) may(action review.Action) bool {
	return slices.Contains(d.View.Allowed, action)
}

// replyForm is the form of a reply to one contradiction.
func (d SubmissionData) replyForm(c judgement.Contradiction) Form {
	f := Form{Version: d.View.Version}
	if d.Action == review.ActReply && d.ReplyTo.Kind == c.Kind && d.ReplyTo.Character == c.Character && d.ReplyTo.State == c.State {
		f = d.Form
	}
	f.Prefix = contradictionID(c) + "-"
	return f
}

// Shown is an observation as a submission cites it, with its number on the page.
type Shown struct {
	No int
	review.Observation
	Verdicts []review.Verdict
	Blind    []review.BlindCheck
}

// ShownOf are the cited observations in the order of the submission, numbered from 1.
func ShownOf(v service.SubmissionView) []Shown {
	var shown []Shown
	for _, id := range v.Submission.Cites {
		o, ok := v.Specimen.Observation(id)
		if !ok {
			continue
		}
		s := Shown{No: len(shown) + 1, Observation: o}
		for _, verdict := range v.Submission.Verdicts {
			if verdict.Observation == id {
				s.Verdicts = append(s.Verdicts, verdict)
			}
		}
		for _, b := range v.Submission.Blind {
			if b.Observation == id {
				s.Blind = append(s.Blind, b)
			}
		}
		shown = append(shown, s)
	}
	return shown
}

// photosOf are the photos of a submission, in its order.
func photosOf(v service.SubmissionView) []review.Photo {
	var photos []review.Photo
	for _, id := range v.Submission.Photos {
		if p, ok := v.Specimen.Photo(id); ok {
			photos = append(photos, p)
		}
	}
	return photos
}

// marksOn are the observations that can be seen on a photo.
func marksOn(p review.Photo, shown []Shown) []Shown {
	var marks []Shown
	for _, s := range shown {
		if s.Photo == p.ID && s.Withdrawn == "" {
			marks = append(marks, s)
		}
	}
	return marks
}

// box is a rectangle in pixels of the upright photo.
type box struct{ X, Y, W, H float64 }

func boxOf(r review.Region, p review.Photo) box {
	w, h := float64(p.Width), float64(p.Height)
	return box{X: r.X * w, Y: r.Y * h, W: r.W * w, H: r.H * h}
}

// widened is a box with a margin of a quarter on each side, within the photo, for a close look.
func (b box) widened(p review.Photo) box {
	mx, my := max(b.W/4, float64(p.Width)/50), max(b.H/4, float64(p.Height)/50)
	x, y := max(0, b.X-mx), max(0, b.Y-my)
	return box{X: x, Y: y, W: min(float64(p.Width), b.X+b.W+mx) - x, H: min(float64(p.Height), b.Y+b.H+my) - y}
}

func (b box) viewBox() string { return fmt.Sprintf("%.1f %.1f %.1f %.1f", b.X, b.Y, b.W, b.H) }

func px(x float64) string { return fmt.Sprintf("%.1f", x) }

// badge is the radius of the number on a mark, in pixels of the photo.
func badge(p review.Photo) float64 { return math.Sqrt(float64(p.Width)*float64(p.Height)) / 42 }

// numberAt is where the number of a mark stands, in pixels of the photo.
type numberAt struct {
	No   int
	X, Y float64
}

// numbersOn puts the number of each mark at the corner of its rectangle, and beside it where another number stands
// there already.
func numbersOn(p review.Photo, marks []Shown) []numberAt {
	r := badge(p)
	var placed []numberAt
	for _, m := range marks {
		if m.Region == nil {
			continue
		}
		b := boxOf(*m.Region, p)
		n := numberAt{No: m.No, X: min(max(b.X, r), float64(p.Width)-r), Y: min(max(b.Y, r), float64(p.Height)-r)}
		// A photo has room for about 400 numbers; the steps are bounded for a photo of no size.
		for range 10_000 {
			if !slices.ContainsFunc(placed, func(o numberAt) bool { return math.Hypot(o.X-n.X, o.Y-n.Y) < 2*r }) {
				break
			}
			n = beside(n, r, p)
		}
		placed = append(placed, n)
	}
	return placed
}

// beside is the next place to try: half a number to the right, else at the left of the next row, else at the top.
func beside(n numberAt, r float64, p review.Photo) numberAt {
	n.X += r / 2
	if n.X > float64(p.Width)-r {
		n.X, n.Y = r, n.Y+r/2
	}
	if n.Y > float64(p.Height)-r {
		n.Y = r
	}
	return n
}

// agreeing counts the opinions that count as agreeing.
func agreeing(v service.SubmissionView) int { return len(v.Agreeing) }

// parted says in words where characters and people part company, and is empty where they do not.
func parted(ctx context.Context, v service.SubmissionView) string {
	if v.Sealed || v.Unscored || v.Submission.Determination.Family == "" || len(v.Submission.Opinions) == 0 {
		return ""
	}
	strong := v.Assessment.Confidence >= v.Policy.Confidence
	all := !slices.ContainsFunc(v.Submission.Opinions, func(o review.Opinion) bool { return o.Kind != review.OpinionAgrees })
	switch {
	case !strong && all:
		return words.T(ctx, "submission.parted-people")
	case strong && !all:
		return words.T(ctx, "submission.parted-characters")
	}
	return ""
}

// ReplyTo is the written reason against a contradiction, or nil.
func ReplyTo(v service.SubmissionView, c judgement.Contradiction) *review.Reply {
	for i, r := range v.Submission.Replies {
		if r.Kind == c.Kind && r.Character == c.Character && r.State == c.State {
			return &v.Submission.Replies[i]
		}
	}
	return nil
}

// ownWords says what of a submission is not for the one who looks to judge, and is empty where all is.
func ownWords(ctx context.Context, own review.Own, family string) string {
	switch {
	case own.Everything:
		return words.T(ctx, "submission.own-everything", "Family", family)
	case own.Name:
		return words.T(ctx, "submission.own-name", "Family", family)
	case len(own.Observations) > 0:
		return words.T(ctx, "submission.own-some")
	}
	return ""
}

func contradictionsOf(v service.SubmissionView, character string) []judgement.Contradiction {
	var found []judgement.Contradiction
	for _, c := range v.Assessment.Contradictions {
		if c.Character == character {
			found = append(found, c)
		}
	}
	return found
}

func top[T any](list []T, n int) []T { return list[:min(n, len(list))] }
