package confidence

import "strings"

// Warning says what a number leaves open, as a code: words are the caller's. A code of something that could not be read is followed by a
// colon and what that is.
type Warning string

// LeftOut: so many records could not be read and took no part, of which the first are named behind it. FromHistory: stored rows, which
// are named behind it, could not be read, and the value was worked out from the history.
const (
	LeftOut     = "left-out"
	FromHistory = "from-history"
)

// Of is a warning about something that could not be read.
func Of(code, what string) Warning { return Warning(code + ":" + what) }

// Cut is the code of a warning and what it is about.
func (w Warning) Cut() (code, what string) {
	code, what, _ = strings.Cut(string(w), ":")
	return code, what
}

const (
	// NoCases: there is nothing to compute from, and the value is not known.
	NoCases Warning = "no-cases"
	// FewCases: less than thirty cases, or less than ten in a bin of the diagram. Common practice, no source.
	FewCases Warning = "few-cases"
	// OneOutcome: the event always or never happened, so that nothing could be told apart.
	OneOutcome Warning = "one-outcome"
	// ForecastZero: something happened that was given a probability of 0.
	ForecastZero Warning = "forecast-zero"
	// OneCategory: all ratings are of one category, and agreement beyond chance is not defined.
	OneCategory Warning = "one-category"
	// NobodyDisagreed: the value is 1 because no two ratings differ.
	NobodyDisagreed Warning = "nobody-disagreed"
	// NotConverged: the estimates still moved when the iterations ended.
	NotConverged Warning = "not-converged"
	// NothingShared: no item has reports of two people, so that nobody can be checked by another.
	NothingShared Warning = "nothing-shared"
	// NoBlindChecks: nobody has blind checks enough, and all anchoring is taken from the roles.
	NoBlindChecks Warning = "no-blind-checks"
	// RoleAnchoring: this person has fewer blind checks than BlindChecks.
	RoleAnchoring Warning = "role-anchoring"
	// PriorDecides: the prior of the role weighs more than what this person reported.
	PriorDecides Warning = "prior-decides"
	// NeverBlind: this person has no blind report on this region.
	NeverBlind Warning = "never-blind"
	// WorseThanHalf: an accuracy below one half, or as low as one is let be (below it reports would speak against what they
	// say), which may be a misunderstood wording rather than a bad eye.
	WorseThanHalf Warning = "worse-than-half"
	// UnusedClass: an observer has no rating where a class is true; the error rates of that row are uniform.
	UnusedClass Warning = "unused-class"
)

// fewCases and fewInBin are the numbers of FewCases.
const (
	fewCases = 30
	fewInBin = 10
)

// oldWarnings are sentences that stood in their places in what was stored before there were codes.
var oldWarnings = map[string]Warning{
	"no cases":                                                                            NoCases,
	"few cases: the value can be far off":                                                 FewCases,
	"the event always or never happened":                                                  OneOutcome,
	"something happened that was given a probability of 0":                                ForecastZero,
	"one category only: agreement beyond chance is not defined":                           OneCategory,
	"nobody disagreed":                                                                    NobodyDisagreed,
	"the estimates still moved when the iterations ended":                                 NotConverged,
	"no item has reports of two people: only the priors of the states check them":         NothingShared,
	"nobody has enough blind checks: the anchoring is that of the roles":                  NoBlindChecks,
	"too few blind checks: the anchoring is that of the role":                             RoleAnchoring,
	"the role's prior weighs more than the reports":                                       PriorDecides,
	"no blind report":                                                                     NeverBlind,
	"more often wrong than right: the states may be understood another way":               WorseThanHalf,
	"an observer saw no item of a class: those error rates are not known and set uniform": UnusedClass,
}

// UnmarshalText takes a code, or a sentence that was stored before there were codes; one that is none of those stays as it is.
func (w *Warning) UnmarshalText(text []byte) error {
	*w = Warning(text)
	if code, ok := oldWarnings[string(text)]; ok {
		*w = code
	}
	return nil
}
