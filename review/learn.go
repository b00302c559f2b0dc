package review

import (
	"slices"
	"time"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// Closed is a specimen with all its submissions, of which none is before reviewers or its owner any more.
type Closed struct {
	Specimen    Specimen
	Submissions []Submission
}

// closedOf returns a specimen for learning, and false where some submission of it is not closed yet or where none of
// them ever came before reviewers: what was said may change until then. Drafts do not count.
func closedOf(spec *Specimen, submissions []Submission) (Closed, bool) {
	c := Closed{Specimen: *spec}
	for _, s := range submissions {
		if s.OpenedAt == nil {
			continue
		}
		if !s.Closed() {
			return Closed{}, false
		}
		c.Submissions = append(c.Submissions, s)
	}
	return c, len(c.Submissions) > 0
}

// said is one report by a named person.
type said struct {
	person string
	role   Role
	at     time.Time
	report confidence.Verdict // without the person
}

// item is one character of one specimen, with the distribution of its state as the other characters have it.
type item struct {
	specimen  int // which of those taken together
	character int
	prior     []float64
	said      []said
}

// items are what closed submissions say about people, and the latest role of each of these.
func (j *Judge) items(specimens []Closed, w weighing) ([]item, map[string]Role) {
	var items []item
	people := map[string]Role{}
	latest := map[string]time.Time{}
	for i := range specimens {
		for _, it := range j.itemsOf(&specimens[i], w) {
			it.specimen = i
			items = append(items, it)
			for _, s := range it.said {
				if _, known := people[s.person]; !known || s.at.After(latest[s.person]) {
					people[s.person], latest[s.person] = s.role, s.at
				}
			}
		}
	}
	return items, people
}

// itemsOf takes all observations that any of the submissions cites, with all verdicts and blind checks on them. Lengths
// are measured, not chosen, and say nothing about a person here.
func (j *Judge) itemsOf(c *Closed, w weighing) []item {
	whole := c.whole()
	posterior := j.posterior(w.evidenceOf(&whole, &c.Specimen, nil, j.tables))
	var items []item
	for _, o := range c.Specimen.Observations {
		if o.Withdrawn != "" || !slices.Contains(whole.Cites, o.ID) {
			continue
		}
		f, err := j.finding(o.Character, o.State)
		if err != nil || f.character.Kind == diagnosis.KindLength || len(f.character.States) < 2 {
			continue
		}
		at := slices.IndexFunc(items, func(it item) bool { return it.character == f.index })
		if at < 0 {
			at = len(items)
			items = append(items, item{character: f.index, prior: posterior.State(f.index)})
		}
		items[at].said = append(items[at].said, j.saidOf(f, o, &whole)...)
	}
	return items
}

// posterior weighs evidence without judging a name.
func (j *Judge) posterior(e Evidence) *confidence.Posterior {
	g := j.gather(e)
	return j.model.Posterior(g.observations, sexOf(e.Sex), j.weights(e.Prior, g))
}

// whole puts the submissions of a specimen together: what they cite, and what was said of it.
func (c *Closed) whole() Submission {
	whole := Submission{Verdicts: []Verdict{}}
	for _, s := range c.Submissions {
		for _, id := range s.Cites {
			if !slices.Contains(whole.Cites, id) {
				whole.Cites = append(whole.Cites, id)
			}
		}
		whole.Verdicts = mergeVerdicts(whole.Verdicts, s.Verdicts)
		whole.Blind = append(whole.Blind, s.Blind...)
		whole.Determination = s.Determination
	}
	return whole
}

func (j *Judge) saidOf(f finding, o Observation, s *Submission) []said {
	out := []said{{o.By, o.Role, o.At, confidence.Verdict{Kind: confidence.Stated, State: f.state, Better: confidence.NoState, Fixed: fixedOf(o)}}}
	for _, b := range s.Blind {
		if b.Observation != o.ID || b.State == "" {
			continue
		}
		if seen, err := j.finding(o.Character, b.State); err == nil {
			out = append(out, said{b.By, b.Role, b.At, confidence.Verdict{Kind: confidence.Stated, Blind: true, State: seen.state, Better: confidence.NoState}})
		}
	}
	for _, v := range s.Verdicts {
		if v.Observation != o.ID {
			continue
		}
		if report, counts := j.shownVerdict(v, f); counts {
			out = append(out, said{v.By, v.Role, v.At, report})
		}
	}
	return out
}

// fixedOf is the accuracy of an observer who says to be unsure, which tells nothing about the eye otherwise; 0 else.
func fixedOf(o Observation) float64 {
	if o.Sureness == Sure {
		return 0
	}
	return sureAccuracy(RoleAccuracy(o.Role), o.Sureness)
}

func (j *Judge) shownVerdict(v Verdict, shown finding) (confidence.Verdict, bool) {
	out := confidence.Verdict{State: shown.state, Better: confidence.NoState}
	switch v.Kind {
	case VerdictConfirm:
		out.Kind = confidence.Confirmed
		return out, true
	case VerdictDispute:
		out.Kind = confidence.Disputed
	default:
		return out, false
	}
	if v.Better == "" {
		return out, true
	}
	better, err := j.finding(shown.character.ID, v.Better)
	out.Better = better.state
	return out, err == nil
}

// numbered turns items into those of confidence, people by their place in ids (sorted).
func numbered(items []item, ids []string) []confidence.Item {
	out := make([]confidence.Item, len(items))
	for i, it := range items {
		out[i] = confidence.Item{Character: it.character, Prior: it.prior}
		for _, s := range it.said {
			verdict := s.report
			verdict.Person, _ = slices.BinarySearch(ids, s.person)
			out[i].Verdicts = append(out[i].Verdicts, verdict)
		}
	}
	return out
}
