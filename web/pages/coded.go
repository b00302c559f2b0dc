package pages

import (
	"context"
	"strings"

	"revidit/review"
	"revidit/review/audit"
	"revidit/review/photo"
	"revidit/review/service"
	"revidit/web/words"
)

// coded is what the program has to say as a code, in words; a code of which there are none, such as of a later program, stays as it is.
func (s Site) coded(ctx context.Context, c review.Coded) string {
	id, beginning := "sentence."+c.Code, "sentence.missing-"
	if !words.Has(id) {
		id, beginning = "coded."+c.Code, "coded.found-"
	}
	if !words.Has(id) {
		return c.String()
	}
	told := s.saidBy(ctx, beginning, id, c.About)
	if after := c.About["after"]; after != "" {
		return words.T(ctx, "sentence.missing-before", "Missing", told, "N", after)
	}
	return told
}

// AllCoded are several such, or where there are none the sentences that were stored before there were codes, whose texts have ids with a
// beginning.
func (s Site) AllCoded(ctx context.Context, codes []review.Coded, beginning string, stored []string) []string {
	told := []string{}
	for _, c := range codes {
		told = append(told, s.coded(ctx, c))
	}
	if len(codes) > 0 {
		return told
	}
	for _, sentence := range stored {
		told = append(told, s.retold(ctx, beginning, sentence))
	}
	return told
}

// MissingWords say what is missing until something settles.
func (s Site) MissingWords(ctx context.Context, v service.SubmissionView) []string {
	return s.AllCoded(ctx, v.Needs, "sentence.missing-", v.Missing)
}

// EffectInWords is an effect with its words.
func (s Site) EffectInWords(ctx context.Context, e review.Effect) review.Effect {
	list := make([]review.Affected, len(e.List))
	for i, a := range e.List {
		list[i] = s.AffectedInWords(ctx, a)
	}
	e.List = list
	return e
}

// AffectedInWords is a determination of an effect with its words.
func (s Site) AffectedInWords(ctx context.Context, a review.Affected) review.Affected {
	a.Doubts, a.New, a.Gone = s.doubtWords(ctx, a), s.appearedWords(ctx, a), s.resolvedWords(ctx, a)
	return a
}

func (s Site) doubtWords(ctx context.Context, a review.Affected) []string {
	return s.AllCoded(ctx, a.Because, "sentence.doubt-", a.Doubts)
}

func (s Site) appearedWords(ctx context.Context, a review.Affected) []string {
	return s.AllCoded(ctx, a.Appeared, "sentence.flag-", a.New)
}

func (s Site) resolvedWords(ctx context.Context, a review.Affected) []string {
	return s.AllCoded(ctx, a.Resolved, "sentence.flag-", a.Gone)
}

// CheckedInWords is what a check of the database has found, with its words.
func CheckedInWords(ctx context.Context, c review.Checked) review.Checked {
	c.Problems = damageWords(ctx, c)
	c.Differs = otherwiseWords(ctx, c)
	return c
}

func damageWords(ctx context.Context, c review.Checked) []string {
	return Site{}.AllCoded(ctx, c.Damages, "coded.found-", c.Problems)
}

func otherwiseWords(ctx context.Context, c review.Checked) []string {
	return Site{}.AllCoded(ctx, c.Otherwise, "coded.found-", c.Differs)
}

// AgreementInWords is an agreement with the words of what it lacks.
func AgreementInWords(ctx context.Context, a audit.Agreement) audit.Agreement {
	sets := make([]audit.AgreementSet, len(a.Sets))
	for i, set := range a.Sets {
		set.Overall = inWords(ctx, set.Overall)
		set.Regions, set.Characters = allInWords(ctx, set.Regions), allInWords(ctx, set.Characters)
		sets[i] = set
	}
	a.Sets = sets
	return a
}

func allInWords(ctx context.Context, lines []audit.AgreementLine) []audit.AgreementLine {
	told := make([]audit.AgreementLine, len(lines))
	for i, l := range lines {
		told[i] = inWords(ctx, l)
	}
	return told
}

func inWords(ctx context.Context, l audit.AgreementLine) audit.AgreementLine {
	l.FleissNote = fleissNote(ctx, l)
	return l
}

// fleissNote is why a line has no Fleiss' kappa; empty where it has one, or no unit of two ratings.
func fleissNote(ctx context.Context, l audit.AgreementLine) string {
	if l.FleissWhy != nil {
		return Site{}.coded(ctx, *l.FleissWhy)
	}
	return Site{}.retold(ctx, "sentence.units-", l.FleissNote)
}

// Given is a reason of an act: what somebody wrote, or what the program says where nobody has written one.
func Given(ctx context.Context, reason string) string {
	if id := "coded." + reason; strings.HasPrefix(reason, "given-") && words.Has(id) {
		return words.T(ctx, id)
	}
	if told := (Site{}).retold(ctx, "coded.given-", reason); told != reason {
		return told
	}
	return reason
}

// PhotoWarning is what could not be used of a photo, in words.
func PhotoWarning(ctx context.Context, w photo.Warning) string {
	code, what := w.Cut()
	if id := "coded.photo-" + string(code); words.Has(id) {
		return words.T(ctx, id, "What", what)
	}
	return string(w)
}
