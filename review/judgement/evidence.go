package judgement

import (
	"fmt"
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
	ReportHinted    ReportKind = "hinted"    // the observation itself, made when its observer had been told that another state does not fit
	ReportBlind     ReportKind = "blind"     // a blind check; Better holds what was seen where it is another state
	ReportConfirmed ReportKind = "confirmed" // agreed with what was shown
	ReportDisputed  ReportKind = "disputed"  // disagreed; Better holds the better state, if one was given
	// ReportAdopted and ReportSeconded are words on what others had said and was shown as well: agreed with the better state
	// of somebody else (Better), or that it is not the stated one.
	ReportAdopted  ReportKind = "adopted"
	ReportSeconded ReportKind = "seconded"
)

// Report is what one person says about a stated character. Accuracy is the probability of reading an ordinary state right
// (the tables say which states are read more easily or less by that Reader), Anchoring of agreeing with what is shown
// without looking, both from 0 to 1. Leaning is the readiness to say what is striking, in logits (confidence.KnownLeaning).
type Report struct {
	Kind      ReportKind
	Better    string
	Reader    Reader
	Accuracy  float64
	Anchoring float64
	Leaning   float64
}

// Repeated is a report that says what somebody else had said, by somebody who had been shown that: it weighs as agreement with
// what was shown. A confirmation does so already.
func (r Report) Repeated() Report {
	switch {
	case r.Kind != ReportDisputed:
	case r.Better != "":
		r.Kind = ReportAdopted
	default:
		r.Kind = ReportSeconded
	}
	return r
}

// Stated is one observation with the reports about it. Without a report it counts as one of accuracy Taken.Stated.
type Stated struct {
	Character string
	State     string // state id, whole number, or decimal millimetres
	Reports   []Report
}

// Look is who would look next.
type Look struct {
	Reader Reader
	// Accuracy of that person; 0 stands for Taken.Look.
	Accuracy float64
	// ByRegion overrides it for single body regions.
	ByRegion map[string]float64
	// Leaning is that person's readiness to say what is striking, in logits (confidence.KnownLeaning).
	Leaning float64
}

// Evidence is what an assessment rests on.
type Evidence struct {
	Family string // proposed, accepted or old name; "" for none
	Sex    string // "", male or female
	Stated []Stated
	// Free are, one for each observer, first lists that were told freely: what strikes the eye and is not in one is less likely
	// to be there. Lists that arose by being asked, of reviewers, and from imports are none.
	Free []FreeList
	// Mentions are, by character, what data tell of how often it is mentioned in such lists; the tables' rates stand in for
	// what is not among them.
	Mentions map[string]Mention
	// Views of the photos at hand; nil where photos are no part of the question.
	Views []string
	// Prior holds the club's own weights by family, above 0, in place of the square root of the number of species. A
	// family that is not in it gets a tenth of the least weight in it, and all such families together at most a
	// fiftieth of the whole list: what is not on the list can still fly in.
	Prior map[string]float64
	Look  Look
	// Wider are states of characters of the wider group, as somebody saw them who was asked whether the specimen belongs to this
	// one at all.
	Wider []Stated
	// Newcomer: nothing is known yet of the member who stated this, so that the wider group's questions come first.
	Newcomer bool
}

// CheckState says what is wrong with stating a character, and what is allowed; nil where it may be stated.
func (j *Judge) CheckState(character, state string) error {
	_, err := j.Finding(character, state)
	return err
}

// Finding is a character with a state that somebody holds to be true.
type Finding struct {
	Character *diagnosis.Character
	Index     int     // of the character in the tables
	ID        string  // the state as text
	State     int     // index into Character.States, or the bin of a length
	Length    float64 // millimetres; lengths only
}

// Finding is a character with a state that may be stated; else an error that says what is allowed.
func (j *Judge) Finding(character, state string) (Finding, error) {
	i := j.tables.CharacterIndex(character)
	if i < 0 {
		return Finding{}, fmt.Errorf("there is no character %q in the tables", character)
	}
	return j.findingOf(i, state)
}

func (j *Judge) findingOf(character int, state string) (Finding, error) {
	f := Finding{Character: &j.tables.Characters[character], Index: character, ID: state}
	if f.Character.Kind == diagnosis.KindLength {
		return j.lengthFinding(f)
	}
	f.State = f.Character.State(state)
	if f.State >= 0 {
		return f, nil
	}
	if f.Character.Kind == diagnosis.KindCount {
		return f, fmt.Errorf("%s must be a whole number from %v to %v, not %q", f.Character.ID, f.Character.Min, f.Character.Max, state)
	}
	return f, fmt.Errorf("%s has no state %q; allowed are %s", f.Character.ID, state, strings.Join(stateIDs(f.Character), ", "))
}

func (j *Judge) lengthFinding(f Finding) (Finding, error) {
	length, err := strconv.ParseFloat(f.ID, 64)
	if err != nil || !(length >= f.Character.Min && length <= f.Character.Max) {
		return f, fmt.Errorf("%s must be millimetres from %v to %v, not %q", f.Character.ID, f.Character.Min, f.Character.Max, f.ID)
	}
	f.Length = length
	f.State = j.scales[f.Index].Bin(length)
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
	hypothesis   int               // of family
	sex          confidence.Sex
	observations []confidence.Observation
	findings     []Finding // one for each character and state that stands, in the order of the tables
	silences     []confidence.Silence
	mentions     map[string]Mention
	caveats      []Caveat

	reports []confidence.Report // of all observations
	votes   []vote              // of the observation at hand
	prior   []float64
	odd     []string // names in the club's list that are no accepted ones, or have a weight that is none
}

// vote is how many reviewers hold a finding to be true.
type vote struct {
	Finding
	reviewers int
}

func (j *Judge) gather(e Evidence) *gathered {
	g := &gathered{}
	j.fill(g, &e)
	return g
}

// fill gathers evidence into g, whose memory it uses again.
func (j *Judge) fill(g *gathered, e *Evidence) {
	g.family, g.hypothesis, g.sex = nil, -1, sexOf(e.Sex)
	g.observations, g.findings, g.caveats, g.reports = g.observations[:0], g.findings[:0], g.caveats[:0], g.reports[:0]
	j.gatherFamily(g, e.Family)
	for i := range e.Stated {
		j.gatherStated(g, &e.Stated[i])
	}
	slices.SortStableFunc(g.observations, func(a, b confidence.Observation) int { return a.Character - b.Character })
	slices.SortFunc(g.findings, func(a, b Finding) int {
		if a.Index != b.Index {
			return a.Index - b.Index
		}
		return strings.Compare(a.ID, b.ID)
	})
	g.findings = slices.CompactFunc(g.findings, func(a, b Finding) bool { return a.Index == b.Index && a.ID == b.ID })
	j.gatherSilences(g, e)
}

func (j *Judge) gatherFamily(g *gathered, name string) {
	if name == "" {
		return
	}
	family, _, ok := j.tables.Resolve(name)
	if !ok {
		g.warn(Caveat{Kind: CaveatNoFamily, Name: name})
		return
	}
	g.family, g.hypothesis = family, j.tables.FamilyIndex(family.Name)
	if family.Name != name {
		g.warn(Caveat{Kind: CaveatOldName, Name: name, Family: family.Name})
	}
}

func (j *Judge) gatherStated(g *gathered, s *Stated) {
	shown, err := j.Finding(s.Character, s.State)
	if err != nil {
		g.warnOf(CaveatLeftOut, s.Character, s.State)
		return
	}
	if slices.Contains(shown.Character.OnlyLive, s.State) {
		g.warnOf(CaveatLiveOnly, s.Character, s.State)
		return
	}
	first := len(g.reports)
	g.votes = g.votes[:0]
	for i := range s.Reports {
		j.gatherReport(g, &s.Reports[i], &shown)
	}
	if len(s.Reports) == 0 {
		j.gatherReport(g, &Report{Kind: ReportStated, Accuracy: j.taken.Stated}, &shown)
	}
	reports := g.reports[first:len(g.reports):len(g.reports)]
	g.observations = append(g.observations, confidence.Observation{Character: shown.Index, Reports: reports})
	g.findings = append(g.findings, g.standing(shown))
}

func (j *Judge) gatherReport(g *gathered, r *Report, shown *Finding) {
	better := *shown
	if r.Better != "" && r.Better != shown.ID {
		var err error
		if better, err = j.findingOf(shown.Index, r.Better); err != nil {
			g.warnOf(CaveatReportLeftOut, shown.Character.ID, r.Better)
			return
		}
	}
	g.reports = append(g.reports, numbers(r, shown.State, better.State))
	switch {
	case r.Kind == ReportStated || r.Kind == ReportHinted || r.Kind == ReportSeconded || r.Kind == ReportDisputed && r.Better == "": // of a dispute only that it is not this one
	case r.Kind == ReportConfirmed:
		g.vote(shown)
	default:
		g.vote(&better)
	}
}

func numbers(r *Report, shown, better int) confidence.Report {
	out := confidence.Report{State: shown, Better: confidence.NoState, Reader: r.Reader.or(Member).index(),
		Accuracy: r.Accuracy, Anchoring: r.Anchoring, Leaning: r.Leaning}
	switch r.Kind {
	case ReportConfirmed, ReportHinted:
		out.Kind = confidence.Confirmed
	case ReportAdopted:
		out.Kind, out.State = confidence.Confirmed, better
	case ReportSeconded:
		out.Kind = confidence.Seconded
	case ReportDisputed:
		out.Kind = confidence.Disputed
		if r.Better != "" {
			out.Better = better
		}
	default:
		out.State = better
	}
	return out
}

// vote counts a reviewer who holds a finding to be true.
func (g *gathered) vote(f *Finding) {
	for i := range g.votes {
		if g.votes[i].ID == f.ID {
			g.votes[i].reviewers++
			return
		}
	}
	g.votes = append(g.votes, vote{*f, 1})
}

// standing is the state that contradictions are judged by: the reviewers' where more of them give one better state
// than confirm, the first by its id where several have as many, else the stated one.
func (g *gathered) standing(shown Finding) Finding {
	best, most := shown, 0
	for i := range g.votes {
		if g.votes[i].ID == shown.ID {
			most = g.votes[i].reviewers
		}
	}
	for _, v := range g.votes {
		if v.reviewers > most || v.reviewers == most && best.ID != shown.ID && v.ID != shown.ID && v.ID < best.ID {
			best, most = v.Finding, v.reviewers
		}
	}
	return best
}

// weights are the prior weights by family, or nil for those of the tables.
func (j *Judge) weights(prior map[string]float64, g *gathered) []float64 {
	if len(prior) == 0 {
		return nil
	}
	least := math.Inf(1)
	g.prior, g.odd = resized(g.prior, len(j.tables.Families)), g.odd[:0]
	clear(g.prior)
	for name, w := range prior {
		family := j.tables.FamilyIndex(name)
		if family < 0 || !isWeight(w) {
			g.odd = append(g.odd, name)
			continue
		}
		g.prior[family] = w
		least = min(least, w)
	}
	slices.Sort(g.odd)
	for _, name := range g.odd {
		family, _, known := j.tables.Resolve(name)
		w := prior[name]
		if !known || !isWeight(w) {
			g.warn(Caveat{Kind: CaveatList, Name: name, Weight: weightText(w)})
			continue
		}
		g.prior[j.tables.FamilyIndex(family.Name)] += w
		least = min(least, w)
	}
	if math.IsInf(least, 1) {
		return nil
	}
	fillUnlisted(g.prior, least)
	return g.prior
}

func isWeight(w float64) bool { return w > 0 && !math.IsInf(w, 0) }

// Posterior weighs evidence without judging a name.
func (j *Judge) Posterior(e Evidence) *confidence.Posterior {
	g := j.gather(e)
	p := &confidence.Posterior{}
	j.model.FillPosteriorOf(p, g.weighed(j.weights(e.Prior, g)))
	return p
}
