package judgement

import (
	"fmt"
	"math"
	"slices"

	"revidit/review/diagnosis"
)

// widerQuestions is how many characters of the wider group are asked for: few, because they only have to tell whether
// these tables are the right ones at all.
const widerQuestions = 3

// wider is the group of tables whose one taxon these tables divide, such as the orders of insects for the families of
// beetles.
type wider struct {
	judge     *Judge // nil: none
	group     string
	questions []Next
}

// Widen tells the judge of the wider group that its tables name (Group.Within): where nothing fits well, Assess asks
// first for what tells these tables' taxon from the others of that group. Other judges, and a wider group that does not know
// the taxon, change nothing. It is called before the judge is used, once.
func (j *Judge) Widen(w *Judge) {
	if t := w.tables; t.Group.ID == j.tables.Group.Within && t.FamilyIndex(j.tables.Group.Taxon) >= 0 {
		j.wider = wider{judge: w, group: t.Group.ID, questions: w.telling(j.tables.Group.Taxon)}
	}
}

// Wider are the tables of the wider group; nil where the judge knows none.
func (j *Judge) Wider() *diagnosis.Tables {
	if j.wider.judge == nil {
		return nil
	}
	return j.wider.judge.tables
}

// fitLine is from which probability of "none of these" on no family is said to fit well: half as much again as before anything
// was seen. Of the stored specimens of beetles one in a hundred reaches it.
const fitLine = 1.5 * nonePrior

// unfit says whether no family of the tables explains what was stated well: "none of these" has gained, or the most probable
// family itself never shows one of the states. That "none of these" gains by one character alone says only that its state is
// rare: a light organ is explained well by the fireflies.
func (j *Judge) unfit(s *scratch) bool {
	p := &s.posterior
	if len(p.Seen) == 0 {
		return false
	}
	if len(p.Seen) > 1 && p.P[j.model.None()] >= fitLine {
		return true
	}
	first := p.Rival(j.model.None())
	forms := j.index.families[first].fit[s.gathered.sex]
	return slices.ContainsFunc(s.gathered.findings, func(f Finding) bool {
		share, known := f.share(forms)
		return known && share == 0 && !f.Character.NeverExcludes
	})
}

// WiderQuestions are what is asked first of who is new: characters of the wider group, of which Next.Group is the id; none where
// the judge knows no wider group.
func (j *Judge) WiderQuestions() []Next { return slices.Clone(j.wider.questions) }

// CheckWider says what is wrong with stating a character of the wider group.
func (j *Judge) CheckWider(character, state string) error {
	if j.wider.judge == nil {
		return fmt.Errorf("there is no wider group of which %s could be asked", character)
	}
	return j.wider.judge.CheckState(character, state)
}

// widerFirst are the questions of the wider group where they come first: what is stated fits nothing well, or a newcomer
// has stated it. What is answered is not asked again.
func (j *Judge) widerFirst(s *scratch, e *Evidence) []Next {
	if !e.Newcomer && !s.unfit {
		return nil
	}
	if len(e.Wider) == 0 {
		return j.wider.questions
	}
	return slices.DeleteFunc(j.WiderQuestions(), func(n Next) bool {
		return slices.ContainsFunc(e.Wider, func(s Stated) bool { return s.Character == n.Character })
	})
}

// warnAboutWider says that what was answered fits another taxon of the wider group better than this one.
func (j *Judge) warnAboutWider(g *gathered, answers []Stated) {
	if len(answers) == 0 || j.wider.judge == nil {
		return
	}
	w := j.wider.judge
	p := w.Posterior(Evidence{Stated: answers})
	likeliest := p.Rival(w.model.None())
	own := w.tables.FamilyIndex(j.tables.Group.Taxon)
	if likeliest == own {
		return
	}
	said := make([]Selected, len(answers))
	for i, a := range answers {
		said[i] = Selected{a.Character, a.State}
	}
	g.warn(Caveat{Kind: CaveatWider, Name: w.index.names[likeliest], Group: j.wider.group, Stated: said})
}

// warnAboutFit says that no family fits well, and what to ask first.
func (j *Judge) warnAboutFit(s *scratch) {
	if !s.unfit {
		return
	}
	c := Caveat{Kind: CaveatUnfit}
	if len(j.wider.questions) > 0 {
		c.Group = j.wider.group
		for i := range j.wider.questions {
			c.Characters = append(c.Characters, j.wider.questions[i].Character)
		}
	}
	s.gathered.warn(c)
}

// telling are the characters that tell a taxon with the least effort from those that are easily taken for it: its
// look-alikes in these tables, or all others where it has none. Bits of each are about "this taxon or another", both equally
// likely and the others as well; each next one is chosen by those that the former leave open, and says nothing of the
// same (Dependent).
func (j *Judge) telling(taxon string) []Next {
	at := j.tables.FamilyIndex(taxon)
	looks := j.careful()
	weights := j.mistakenFor(at)
	bits := make([][]float64, len(j.tables.Characters))
	for c := range bits {
		bits[c] = make([]float64, len(weights))
		for h := range weights {
			if h != at && records(&j.tables.Families[at], j.tables.Characters[c].ID) && records(&j.tables.Families[h], j.tables.Characters[c].ID) {
				bits[c][h] = looks.Bits(c, at, h)
			}
		}
	}
	open := slices.Clone(weights)
	var questions []Next
	for range widerQuestions {
		best := j.mostTold(bits, open)
		if best < 0 {
			break
		}
		c := &j.tables.Characters[best]
		questions = append(questions, Next{Character: c.ID, Bits: math.Round(mean(bits[best], weights)*bitSteps) / bitSteps, Effort: c.Effort,
			Group: j.tables.Group.ID})
		for h := range open {
			open[h] *= 1 - bits[best][h]
		}
		for other := range bits {
			if other == best || j.together(best, other) {
				bits[other] = make([]float64, len(weights))
			}
		}
	}
	return questions
}

// mistakenFor weighs the families that are easily taken for one, each with 1.
func (j *Judge) mistakenFor(at int) []float64 {
	weights := make([]float64, len(j.tables.Families))
	for _, alike := range j.tables.Families[at].LookAlikes {
		weights[j.tables.FamilyIndex(alike.Family)] = 1
	}
	if len(j.tables.Families[at].LookAlikes) == 0 {
		for h := range weights {
			weights[h] = 1
		}
	}
	weights[at] = 0
	return weights
}

// together says whether two characters depend on each other.
func (j *Judge) together(a, b int) bool {
	return slices.ContainsFunc(j.index.characters[a].dependent, func(d int) bool {
		return slices.Contains(j.index.characters[b].dependent, d)
	})
}

// mostTold is the character with the most bits for each glance of those that are left open, or -1.
func (j *Judge) mostTold(bits [][]float64, open []float64) int {
	best, most := -1, leastBits
	for c := range bits {
		if j.tables.Characters[c].Kind == diagnosis.KindLength {
			continue // a size tells no order
		}
		if worth := mean(bits[c], open) / j.tables.Characters[c].Effort; worth > most {
			best, most = c, worth
		}
	}
	return best
}

func mean(x, weights []float64) float64 {
	total, sum := 0.0, 0.0
	for i, w := range weights {
		total += w
		sum += w * x[i]
	}
	if total == 0 {
		return 0
	}
	return sum / total
}
