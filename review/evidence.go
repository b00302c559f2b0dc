package review

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// ReportKind is how a report on a stated character came about.
type ReportKind string

const (
	ReportStated    ReportKind = "stated"    // the observation itself
	ReportBlind     ReportKind = "blind"     // a blind check; Better holds what was seen where it is another state
	ReportConfirmed ReportKind = "confirmed" // agreed with what was shown
	ReportDisputed  ReportKind = "disputed"  // disagreed; Better holds the better state, if one was given
)

// Report is what one person says about a stated character. Accuracy is the probability of reading a state right,
// Anchoring of agreeing with what is shown without looking, both from 0 to 1.
type Report struct {
	Kind      ReportKind
	Better    string
	Accuracy  float64
	Anchoring float64
}

// Stated is one observation with the reports about it. Without a report it counts as a member's.
type Stated struct {
	Character string
	State     string // state id, whole number, or decimal millimetres
	Reports   []Report
}

// Look is who would look next.
type Look struct {
	// Accuracy of that person; 0 stands for a reviewer's.
	Accuracy float64
	// ByRegion overrides it for single body regions.
	ByRegion map[string]float64
}

// Evidence is what an assessment rests on.
type Evidence struct {
	Family string // proposed, accepted or old name; "" for none
	Sex    string // "", male or female
	Stated []Stated
	// Views of the photos at hand; nil where photos are no part of the question.
	Views []string
	// Prior holds the club's own weights by family, above 0, in place of the square root of the number of species. A
	// family that is not in it gets a tenth of the least weight in it, and all such families together at most a
	// fiftieth of the whole list: what is not on the list can still fly in.
	Prior map[string]float64
	Look  Look
}

// CheckState says what is wrong with stating a character, and what is allowed; nil where it may be stated.
func (j *Judge) CheckState(character, state string) error {
	_, err := j.finding(character, state)
	return err
}

// finding is a character with a state that somebody holds to be true.
type finding struct {
	character *diagnosis.Character
	index     int     // of the character in the tables
	id        string  // the state as text
	state     int     // index into Character.States, or the bin of a length
	length    float64 // millimetres; lengths only
}

func (j *Judge) finding(character, state string) (finding, error) {
	i := j.tables.CharacterIndex(character)
	if i < 0 {
		return finding{}, fmt.Errorf("there is no character %q in the tables", character)
	}
	f := finding{character: &j.tables.Characters[i], index: i, id: state}
	if f.character.Kind == diagnosis.KindLength {
		return j.lengthFinding(f)
	}
	f.state = f.character.State(state)
	if f.state >= 0 {
		return f, nil
	}
	if f.character.Kind == diagnosis.KindCount {
		return f, fmt.Errorf("%s must be a whole number from %v to %v, not %q", character, f.character.Min, f.character.Max, state)
	}
	return f, fmt.Errorf("%s has no state %q; allowed are %s", character, state, strings.Join(stateIDs(f.character), ", "))
}

func (j *Judge) lengthFinding(f finding) (finding, error) {
	length, err := strconv.ParseFloat(f.id, 64)
	if err != nil || !(length >= f.character.Min && length <= f.character.Max) {
		return f, fmt.Errorf("%s must be millimetres from %v to %v, not %q", f.character.ID, f.character.Min, f.character.Max, f.id)
	}
	f.length = length
	f.state = j.scales[f.index].Bin(length)
	return f, nil
}

func stateIDs(c *diagnosis.Character) []string {
	ids := make([]string, len(c.States))
	for i, s := range c.States {
		ids[i] = s.ID
	}
	return ids
}

// gathered is evidence in the terms of the tables.
type gathered struct {
	family       *diagnosis.Family // nil where none is proposed
	remark       string
	sex          string
	observations []confidence.Observation
	findings     []finding // one for each character and state that stands, in the order of the tables
	warnings     []string
}

func (g *gathered) warn(format string, args ...any) {
	g.warnings = append(g.warnings, fmt.Sprintf(format, args...))
}

func (j *Judge) gather(e Evidence) *gathered {
	g := &gathered{sex: e.Sex}
	j.gatherFamily(g, e.Family)
	for _, s := range e.Stated {
		j.gatherStated(g, s)
	}
	slices.SortStableFunc(g.observations, func(a, b confidence.Observation) int { return a.Character - b.Character })
	slices.SortFunc(g.findings, func(a, b finding) int {
		if a.index != b.index {
			return a.index - b.index
		}
		return strings.Compare(a.id, b.id)
	})
	g.findings = slices.CompactFunc(g.findings, func(a, b finding) bool { return a.index == b.index && a.id == b.id })
	return g
}

func (j *Judge) gatherFamily(g *gathered, name string) {
	if name == "" {
		return
	}
	family, remark, ok := j.tables.Resolve(name)
	if !ok {
		g.warn("There is no family %q in the tables, so that no name is judged.", name)
		return
	}
	g.family, g.remark = family, remark
	if family.Name != name {
		g.warn("%s is an old name; its species stand in %s today. %s", name, family.Name, remark)
	}
}

func (j *Judge) gatherStated(g *gathered, s Stated) {
	shown, err := j.finding(s.Character, s.State)
	if err != nil {
		g.warn("Left out: %v.", err)
		return
	}
	if slices.Contains(shown.character.OnlyLive, s.State) {
		g.warn("Left out: %s %q can be stated on a live specimen only.", s.Character, s.State)
		return
	}
	reports := s.Reports
	if len(reports) == 0 {
		reports = []Report{{Kind: ReportStated, Accuracy: memberAccuracy}}
	}
	observation := confidence.Observation{Character: shown.index}
	tally := map[string]int{}
	for _, r := range reports {
		better := shown
		if r.Better != "" {
			if better, err = j.finding(s.Character, r.Better); err != nil {
				g.warn("Left out, a report: %v.", err)
				continue
			}
		}
		observation.Reports = append(observation.Reports, numbers(r, shown, better))
		if r.Kind != ReportStated {
			tally[agreement(r, shown, better)]++
		}
	}
	g.observations = append(g.observations, observation)
	g.findings = append(g.findings, j.standing(shown, tally))
}

func numbers(r Report, shown, better finding) confidence.Report {
	out := confidence.Report{State: shown.state, Better: confidence.NoState, Accuracy: r.Accuracy, Anchoring: r.Anchoring}
	switch r.Kind {
	case ReportConfirmed:
		out.Kind = confidence.Confirmed
	case ReportDisputed:
		out.Kind = confidence.Disputed
		if r.Better != "" {
			out.Better = better.state
		}
	default:
		out.State = better.state
	}
	return out
}

// agreement is the state that a reviewer holds to be true, "" for "only not this one".
func agreement(r Report, shown, better finding) string {
	switch {
	case r.Kind == ReportConfirmed:
		return shown.id
	case r.Kind == ReportDisputed && r.Better == "":
		return ""
	}
	return better.id
}

// standing is the state that contradictions are judged by: the reviewers' where more of them give one better state
// than confirm, else the stated one.
func (j *Judge) standing(shown finding, tally map[string]int) finding {
	best := shown
	votes := tally[shown.id]
	for _, id := range slices.Sorted(maps.Keys(tally)) {
		if id == "" || tally[id] <= votes {
			continue
		}
		if f, err := j.finding(shown.character.ID, id); err == nil {
			best, votes = f, tally[id]
		}
	}
	return best
}

// weights are the prior weights by family, or nil for those of the tables.
func (j *Judge) weights(prior map[string]float64, g *gathered) []float64 {
	least := math.Inf(1)
	weights := make([]float64, len(j.tables.Families))
	for _, name := range slices.Sorted(maps.Keys(prior)) {
		family, _, known := j.tables.Resolve(name)
		w := prior[name]
		if !known || !(w > 0) || math.IsInf(w, 0) {
			g.warn("The club's list gives %s the weight %v, which is left out: it takes a family of the tables and a number above 0.", name, w)
			continue
		}
		weights[j.tables.FamilyIndex(family.Name)] += w
		least = min(least, w)
	}
	if math.IsInf(least, 1) {
		return nil
	}
	fillUnlisted(weights, least)
	return weights
}
