package audit

import (
	"maps"
	"slices"

	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// mentions count what the first free lists on closed specimens mention, by character.
func mentions(j *judgement.Judge, specimens []review.Closed) map[string]review.Mentions {
	counts := map[string]review.Mentions{}
	for i := range specimens {
		whole := specimens[i].Whole()
		observers, lists := whole.FreeLists(&specimens[i].Specimen)
		for k, observer := range observers {
			if !lists[k].Tells() {
				continue
			}
			addMentions(counts, j.Tables(), lists[k].Mentioned, knownStates(j, &specimens[i].Specimen, &whole, observer))
		}
	}
	return counts
}

// addMentions adds a list. A region of which it speaks by one character alone tells nothing of how often that is mentioned.
func addMentions(counts map[string]review.Mentions, t *diagnosis.Tables, list []string, known map[string]string) {
	for i := range t.Characters {
		c := &t.Characters[i]
		others := func(id string) bool {
			o, ok := t.Character(id)
			return ok && c.InView(o.Region) && id != c.ID
		}
		if c.Mentioned == nil || !slices.ContainsFunc(list, others) {
			continue
		}
		told := review.Told{Without: 1}
		if slices.Contains(list, c.ID) {
			told = review.Told{With: 1}
		}
		one := review.Mentions{Lists: told}
		if state, ok := known[c.ID]; ok {
			one.States = map[string]review.Told{state: told}
		}
		counts[c.ID] = counts[c.ID].Plus(one)
	}
}

// knownStates are, by character, the states that others than the observer saw blind or with the specimen in hand; left out
// where these differ.
func knownStates(j *judgement.Judge, spec *review.Specimen, s *review.Submission, observer string) map[string]string {
	seen := map[string][]string{}
	see := func(character, state, by string) {
		if by != observer && j.CheckState(character, state) == nil && !slices.Contains(seen[character], state) {
			seen[character] = append(seen[character], state)
		}
	}
	for _, o := range spec.Observations {
		if o.Withdrawn != "" {
			continue
		}
		if !o.Role.States() && s.InHand(o.By) {
			see(o.Character, o.State, o.By)
		}
		for _, b := range s.Blind {
			if b.Observation == o.ID && b.State != "" {
				see(o.Character, b.State, b.By)
			}
		}
		for _, v := range s.Verdicts {
			if v.Observation != o.ID || !s.InHand(v.By) {
				continue
			}
			switch {
			case v.Kind == review.VerdictConfirm:
				see(o.Character, o.State, v.By)
			case v.Kind == review.VerdictDispute && v.Better != "":
				see(o.Character, v.Better, v.By)
			}
		}
	}
	known := map[string]string{}
	for character, states := range seen {
		if len(states) == 1 {
			known[character] = states[0]
		}
	}
	return known
}

// withMentions are counts and further ones.
func withMentions(known, further map[string]review.Mentions) map[string]review.Mentions {
	if len(further) == 0 {
		return known
	}
	out := maps.Clone(known)
	if out == nil {
		out = map[string]review.Mentions{}
	}
	for character, m := range further {
		out[character] = out[character].Plus(m)
	}
	return out
}
