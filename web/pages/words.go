package pages

import (
	"cmp"
	"context"
	"math"

	"revidit/review"
	"revidit/review/judgement"
	"revidit/web/words"
)

// coded is what a code is called, by the beginning of its id; no code is no word.
func coded(ctx context.Context, beginning, code string) string {
	if code == "" {
		return ""
	}
	return words.T(ctx, beginning+code)
}

// Status is a status in words.
func Status(ctx context.Context, s review.Status) string {
	return coded(ctx, "common.status-", string(s))
}

func statusMeans(ctx context.Context, s review.Status) string {
	return coded(ctx, "common.status-means-", string(s))
}

func roleWord(ctx context.Context, r review.Role) string {
	return coded(ctx, "common.role-", string(r))
}

func surenessWords(ctx context.Context, s review.Sureness) string {
	return coded(ctx, "common.sureness-", string(s))
}

// afterOpening is said of a verdict or an opinion that was given when others' had been shown.
func afterOpening(ctx context.Context) string { return words.T(ctx, "common.after-opening") }

func verdictWords(ctx context.Context, kind review.VerdictKind) string {
	return coded(ctx, "common.verdict-", string(kind))
}

// blindWords is what somebody saw who looked blind.
func blindWords(ctx context.Context, b Book, character string, check review.BlindCheck) string {
	if check.Kind != "" {
		return verdictWords(ctx, check.Kind)
	}
	return words.T(ctx, "common.saw", "State", b.State(character, check.State))
}

// panelWords is what somebody on a panel named.
func panelWords(ctx context.Context, o review.PanelOpinion) string {
	if o.Family == "" {
		return words.T(ctx, "common.photos-do-not-tell")
	}
	return hypothesis(ctx, o.Family)
}

// lookedWords thank somebody who has looked blind, and say what is shown now; of a kind that is none, nothing.
func lookedWords(ctx context.Context, looked string) string {
	switch looked {
	case "blind", "recheck", "left":
		return words.T(ctx, "common.looked-"+looked)
	}
	return ""
}

func basisOfOpinion(ctx context.Context, basis review.Basis) string {
	return coded(ctx, "common.basis-", string(basis))
}

func wantWords(ctx context.Context, want review.Want) string {
	return coded(ctx, "common.want-", string(want))
}

func contradictionWords(ctx context.Context, kind judgement.ContradictionKind) string {
	return coded(ctx, "common.contradiction-", string(kind))
}

func opinionWords(ctx context.Context, o review.Opinion) string {
	switch o.Kind {
	case review.OpinionAgrees:
		if o.Rank == review.RankGenus || o.Rank == review.RankSpecies {
			return words.T(ctx, "common.opinion-agrees-"+string(o.Rank))
		}
		return words.T(ctx, "common.opinion-agrees")
	case review.OpinionAnother:
		return words.T(ctx, "common.opinion-another", "Family", o.Family)
	}
	return words.T(ctx, "common.opinion-left-open")
}

// slipWords is what an opinion prints on a slip, in brackets.
func slipWords(ctx context.Context, o review.Opinion, d review.Determination) string {
	if slip := o.Slip(&d); slip != "" {
		return words.T(ctx, "common.on-a-slip", "Slip", typed(slip))
	}
	return words.T(ctx, "common.no-slip")
}

// indet is the name of what was left undetermined, and the bare words where no tables are known.
func (b Book) indet(ctx context.Context) string {
	if b.Tables == nil {
		return words.T(ctx, "common.name-not-found")
	}
	return review.Indet(b.Group.Taxon, b.Group.Rank)
}

// standingName is the name that a specimen has by a submission.
func (b Book) standingName(ctx context.Context, s review.Status, d review.Determination) string {
	if s == review.StatusUndetermined {
		return b.indet(ctx)
	}
	return determinationName(ctx, d)
}

// because is why something was left undetermined.
func because(ctx context.Context, why string) string {
	if why == "" {
		return words.T(ctx, "common.reason-in-history")
	}
	return words.T(ctx, "common.quoted", "Text", typed(why))
}

// slipDate is the date of a determination; an old slip may have none.
func slipDate(ctx context.Context, on string) string {
	if on == "" {
		return words.T(ctx, "common.undated")
	}
	return on
}

// determinationName is the name as it is written on a slip.
func determinationName(ctx context.Context, d review.Determination) string {
	name := d.Family
	if name == "" {
		name = words.T(ctx, "common.no-name-yet")
	}
	if d.Qualifier == review.QualifierDoubt {
		name += " ?"
	}
	return name
}

// decibansWords tells a weight of evidence w in decibans: odds change by 10^(w/10).
func decibansWords(ctx context.Context, w float64) string {
	factor := math.Pow(10, math.Abs(w)/10)
	switch {
	case factor < 1.05:
		return words.T(ctx, "common.hardly-matters")
	case w > 0:
		return words.T(ctx, "common.times-likelier", "Factor", ratio(ctx, factor))
	}
	return words.T(ctx, "common.times-less-likely", "Factor", ratio(ctx, factor))
}

// gainWords say what a look is expected to tell; the bounds are our own.
func gainWords(ctx context.Context, bits float64) string {
	switch {
	case bits >= 0.5:
		return words.T(ctx, "common.gain-much")
	case bits >= 0.15:
		return words.T(ctx, "common.gain-some")
	}
	return words.T(ctx, "common.gain-little")
}

// whyLabel names a line of the explanation: a character, that it was not mentioned, the prior, or the remainder that characters
// only tell together.
func (b Book) whyLabel(ctx context.Context, w judgement.Weight) string {
	silence := cmp.Or(b.silence(w), words.T(ctx, "common.not-mentioned"))
	switch {
	case w.OfSilence() && w.Specimens > 0:
		return words.N(ctx, "common.why-silence-learnt", w.Specimens, "Character", b.Character(w.Character), "Silence", silence)
	case w.OfSilence():
		return words.T(ctx, "common.why-silence", "Character", b.Character(w.Character), "Silence", silence)
	case w.Character == judgement.WhyPrior:
		return words.T(ctx, "common.why-prior")
	case w.Character == judgement.WhyTogether:
		return words.T(ctx, "common.why-together")
	}
	return b.Character(w.Character)
}

// PolicyReason is why a policy was set; the one that Revidit starts with has none that anybody has written.
func PolicyReason(ctx context.Context, p review.Policy) string {
	if p.Version == 0 && p.Reason == "" {
		return words.T(ctx, "policy.first-reason")
	}
	return p.Reason
}

// signed is a number with its sign and one decimal.
func signed(ctx context.Context, x float64) string {
	text := words.Fixed(ctx, x, 1)
	if x >= 0.05 {
		return "+" + text
	}
	return text
}

// hypothesis is a taxon of a ranking, or the hypothesis that it is none of those in the tables.
func hypothesis(ctx context.Context, family string) string {
	if family == judgement.NoneOfThese {
		return words.T(ctx, "common.none-of-these")
	}
	return family
}
