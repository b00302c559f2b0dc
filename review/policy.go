package review

import (
	"maps"
	"math"
	"slices"
	"strconv"
	"time"

	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// Policy says when a determination settles. It is stored, versioned and shown.
type Policy struct {
	Version int `json:"version"` // sequence in the policy's own stream; 0 is DefaultPolicy, never stored
	// Reviewers is how many independent reviewers must agree with the name, 1 to 10; with OneSuffices how many do in place of that
	// one, from 0, where no number does.
	Reviewers int `json:"reviewers"`
	// OneSuffices: one reviewer who agrees is enough where the policy names them for the family, or where they had the specimen in
	// hand. Policies of a time when that could not be said go without.
	OneSuffices bool `json:"one_suffices,omitempty" doc:"One reviewer who agrees is enough where the policy names them for the family, or where they had the specimen in hand"`
	// Confidence is the least posterior probability of the family, 0.5 to 0.999.
	Confidence float64 `json:"confidence"`
	// ExcludedNeedsReason: an excluded contradiction passes only with a written reply.
	ExcludedNeedsReason bool `json:"excluded_needs_reason"`
	// Experts are families that only settle with, or on the authority of, one of the persons named.
	Experts map[string][]string `json:"experts"`
	// HoldMinutes is how long a hold lasts, 5 to 1440.
	HoldMinutes int `json:"hold_minutes"`
	// HoldsAtOnce is how many submissions one person may hold at once, 1 to 50. 0, in a policy of a time without such a
	// bound, is that of DefaultPolicy: see MostHolds.
	HoldsAtOnce int `json:"holds_at_once,omitempty"`
	// BlindRate is the probability, 0 to 0.5, that a reviewer looks at one character of a submission blind before
	// anything else of it is shown. Without blind checks nobody can be told from somebody who confirms without looking.
	BlindRate float64 `json:"blind_rate"`
	// RecheckRate is the probability, 0 to 0.5, that a closed determination is looked at again by a blind panel.
	RecheckRate float64 `json:"recheck_rate"`
	// Panel is how many have to look at it, 3, 5, 7 or 9.
	Panel int `json:"panel"`
	// List is the club's own list of what is found here: a weight above 0, at most a million, for each family, in place
	// of the square root of the number of described species. A family of the tables that is not on it gets a tenth of the
	// least weight, and all of these together at most a fiftieth of the list. Empty: the tables decide.
	List map[string]float64 `json:"list,omitempty"`
	// Mix says of what the prior is mixed: a share for each part, together 1. Parts are the faunas of the tables by their ids,
	// judgement.MixList and judgement.MixWorld. Empty: the list alone, or the tables where that is empty.
	Mix map[string]float64 `json:"mix,omitempty"`
	// ReliabilityShown says what curators are shown of how reliably people read; empty, in a policy of a time when that could not
	// be said, is ShownTotals. Everybody sees their own.
	ReliabilityShown ReliabilityShown `json:"reliability_shown,omitempty" enum:",totals,names" doc:"What curators are shown of how reliably people read: totals of roles, or each person by name. Everybody sees their own"`

	// Places is how coarse places are told outside the house. Policies of a time when that could not be said go by DefaultGrid.
	Places Places `json:"places,omitzero"`

	// Reason is why it was set; empty in DefaultPolicy, of which whoever shows it says so.
	Reason string    `json:"reason"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
}

// DefaultPolicy is in force until a curator sets one. Its values are our own choice, common practice, no source: characters
// that make a name right nineteen times in twenty, one person besides the determiner who is named for the family (clubs have
// one for each) or has the specimen in hand, three submissions in one hand, one look in ten blind, and one closed
// determination in twenty before a panel of three.
func DefaultPolicy() Policy {
	return Policy{OneSuffices: true, Confidence: 0.95, ExcludedNeedsReason: true, Experts: map[string][]string{}, HoldMinutes: 30, HoldsAtOnce: 3,
		BlindRate: 0.1, RecheckRate: 0.05, Panel: 3, ReliabilityShown: ShownTotals}
}

// MostHolds is how many submissions one person may hold at once.
func (p Policy) MostHolds() int {
	if p.HoldsAtOnce == 0 {
		return DefaultPolicy().HoldsAtOnce
	}
	return p.HoldsAtOnce
}

// Expert says whether the policy names a person for a family.
func (p Policy) Expert(family, person string) bool {
	for _, named := range p.Experts[family] {
		if named == person {
			return true
		}
	}
	return false
}

// Check returns every field out of its range, as a KindInvalid error.
func (p Policy) Check() error {
	var problems Problems
	switch {
	case p.OneSuffices && (p.Reviewers < 0 || p.Reviewers > 10):
		problems.Addf("reviewers", "must be from 0 to 10")
	case !p.OneSuffices && (p.Reviewers < 1 || p.Reviewers > 10):
		problems.Addf("reviewers", "must be from 1 to 10")
	}
	if !(p.Confidence >= 0.5 && p.Confidence <= 0.999) {
		problems.Addf("confidence", "must be from 0.5 to 0.999")
	}
	if p.HoldMinutes < 5 || p.HoldMinutes > 1440 {
		problems.Addf("hold_minutes", "must be from 5 to 1440 minutes")
	}
	if p.HoldsAtOnce < 1 || p.HoldsAtOnce > 50 {
		problems.Addf("holds_at_once", "must be from 1 to 50")
	}
	if !(p.BlindRate >= 0 && p.BlindRate <= 0.5) {
		problems.Addf("blind_rate", "must be from 0 to 0.5")
	}
	if !(p.RecheckRate >= 0 && p.RecheckRate <= 0.5) {
		problems.Addf("recheck_rate", "must be from 0 to 0.5")
	}
	if p.RecheckRate > 0 && (p.Panel < 3 || p.Panel > 9 || p.Panel%2 == 0) {
		problems.Addf("panel", "must be 3, 5, 7 or 9 people, so that more than half can agree")
	}
	switch p.ReliabilityShown {
	case "", ShownTotals, ShownNames:
	default:
		problems.Addf("reliability_shown", "must be totals or names")
	}
	p.checkList(&problems)
	p.checkMix(&problems)
	p.Places.check(&problems)
	if len(p.Experts) > 1000 {
		problems.Addf("experts", "at most 1000 families")
	}
	CheckText(&problems, "reason", p.Reason, 1, MaxNote)
	return problems.Err()
}

// CheckPrior returns what is wrong with List and Mix alone, as a KindInvalid error.
func (p Policy) CheckPrior() error {
	var problems Problems
	p.checkList(&problems)
	p.checkMix(&problems)
	return problems.Err()
}

func (p Policy) checkList(problems *Problems) {
	if len(p.List) > 1000 {
		problems.Addf("list", "at most 1000 families")
	}
	for _, family := range slices.Sorted(maps.Keys(p.List)) {
		if w := p.List[family]; !(w > 0 && w <= 1e6) {
			problems.Addf("list."+family, "must be a weight above 0, at most 1000000")
		}
	}
}

// mixTolerance is what shares that people write may miss 1 by: 0.33 three times.
const mixTolerance = 0.011

func (p Policy) checkMix(problems *Problems) {
	if len(p.Mix) == 0 {
		return
	}
	if len(p.Mix) > 50 {
		problems.Addf("mix", "at most 50 parts")
	}
	total := 0.0
	for _, part := range slices.Sorted(maps.Keys(p.Mix)) {
		w := p.Mix[part]
		if !(w > 0 && w <= 1) {
			problems.Addf("mix."+part, "must be a share above 0, at most 1; leave it out for none")
			continue
		}
		total += w
	}
	if math.Abs(total-1) > mixTolerance {
		problems.Addf("mix", "the shares must sum to 1, and sum to %.4g", total)
	}
	if p.Mix[judgement.MixList] > 0 && len(p.List) == 0 {
		problems.Addf("mix."+judgement.MixList, "the club’s own list is empty; fill it in, or give it no share")
	}
}

// Prior are the weights by family that stand for how common each is in these tables; nil where the tables decide alone.
func (p Policy) Prior(t *diagnosis.Tables) map[string]float64 {
	return judgement.Prior(p.Mix, p.List, t)
}

// Missing says what a submission still needs before it settles by itself under the policy; nothing means
// that it settles. Characters come first, voices second. It looks at opinions, confidence and contradictions, not at the
// status; siblings are all submissions of the specimen, by which names are somebody's own.
func (p Policy) Missing(s *Submission, siblings []Submission) []Coded {
	missing := append(p.missingCharacters(s), p.missingVoices(s, siblings)...)
	for _, o := range s.counted(siblings) {
		if o.Kind == OpinionAnother {
			missing = append(missing, Code("missing-another", "family", o.Family))
		}
	}
	return missing
}

// missingCharacters is what the characters lack.
func (p Policy) missingCharacters(s *Submission) []Coded {
	if s.Assessment == nil {
		return []Coded{Code("missing-not-assessed")}
	}
	var missing []Coded
	if s.Assessment.Confidence < p.Confidence {
		missing = append(missing, Code("missing-carry", "p", thousandths(roundDown(s.Assessment.Confidence)), "least", thousandths(p.Confidence)))
	}
	return append(missing, p.contradicted(s)...)
}

// contradicted is which contradictions nobody has replied to.
func (p Policy) contradicted(s *Submission) (missing []Coded) {
	for _, c := range p.Unanswered(s) {
		missing = append(missing, Code("missing-contradiction", "kind", string(c.Kind), "character", c.Character))
	}
	return missing
}

// missingVoices is whose agreement is missing.
func (p Policy) missingVoices(s *Submission, siblings []Submission) []Coded {
	agreeing, after := s.agreeing(siblings)
	family := s.Determination.Family
	named := p.Experts[family]
	if p.OneSuffices && slices.ContainsFunc(agreeing, func(person string) bool { return p.Expert(family, person) || s.InHand(person) }) {
		return nil
	}
	enough := len(agreeing) >= p.Reviewers && p.Reviewers > 0
	before := func(c Coded) Coded { // they see what others say; so many agreed after that
		if after == 0 {
			return c
		}
		return c.with("after", strconv.Itoa(after))
	}
	if p.OneSuffices {
		if enough && len(named) == 0 {
			return nil
		}
		return []Coded{before(p.missingOne(family, len(agreeing)))}
	}
	var missing []Coded
	if n := p.Reviewers - len(agreeing); n > 0 {
		missing = append(missing, before(Code("missing-more", "count", strconv.Itoa(n))))
	}
	if len(named) > 0 && !anyOf(named, agreeing) {
		missing = append(missing, Code("missing-one-of-named", "family", family))
	}
	return missing
}

// missingOne says whose one agreement is missing, and which number would do in its place.
func (p Policy) missingOne(family string, agreeing int) Coded {
	switch {
	case len(p.Experts[family]) > 0:
		return Code("missing-named", "family", family)
	case p.Reviewers > 0:
		return Code("missing-in-hand-or", "count", strconv.Itoa(p.Reviewers-agreeing))
	}
	return Code("missing-in-hand", "family", family)
}

// Unanswered are the contradictions that stop a settlement: excluded ones where the policy asks for a reason,
// combinations and incompatible statements, as long as nobody has replied to them.
func (p Policy) Unanswered(s *Submission) []judgement.Contradiction {
	if s.Assessment == nil {
		return nil
	}
	var open []judgement.Contradiction
	for _, c := range s.Assessment.Contradictions {
		if p.stops(c.Kind) && !s.replied(c) {
			open = append(open, c)
		}
	}
	return open
}

func (p Policy) stops(kind judgement.ContradictionKind) bool {
	switch kind {
	case judgement.Excluded:
		return p.ExcludedNeedsReason
	case judgement.Combination, judgement.Incompatible:
		return true
	}
	return false
}

func (s *Submission) replied(c judgement.Contradiction) bool {
	for _, r := range s.Replies {
		if r.Kind == c.Kind && r.Character == c.Character && r.State == c.State {
			return true
		}
	}
	return false
}

// Agreeing are the persons whose latest opinion agrees with the name, each a voice of its own: not those whose own name it is,
// nor those who agreed after they had been shown what others said.
func (s *Submission) Agreeing(siblings []Submission) []string {
	own, _ := s.agreeing(siblings)
	return own
}

// agreeing are those who agree, and how many more do so after opening.
func (s *Submission) agreeing(siblings []Submission) (own []string, after int) {
	for _, o := range s.counted(siblings) {
		switch {
		case o.Kind != OpinionAgrees:
		case o.AfterOpening:
			after++
		default:
			own = append(own, o.By)
		}
	}
	return own, after
}

// roundDown keeps three decimals and never rounds a confidence up to the limit that it misses.
func roundDown(p float64) float64 { return math.Floor(p*1000) / 1000 }

func anyOf(named, present []string) bool {
	for _, n := range named {
		for _, p := range present {
			if n == p {
				return true
			}
		}
	}
	return false
}
