package confidence

// Warning says what a number leaves open. The text is plain English; a caller may show it or use its own words.
type Warning string

const (
	// NoCases: there is nothing to compute from, and the value is not known.
	NoCases Warning = "no cases"
	// FewCases: less than thirty cases, or less than ten in a bin of the diagram. Common practice, no source.
	FewCases Warning = "few cases: the value can be far off"
	// OneOutcome: the event always or never happened, so that nothing could be told apart.
	OneOutcome Warning = "the event always or never happened"
	// ForecastZero: something happened that was given a probability of 0.
	ForecastZero Warning = "something happened that was given a probability of 0"
	// OneCategory: all ratings are of one category, and agreement beyond chance is not defined.
	OneCategory Warning = "one category only: agreement beyond chance is not defined"
	// NobodyDisagreed: the value is 1 because no two ratings differ.
	NobodyDisagreed Warning = "nobody disagreed"
	// NotConverged: the estimates still moved when the iterations ended.
	NotConverged Warning = "the estimates still moved when the iterations ended"
	// NothingShared: no item has reports of two people, so that nobody can be checked by another.
	NothingShared Warning = "no item has reports of two people: only the priors of the states check them"
	// NoBlindChecks: nobody has blind checks enough, and all anchoring is taken from the roles.
	NoBlindChecks Warning = "nobody has enough blind checks: the anchoring is that of the roles"
	// RoleAnchoring: this person has fewer blind checks than BlindChecks.
	RoleAnchoring Warning = "too few blind checks: the anchoring is that of the role"
	// PriorDecides: the prior of the role weighs more than what this person reported.
	PriorDecides Warning = "the role's prior weighs more than the reports"
	// NeverBlind: this person has no blind report on this region.
	NeverBlind Warning = "no blind report"
	// WorseThanHalf: an accuracy below one half, or as low as one is let be (below it reports would speak against what they
	// say), which may be a misunderstood wording rather than a bad eye.
	WorseThanHalf Warning = "more often wrong than right: the states may be understood another way"
	// UnusedClass: an observer has no rating where a class is true; the error rates of that row are uniform.
	UnusedClass Warning = "an observer saw no item of a class: those error rates are not known and set uniform"
)

// fewCases and fewInBin are the numbers of FewCases.
const (
	fewCases = 30
	fewInBin = 10
)
