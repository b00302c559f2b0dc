package judgement

import (
	"cmp"
	"math"
	"slices"

	"revidit/review/confidence"
)

// Assessment is what the tables say about a specimen: how sure its name is, what speaks against it, why, and what to
// look at next. It is made of plain values, the same for the same evidence, tables and method, and safe to store.
type Assessment struct {
	Group      string `json:"group"`
	Release    string `json:"release"`
	TablesHash string `json:"tables_hash"`
	// Method is by which it was made (Method, SecondMethod, FirstMethod).
	Method string `json:"method" doc:"Version of the arithmetic by which it was made: mixture-posterior/1, or without a name, where misreading had no direction; mixture-posterior/2 where it has one; mixture-posterior/3 where silence also counts beside what others state, and is learnt"`
	// Reliability is the version of the group's snapshot by which people were weighed, Policy that of the policy whose
	// list was the prior; 0 for what the program starts with.
	Reliability int `json:"reliability"`
	Policy      int `json:"policy"`
	// Family is the accepted name of the proposed family, "" where none was; Remark says what became of an old name, in assessments of
	// a time that stored words. The API fills it in.
	Family string `json:"family"`
	Remark string `json:"remark,omitempty" doc:"What became of an old name that was proposed, in the language of Accept-Language or else of the caller"`
	// Sex is that of the specimen, male or female, where it is known: it decides which forms of the family it can have.
	Sex string `json:"sex,omitempty" doc:"Of the specimen, male or female, where it is known"`
	// Confidence is the probability of Family, or of the first in Ranking where none is proposed.
	Confidence float64 `json:"confidence"`
	// Ranking holds all families and NoneOfThese, the most probable first, then by name.
	Ranking        []Ranked        `json:"ranking"`
	Contradictions []Contradiction `json:"contradictions"`
	// Rival is the most probable alternative, which Why weighs against; Odds are the log odds against it in decibans.
	Rival string   `json:"rival"`
	Odds  float64  `json:"odds"`
	Why   []Weight `json:"why"`
	Next  []Next   `json:"next"`
	// Forms are those of the first family in Ranking, the likeliest first: a hint, never a determination.
	Forms []Likeness `json:"forms,omitempty" doc:"Forms of the most probable family, the likeliest first: a hint, never a determination"`
	// Caveats are what the number leaves out or takes for granted. Warnings say the same in words, in assessments of a time that stored
	// these; nil in others. The API fills them in.
	Caveats  []Caveat `json:"caveats,omitzero" nullable:"false" doc:"What the number leaves out or takes for granted, as codes with their values"`
	Warnings []string `json:"warnings,omitzero" nullable:"false" doc:"The caveats in words, in the language of Accept-Language or else of the caller"`
}

// MadeBy is the method by which it was made.
func (a Assessment) MadeBy() string { return cmp.Or(a.Method, FirstMethod) }

// Unscored is an assessment without any number of how sure a name is: what does not fit, and what to look at next, stay.
func (a Assessment) Unscored() Assessment {
	a.Confidence, a.Odds, a.Rival, a.Ranking, a.Why, a.Forms = 0, 0, "", []Ranked{}, []Weight{}, nil
	return a
}

// Ranked is a family with its probability.
type Ranked struct {
	Family string  `json:"family"`
	P      float64 `json:"p"`
}

// PerUnit: probabilities are rounded to nine decimals and kept off 0 and 1.
const PerUnit = 1e9

// Assess judges the evidence. Characters, states and families that the tables do not know are left out with a warning:
// check input with CheckState first. It never fails, and allocates what it returns.
func (j *Judge) Assess(e Evidence) Assessment {
	s := j.borrow()
	defer j.giveBack(s)
	g, p := &s.gathered, &s.posterior
	j.fill(g, &e)
	j.fillViews(s, e.Views)
	j.model.FillPosteriorOf(p, g.weighed(j.weights(e.Prior, g)))
	s.unfit = j.unfit(s)
	order := j.order(s, p)
	a := Assessment{Group: j.tables.Group.ID, Release: j.tables.Group.Release, TablesHash: j.tables.Hash, Method: Method,
		Sex: knownSex(e.Sex), Ranking: j.ranked(order)}
	subject := j.index.byName[order[0]&places]
	if g.family != nil {
		a.Family, subject = g.family.Name, g.hypothesis
	}
	a.Forms = j.forms(s, j.index.byName[order[0]&places])
	a.Confidence = float64(nanos(p.P[subject])) / PerUnit
	a.Contradictions = j.contradictions([]Contradiction{}, s, e.Views != nil)
	a.explain(j, s, subject)
	a.Next = j.next(s, &e)
	j.warnAboutWider(g, e.Wider)
	j.warnAboutNumber(s)
	a.Caveats = append(make([]Caveat, 0, len(g.caveats)), g.caveats...)
	return a
}

// knownSex is a sex that forms can be of, "" for any other word.
func knownSex(sex string) string {
	if sexOf(sex) == confidence.AnySex {
		return ""
	}
	return sex
}

// briefRanking and briefNext are how much of an assessment an event keeps: the rest can be computed again.
const (
	briefRanking = 5
	briefNext    = 8
	briefForms   = 3
)

// Brief is what events store of an assessment: the five most probable families, all contradictions and weights, and the
// eight best characters to look at, and the three likeliest forms.
func (a Assessment) Brief() Assessment {
	a.Ranking = slices.Clone(a.Ranking[:min(len(a.Ranking), briefRanking)])
	a.Next = slices.Clone(a.Next[:min(len(a.Next), briefNext)])
	a.Forms = slices.Clone(a.Forms[:min(len(a.Forms), briefForms)])
	return a
}

// Keys to sort by hold a number above the place among names, which decides between equal ones.
const (
	placeBits = 16
	places    = 1<<placeBits - 1
)

// order returns the hypotheses as keys, the most probable first, then by name: key & places is an element of byName.
func (j *Judge) order(s *scratch, p *confidence.Posterior) []uint64 {
	s.keys = s.keys[:0]
	for place, h := range j.index.byName {
		s.keys = append(s.keys, (PerUnit-nanos(p.P[h]))<<placeBits|uint64(place))
	}
	slices.Sort(s.keys)
	return s.keys
}

func (j *Judge) ranked(order []uint64) []Ranked {
	ranking := make([]Ranked, len(order))
	for i, key := range order {
		ranking[i] = Ranked{Family: j.index.names[j.index.byName[key&places]], P: float64(PerUnit-key>>placeBits) / PerUnit}
	}
	return ranking
}

// nanos cuts the digits of a probability in which processors may differ, so that stored numbers can be computed again.
func nanos(p float64) uint64 {
	return min(max(uint64(math.Round(p*PerUnit)), 1), PerUnit-1)
}

// warnAboutNumber says what the probability takes for granted.
func (j *Judge) warnAboutNumber(s *scratch) {
	g := &s.gathered
	switch seen := s.posterior.Seen; len(seen) {
	case 0:
		g.warn(Caveat{Kind: CaveatNoneStated})
	case 1:
		g.warn(Caveat{Kind: CaveatOneStated, Characters: []string{j.tables.Characters[seen[0]].ID}})
	}
	j.warnAboutFit(s)
	j.warnAboutDependence(s)
	if g.family != nil {
		j.warnAboutGaps(s)
	}
}

// discountToTell is from how many decibans on it is said that characters partly say the same: less moves no decision.
const discountToTell = 1

// warnAboutDependence says which characters of one group weigh less for each other, where that moves the odds in Why, and
// by how much.
func (j *Judge) warnAboutDependence(s *scratch) {
	for d := range j.tables.Dependent {
		s.same = s.same[:0]
		counted := 0.0
		for i, c := range s.posterior.Seen {
			if slices.Contains(j.index.characters[c].dependent, d) {
				s.same = append(s.same, j.tables.Characters[c].ID)
				counted += s.weights.Characters[i]
			}
		}
		if len(s.same) < 2 {
			continue
		}
		exponent := j.tables.Dependent[d].Exponent
		discount := math.Abs(counted) * (1 - exponent) / exponent
		if discount < discountToTell {
			continue
		}
		s.gathered.warn(Caveat{Kind: CaveatSame, Characters: slices.Clone(s.same), Decibans: int(math.RoundToEven(discount))})
	}
}

func (j *Judge) warnAboutGaps(s *scratch) {
	g := &s.gathered
	s.same = s.same[:0]
	for _, c := range s.posterior.Seen {
		if slices.ContainsFunc(j.index.families[g.hypothesis].forms, func(f indexedForm) bool { return f.cells[c].Cell == nil }) {
			s.same = append(s.same, j.tables.Characters[c].ID)
		}
	}
	if len(s.same) > 0 {
		g.warn(Caveat{Kind: CaveatGaps, Family: g.family.Name, Characters: slices.Clone(s.same)})
	}
}
