package review

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"revidit/review/confidence"
)

// Assessment is what the tables say about a specimen: how sure its name is, what speaks against it, why, and what to
// look at next. It is made of plain values, the same for the same evidence, tables and method, and safe to store.
type Assessment struct {
	Group      string `json:"group"`
	Release    string `json:"release"`
	TablesHash string `json:"tables_hash"`
	Method     string `json:"method"`
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
	// Warnings say what the number leaves out or takes for granted.
	Warnings []string `json:"warnings"`
}

// Ranked is a family with its probability.
type Ranked struct {
	Family string  `json:"family"`
	P      float64 `json:"p"`
}

// Probabilities are rounded to nine decimals and kept off 0 and 1.
const (
	perUnit = 1e9
	leastP  = 1 / perUnit
)

// Assess judges the evidence. Characters, states and families that the tables do not know are left out with a warning:
// check input with CheckState first. It never fails.
func (j *Judge) Assess(e Evidence) Assessment {
	g := j.gather(e)
	p := j.model.Posterior(g.observations, sexOf(e.Sex), j.weights(e.Prior, g))
	a := Assessment{Group: j.tables.Group.ID, Release: j.tables.Group.Release, TablesHash: j.tables.Hash, Method: Method,
		Remark: g.remark, Ranking: j.ranking(p)}
	subject := j.hypothesisNamed(a.Ranking[0].Family)
	if g.family != nil {
		a.Family = g.family.Name
		subject = j.tables.FamilyIndex(g.family.Name)
	}
	a.Confidence = rounded(p.P[subject])
	a.Contradictions = j.contradictions(g, e.Views, p)
	a.explain(j, p, subject)
	a.Next = j.next(p, e)
	j.warnAboutNumber(g, p)
	a.Warnings = append([]string{}, g.warnings...)
	return a
}

// briefRanking and briefNext are how much of an assessment an event keeps: the rest can be computed again.
const (
	briefRanking = 5
	briefNext    = 8
)

// Brief is what events store of an assessment: the five most probable families, all contradictions and weights, and the
// eight best characters to look at.
func (a Assessment) Brief() Assessment {
	a.Ranking = slices.Clone(a.Ranking[:min(len(a.Ranking), briefRanking)])
	a.Next = slices.Clone(a.Next[:min(len(a.Next), briefNext)])
	return a
}

func (j *Judge) ranking(p *confidence.Posterior) []Ranked {
	ranking := make([]Ranked, len(p.P))
	for h, v := range p.P {
		ranking[h] = Ranked{Family: j.name(h), P: rounded(v)}
	}
	slices.SortFunc(ranking, func(a, b Ranked) int {
		return cmp.Or(cmp.Compare(b.P, a.P), strings.Compare(a.Family, b.Family))
	})
	return ranking
}

// rounded cuts the digits in which processors may differ, so that stored numbers can be computed again.
func rounded(p float64) float64 {
	return min(max(math.Round(p*perUnit)/perUnit, leastP), 1-leastP)
}

func (j *Judge) name(hypothesis int) string {
	if hypothesis == j.model.None() {
		return NoneOfThese
	}
	return j.tables.Families[hypothesis].Name
}

func (j *Judge) hypothesisNamed(name string) int {
	if name == NoneOfThese {
		return j.model.None()
	}
	return j.tables.FamilyIndex(name)
}

// warnAboutNumber says what the probability takes for granted.
func (j *Judge) warnAboutNumber(g *gathered, p *confidence.Posterior) {
	if len(p.Seen) == 0 {
		g.warn("No character is stated: the number is only how common the family is.")
	}
	for _, d := range j.tables.Dependent {
		var together []string
		for _, c := range p.Seen {
			if id := j.tables.Characters[c].ID; slices.Contains(d.Characters, id) {
				together = append(together, id)
			}
		}
		if len(together) > 1 {
			g.warn("%s partly say the same, so that each counts less.", listed(together))
		}
	}
	if g.family != nil {
		j.warnAboutGaps(g, p)
	}
	if slices.Max(p.P) == p.P[j.model.None()] {
		g.warn("No family of the tables explains these characters well: some are misread, or the family is not in the tables.")
	}
}

func (j *Judge) warnAboutGaps(g *gathered, p *confidence.Posterior) {
	var missing []string
	for _, c := range p.Seen {
		id := j.tables.Characters[c].ID
		for i := range g.family.Forms {
			if g.family.Forms[i].Cells[id] == nil {
				missing = append(missing, id)
				break
			}
		}
	}
	if len(missing) > 0 {
		g.warn("The tables of %s lack %s: the average of all families stands in for them.", g.family.Name, listed(missing))
	}
}

// listed joins words as in "a, b and c".
func listed(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
