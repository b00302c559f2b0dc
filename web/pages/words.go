package pages

import (
	"fmt"
	"math"

	"revidit/review"
	"revidit/review/judgement"
)

var statusWords = map[review.Status]string{
	review.StatusDraft: "draft", review.StatusOpen: "open", review.StatusReturned: "returned",
	review.StatusConfirmed: "confirmed", review.StatusRedetermined: "redetermined",
	review.StatusUndetermined: "undetermined", review.StatusWithdrawn: "withdrawn",
}

// Status is a status in words.
func Status(s review.Status) string { return statusWords[s] }

var statusMeans = map[review.Status]string{
	review.StatusDraft:        "Only you see it.",
	review.StatusOpen:         "It waits for reviewers.",
	review.StatusReturned:     "It waits for its owner.",
	review.StatusConfirmed:    "The name stands.",
	review.StatusRedetermined: "Another determination has followed this one.",
	review.StatusUndetermined: "It cannot be determined as it is.",
	review.StatusWithdrawn:    "Its owner took it back.",
}

var surenessWords = map[review.Sureness]string{
	review.Sure: "sure", review.FairlySure: "fairly sure", review.Unsure: "unsure",
}

// afterOpening is said of a verdict or an opinion that was given when others' had been shown.
const afterOpening = "given after seeing what others said"

var verdictWords = map[review.VerdictKind]string{
	review.VerdictConfirm: "confirms", review.VerdictDispute: "sees something else", review.VerdictNotVisible: "not visible here",
	review.VerdictPartMissing: "part missing", review.VerdictCannotJudge: "cannot judge",
}

// blindWords is what somebody saw who looked blind.
func blindWords(b Book, character string, check review.BlindCheck) string {
	if check.Kind != "" {
		return verdictWords[check.Kind]
	}
	return "saw " + b.State(character, check.State)
}

// panelWords is what somebody on a panel named.
func panelWords(o review.PanelOpinion) string {
	if o.Family == "" {
		return "the photos do not tell"
	}
	return hypothesis(o.Family)
}

// lookedWords thank somebody who has looked blind, and say what is shown now.
var lookedWords = map[string]string{
	"blind":   "Thank you, your blind look is saved. Now the submission is shown.",
	"recheck": "Thank you, your answer is saved. Now the determination is shown, with all that it rests on.",
	"left":    "You have left the panel. The determination is shown, with all that it rests on.",
}

var basisOfOpinion = map[review.Basis]string{
	review.BasisSpecimen: "from the specimen", review.BasisPhotos: "from photos", review.BasisDissected: "dissected",
}

var wantWords = map[review.Want]string{
	review.WantPhoto: "another photo", review.WantSpecimen: "the specimen itself", review.WantPreparation: "preparation",
}

var contradictionWords = map[judgement.ContradictionKind]string{
	judgement.Excluded: "Never in it: the diagnosis does not have this state", judgement.Unusual: "Rare in it: the diagnosis has this state rarely",
	judgement.Combination:  "Not together: no form of it has these states at once",
	judgement.Incompatible: "Not both: two statements cannot be true of one specimen",
	judgement.Unseen:       "Not seen: no photo shows the view that this needs",
	judgement.BetterFit:    "Another name fits better: it explains the same observations better",
}

func opinionWords(o review.Opinion) string {
	switch o.Kind {
	case review.OpinionAgrees:
		if o.Rank == review.RankGenus || o.Rank == review.RankSpecies {
			return "agrees with the name down to the " + string(o.Rank)
		}
		return "agrees with the name"
	case review.OpinionAnother:
		return "gives another name: " + o.Family
	}
	return "has seen it and leaves the name open (vid.)"
}

// slipWords is what an opinion prints on a slip, in brackets.
func slipWords(o review.Opinion, d review.Determination) string {
	if slip := o.Slip(&d); slip != "" {
		return "on a slip: " + typed(slip)
	}
	return "no slip"
}

// indet is the name of what was left undetermined, and the bare words where no tables are known.
func (b Book) indet() string {
	if b.Tables == nil {
		return "name not found"
	}
	return review.Indet(b.Group.Taxon, b.Group.Rank)
}

// standingName is the name that a specimen has by a submission.
func (b Book) standingName(s review.Status, d review.Determination) string {
	if s == review.StatusUndetermined {
		return b.indet()
	}
	return determinationName(d)
}

// because is why something was left undetermined.
func because(why string) string {
	if why == "" {
		return "the reason stands in the history"
	}
	return "“" + typed(why) + "”"
}

// slipDate is the date of a determination; an old slip may have none.
func slipDate(on string) string {
	if on == "" {
		return "undated"
	}
	return on
}

// determinationName is the name as it is written on a slip.
func determinationName(d review.Determination) string {
	name := d.Family
	if name == "" {
		name = "No name proposed yet"
	}
	if d.Qualifier == review.QualifierDoubt {
		name += " ?"
	}
	return name
}

// decibansWords tells a weight of evidence w in decibans: odds change by 10^(w/10).
func decibansWords(w float64) string {
	factor := math.Pow(10, math.Abs(w)/10)
	switch {
	case factor < 1.05:
		return "hardly matters"
	case w > 0:
		return fmt.Sprintf("%s times likelier", ratio(factor))
	}
	return fmt.Sprintf("%s times less likely", ratio(factor))
}

// gainWords say what a look is expected to tell; the bounds are our own.
func gainWords(bits float64) string {
	switch {
	case bits >= 0.5:
		return "decides much"
	case bits >= 0.15:
		return "helps"
	}
	return "helps a little"
}

// whyLabel names a line of the explanation: a character, that it was not mentioned, the prior, or the remainder that characters
// only tell together.
func (b Book) whyLabel(w judgement.Weight) string {
	if w.Silence != "" {
		words := b.Character(w.Character) + ": " + w.Silence
		if w.Specimens > 0 {
			words += fmt.Sprintf(" (how often one would be: by %d specimens here)", w.Specimens)
		}
		return words
	}
	switch w.Character {
	case judgement.WhyPrior:
		return "How common each of them is"
	case judgement.WhyTogether:
		return "What the characters tell only together"
	}
	return b.Character(w.Character)
}

func signed(x float64) string {
	if math.Abs(x) < 0.05 {
		return "0.0"
	}
	if x < 0 {
		return fmt.Sprintf("−%.1f", -x)
	}
	return fmt.Sprintf("+%.1f", x)
}

// hypothesis is a taxon of a ranking, or the hypothesis that it is none of those in the tables.
func hypothesis(family string) string {
	if family == judgement.NoneOfThese {
		return "none of the listed ones"
	}
	return family
}
