package audit

import (
	"cmp"
	"slices"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Agreement is how far people agree on the characters of one group. A unit is a character of a specimen, a rater is a
// person, a rating is the state that the person holds to be true: what was stated, what was shown and confirmed, or what a
// dispute put in its place. "Not visible", "part missing", "cannot judge" and disputes without another state are missing.
// Lengths are measured, not chosen, and take no part.
type Agreement struct {
	Group string `json:"group"`
	// Specimens are those that count: their submissions are all closed. What is said of others is sealed still, and left out.
	Specimens int `json:"specimens"`
	Waiting   int `json:"waiting" doc:"Specimens left out because a submission of theirs is not closed"`
	// Earlier are closed specimens left out so that the figures tell of the people as they are, and take no longer each year.
	Earlier int `json:"earlier" doc:"Specimens left out because more than enough were closed after them"`
	// Sets are the ways of looking, blind before shown, with the observer before reviewers alone.
	Sets []AgreementSet `json:"sets"`
	// PairsLeftOut says that there are pairs without the one who asks, whom the policy does not name.
	PairsLeftOut bool `json:"pairs_left_out,omitempty" doc:"The policy shows curators totals alone: pairs without the caller are left out"`
	// Copying are the pairs who share departures from what was recorded, the least probable first.
	Copying Copying `json:"copying"`
	review.Dated
}

// Looks is how raters looked.
type Looks string

const (
	// LooksBlind: nobody had been shown a state. The observer's own first statement counts as such.
	LooksBlind Looks = "blind"
	// LooksShown: reviewers were shown a state and confirmed or disputed it. They are anchored by it, and agree too well.
	LooksShown Looks = "shown"
)

// AgreementSet is the agreement of some raters in one way of looking.
type AgreementSet struct {
	Looks Looks `json:"looks" enum:"blind,shown"`
	// Observer: the person who recorded the state is a rater, too; otherwise reviewers alone.
	Observer   bool            `json:"observer"`
	Overall    AgreementLine   `json:"overall"`
	Regions    []AgreementLine `json:"regions" nullable:"false" doc:"Regions of the body, in the order of the tables"`
	Characters []AgreementLine `json:"characters" nullable:"false" doc:"Characters with at least one unit of two ratings, in the order of the tables"`
	Pairs      []AgreementPair `json:"pairs" nullable:"false" doc:"Pairs of persons with enough common units, the most first"`
}

// AgreementLine is the agreement on one character, or on several put together.
type AgreementLine struct {
	Name    string `json:"name" doc:"Id of the region or character; empty: all"`
	Metric  string `json:"metric" enum:"nominal,interval" doc:"How far two ratings are apart: nominal counts any difference as one, interval squares the difference of counts"`
	Persons int    `json:"persons" doc:"Persons whose ratings entered"`
	// Alpha is Krippendorff's, of several characters each against its own chance (confidence.Stratified).
	Alpha Coefficient `json:"alpha" doc:"Krippendorff's alpha with missing data (Krippendorff 2011); of several characters each against its own chance"`
	// Fleiss is only where every unit has the same number of ratings; FleissWhy says why it is not, and FleissNote the same in words, which
	// the API fills in: figures of before codes hold it in English.
	Fleiss     *Coefficient  `json:"fleiss,omitempty" doc:"Fleiss' kappa (Fleiss 1971), where every unit has the same number of ratings"`
	FleissWhy  *review.Coded `json:"fleiss_why,omitempty" doc:"Why there is none: units-fleiss, with the least and the most ratings of a unit"`
	FleissNote string        `json:"fleiss_note,omitempty" doc:"fleiss_why, in words"`
}

// AgreementPair is how two persons agree on what both rated.
type AgreementPair struct {
	A     string `json:"a" doc:"Person id"`
	B     string `json:"b" doc:"Person id"`
	Units int    `json:"units" doc:"Units that both rated"`
	Same  int    `json:"same" doc:"Units on which both hold the same state"`
	// Kappa is Cohen's, weighted for counts by the difference, each character against its own chance.
	Kappa Coefficient `json:"kappa" doc:"Cohen's kappa (Cohen 1960), for counts weighted by the difference (Cohen 1968), each character against its own chance"`
}

// Coefficient is a coefficient of agreement: 1 is perfect, 0 what chance would give.
type Coefficient struct {
	Value         *float64             `json:"value" nullable:"true" doc:"1 is perfect, 0 what chance would give, below 0 less; null where it is not defined"`
	Observed      float64              `json:"observed" doc:"Observed disagreement"`
	Expected      float64              `json:"expected" doc:"Disagreement expected by chance"`
	Units         int                  `json:"units" doc:"Units with at least two ratings"`
	Ratings       int                  `json:"ratings" doc:"Ratings of those units"`
	StandardError float64              `json:"standard_error,omitempty" doc:"Of the value: of alpha by leaving out one specimen at a time (Tukey 1958), of Cohen's kappa after Fleiss, Cohen and Everitt (1969); left out where it is not known"`
	Warnings      []confidence.Warning `json:"warnings" nullable:"false"`
}

func coefficientOf(a confidence.Agreement) Coefficient {
	c := Coefficient{Observed: a.Observed, Expected: a.Expected, Units: int(a.Cases), Ratings: int(a.Ratings),
		StandardError: a.StandardError, Warnings: nonNilWarnings(a.Warnings)}
	if a.OK {
		c.Value = &a.Value
	}
	return c
}

// LeastCommon is how many units two persons must both have rated before their agreement is shown. Our own choice, no
// source: below, a single rating moves kappa by a tenth or more.
const LeastCommon = 10

// Agree computes the agreement on specimens whose submissions are all closed.
func Agree(j *judgement.Judge, specimens []review.Closed, r review.Reliability, list map[string]float64) (Agreement, error) {
	survey := NewSurvey(j, r, list)
	for i := range specimens {
		if err := survey.Add(&specimens[i]); err != nil {
			return Agreement{}, err
		}
	}
	return survey.Agreement()
}

// unit is one character of one specimen with a rating by each person.
type unit struct {
	specimen  int
	character int
	ratings   []rating
}

type rating struct {
	person string
	state  int
}

// heldBy are the reports that tell what a person holds to be true, one of each person, in the order of persons.
func (it item) heldBy(looks Looks, observer bool) []said {
	first := it.firstStated()
	var held []said
	for i, s := range it.said {
		stated := s.report.Kind == confidence.Stated && !s.report.Blind
		switch {
		case s.held() == confidence.NoState:
			continue
		case stated && !observer:
			continue
		case stated && looks == LooksBlind && i != first:
			continue // who states a character that stands there already has been shown it
		case !stated && s.report.Blind != (looks == LooksBlind):
			continue
		}
		held = s.into(held, looks)
	}
	slices.SortFunc(held, func(a, b said) int { return cmp.Compare(a.person, b.person) })
	return held
}

// firstStated is the place of the observation that was made first, or -1.
func (it item) firstStated() int {
	first := -1
	for i, s := range it.said {
		if s.report.Kind == confidence.Stated && !s.report.Blind && (first < 0 || s.at.Before(it.said[first].at)) {
			first = i
		}
	}
	return first
}

// into puts a report among others, of which each person keeps one: blind the first, shown the last.
func (s said) into(held []said, looks Looks) []said {
	at := slices.IndexFunc(held, func(h said) bool { return h.person == s.person })
	switch {
	case at < 0:
		return append(held, s)
	case s.at.Before(held[at].at) == (looks == LooksBlind):
		held[at] = s
	}
	return held
}

// held is the state that a report holds to be true, or confidence.NoState.
func (s said) held() int {
	if s.report.Kind == confidence.Disputed {
		return s.report.Better
	}
	return s.report.State
}

func agreementSet(j *judgement.Judge, byCharacter [][]unit, looks Looks, observer bool) (AgreementSet, error) {
	set := AgreementSet{Looks: looks, Observer: observer, Regions: []AgreementLine{}, Characters: []AgreementLine{}, Pairs: []AgreementPair{}}
	var err error
	if set.Overall, err = together(j, "", byCharacter); err != nil {
		return set, err
	}
	for _, region := range j.Tables().Regions() {
		line, err := together(j, region, inRegion(j, region, byCharacter))
		if err != nil {
			return set, err
		}
		if line.Alpha.Units > 0 {
			set.Regions = append(set.Regions, line)
		}
	}
	for c, of := range byCharacter {
		if len(of) == 0 {
			continue
		}
		line, err := onCharacter(j, c, of)
		if err != nil {
			return set, err
		}
		set.Characters = append(set.Characters, line)
	}
	set.Pairs, err = pairs(j, byCharacter)
	return set, err
}

// inRegion leaves the units of one region of the body.
func inRegion(j *judgement.Judge, region string, byCharacter [][]unit) [][]unit {
	found := make([][]unit, len(byCharacter))
	for c, of := range byCharacter {
		if j.Tables().Characters[c].Region == region {
			found[c] = of
		}
	}
	return found
}

func onCharacter(j *judgement.Judge, c int, units []unit) (AgreementLine, error) {
	metric := confidence.NominalMetric
	line := AgreementLine{Name: j.Tables().Characters[c].ID, Metric: "nominal", Persons: personsIn(units)}
	if j.Tables().Characters[c].Kind == diagnosis.KindCount {
		line.Metric, metric = "interval", confidence.IntervalMetric
	}
	alpha, err := confidence.AlphaWithError(valuesOf(units), metric)
	if err != nil {
		return line, err
	}
	line.Alpha = coefficientOf(alpha)
	only := make([][]unit, len(j.Tables().Characters))
	only[c] = units
	return line, addFleiss(j, &line, only)
}

// together takes the characters apart by their own chance. Any difference counts as one: steps of a count and other
// shapes of an antenna have no unit in common.
func together(j *judgement.Judge, name string, byCharacter [][]unit) (AgreementLine, error) {
	line := AgreementLine{Name: name, Metric: "nominal"}
	values, specimens := make([][][]float64, len(byCharacter)), make([][]int, len(byCharacter))
	var all []unit
	for c, of := range byCharacter {
		values[c], all = valuesOf(of), append(all, of...)
		for _, u := range of {
			specimens[c] = append(specimens[c], u.specimen)
		}
	}
	alpha, err := confidence.StratifiedAlpha(values, specimens, confidence.NominalMetric)
	if err != nil {
		return line, err
	}
	line.Persons, line.Alpha = personsIn(all), coefficientOf(alpha)
	return line, addFleiss(j, &line, byCharacter)
}

func valuesOf(units []unit) [][]float64 {
	values := make([][]float64, len(units))
	for i, u := range units {
		for _, r := range u.ratings {
			values[i] = append(values[i], float64(r.state))
		}
	}
	return values
}

func personsIn(units []unit) int {
	seen := map[string]bool{}
	for _, u := range units {
		for _, r := range u.ratings {
			seen[r.person] = true
		}
	}
	return len(seen)
}

// Unnamed is agreement without pairs of other people: what remains is of all, or of a person who reads it.
func (a Agreement) Unnamed(reader string) Agreement {
	others := func(one, other string) bool {
		if one == reader || other == reader {
			return false
		}
		a.PairsLeftOut = true
		return true
	}
	a.Sets = slices.Clone(a.Sets)
	for i := range a.Sets {
		a.Sets[i].Pairs = slices.DeleteFunc(slices.Clone(a.Sets[i].Pairs), func(p AgreementPair) bool { return others(p.A, p.B) })
	}
	a.Copying.Pairs = slices.DeleteFunc(slices.Clone(a.Copying.Pairs), func(p CopyingPair) bool { return others(p.A, p.B) })
	return a
}

// Persons are all whom the figures name.
func (a *Agreement) Persons() []string {
	var ids []string
	for _, set := range a.Sets {
		for _, p := range set.Pairs {
			ids = append(ids, p.A, p.B)
		}
	}
	for _, p := range a.Copying.Pairs {
		ids = append(ids, p.A, p.B)
	}
	return ids
}
