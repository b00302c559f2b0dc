package judgement

import (
	"cmp"
	"math"
	"slices"
	"strconv"

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
	// Family is the accepted name of the proposed family, "" where none was; Remark says what became of an old name.
	Family string `json:"family"`
	Remark string `json:"remark,omitempty"`
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
	// Warnings say what the number leaves out or takes for granted.
	Warnings []string `json:"warnings"`
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
		Remark: g.remark, Ranking: j.ranked(order)}
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
	a.Warnings = append(make([]string, 0, len(g.warnings)), g.warnings...)
	return a
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
		g.warnings = append(g.warnings, "No character is stated: the number is only how common the family is.")
	case 1:
		s.text = append(append(s.text[:0], "Only one character is stated, "...), j.tables.Characters[seen[0]].ID...)
		s.text = append(s.text, ": that is thin, and one slip would change the name. State a few more."...)
		g.warnings = append(g.warnings, string(s.text))
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
		s.words = s.words[:0]
		counted := 0.0
		for i, c := range s.posterior.Seen {
			if slices.Contains(j.index.characters[c].dependent, d) {
				s.words = append(s.words, j.tables.Characters[c].ID)
				counted += s.weights.Characters[i]
			}
		}
		if len(s.words) < 2 {
			continue
		}
		exponent := j.tables.Dependent[d].Exponent
		discount := math.Abs(counted) * (1 - exponent) / exponent
		if discount < discountToTell {
			continue
		}
		s.text = append(appendList(s.text[:0], s.words, " and "), " partly say the same, so that each counts less: together by about "...)
		s.text = append(strconv.AppendFloat(s.text, discount, 'f', 0, 64), " decibans."...)
		s.gathered.warnings = append(s.gathered.warnings, string(s.text))
	}
}

func (j *Judge) warnAboutGaps(s *scratch) {
	g := &s.gathered
	s.words = s.words[:0]
	for _, c := range s.posterior.Seen {
		if slices.ContainsFunc(j.index.families[g.hypothesis].forms, func(f indexedForm) bool { return f.cells[c].Cell == nil }) {
			s.words = append(s.words, j.tables.Characters[c].ID)
		}
	}
	if len(s.words) == 0 {
		return
	}
	s.text = append(append(append(s.text[:0], "The tables of "...), g.family.Name...), " lack "...)
	s.text = append(appendList(s.text, s.words, " and "), ": the average of all families stands in for them."...)
	g.warnings = append(g.warnings, string(s.text))
}

// appendList joins words as in "a, b and c", with what stands before the last.
func appendList(text []byte, words []string, last string) []byte {
	for i, w := range words {
		switch {
		case i == 0:
		case i == len(words)-1:
			text = append(text, last...)
		default:
			text = append(text, ", "...)
		}
		text = append(text, w...)
	}
	return text
}
