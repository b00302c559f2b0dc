package audit

import (
	"maps"
	"math"
	"slices"
	"time"

	"revidit/review"
	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// said is one report by a named person.
type said struct {
	person string
	role   review.Role
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
func items(j *judgement.Judge, specimens []review.Closed, w review.Weighing) ([]item, map[string]review.Role) {
	var items []item
	people := map[string]review.Role{}
	latest := map[string]time.Time{}
	for i := range specimens {
		for _, it := range itemsOf(j, &specimens[i], w) {
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
func itemsOf(j *judgement.Judge, c *review.Closed, w review.Weighing) []item {
	whole := c.Whole()
	e := w.Evidence(&whole, &c.Specimen, nil, j.Tables())
	e.Free = nil // what people see is learnt from what they say
	posterior := j.Posterior(e)
	var items []item
	for _, o := range c.Specimen.Observations {
		if o.Withdrawn != "" || !slices.Contains(whole.Cites, o.ID) {
			continue
		}
		f, err := j.Finding(o.Character, o.State)
		if err != nil || f.Character.Kind == diagnosis.KindLength || len(f.Character.States) < 2 {
			continue
		}
		at := slices.IndexFunc(items, func(it item) bool { return it.character == f.Index })
		if at < 0 {
			at = len(items)
			items = append(items, item{character: f.Index, prior: posterior.State(f.Index)})
		}
		items[at].said = append(items[at].said, saidOf(j, f, o, &whole)...)
	}
	return items
}

func saidOf(j *judgement.Judge, f judgement.Finding, o review.Observation, s *review.Submission) []said {
	var out []said
	if !o.AfterHint { // else it tells of what was shown as much as of who stated it
		out = append(out, said{o.By, o.Role, o.At, confidence.Verdict{Kind: confidence.Stated, State: f.State, Better: confidence.NoState, Fixed: fixedOf(o)}})
	}
	for _, b := range s.Blind {
		if b.Observation != o.ID || b.State == "" {
			continue
		}
		if seen, err := j.Finding(o.Character, b.State); err == nil {
			out = append(out, said{b.By, b.Role, b.At, confidence.Verdict{Kind: confidence.Stated, Blind: true, State: seen.State, Better: confidence.NoState}})
		}
	}
	for _, v := range s.Verdicts {
		if v.Observation != o.ID || v.SelfGiven(o) {
			continue
		}
		if report, counts := shownVerdict(j, v, f); counts {
			out = append(out, said{v.By, v.Role, v.At, report})
		}
	}
	return out
}

// fixedOf is the accuracy of an observer who says to be unsure, which tells nothing about the eye otherwise; 0 else.
func fixedOf(o review.Observation) float64 {
	if o.Sureness == review.Sure {
		return 0
	}
	return review.SureAccuracy(review.RoleAccuracy(o.Role), o.Sureness)
}

func shownVerdict(j *judgement.Judge, v review.Verdict, shown judgement.Finding) (confidence.Verdict, bool) {
	out := confidence.Verdict{State: shown.State, Better: confidence.NoState}
	switch v.Kind {
	case review.VerdictConfirm:
		out.Kind = confidence.Confirmed
		return out, true
	case review.VerdictDispute:
		out.Kind = confidence.Disputed
	default:
		return out, false
	}
	if v.Better == "" {
		return out, true
	}
	better, err := j.Finding(shown.Character.ID, v.Better)
	out.Better = better.State
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

// panel lists people for confidence, in the order of their ids.
func panel(j *judgement.Judge, people map[string]review.Role) (confidence.Panel, []string) {
	regions := j.Tables().Regions()
	p := confidence.Panel{Characters: make([]confidence.Character, len(j.Tables().Characters)), Regions: len(regions), Roles: roles, SharedError: judgement.SharedError}
	for i := range j.Tables().Characters {
		p.Characters[i] = j.Character(i)
		p.Region = append(p.Region, slices.Index(regions, j.Tables().Characters[i].Region))
	}
	ids := slices.Sorted(maps.Keys(people))
	for _, id := range ids {
		p.Persons = append(p.Persons, roleIndex(people[id]))
	}
	return p, ids
}

// resume puts what the snapshot knows into an estimate of confidence.
func resume(r review.Reliability, into *confidence.Reliability, ids, regions []string) error {
	for person, id := range ids {
		known, ok := r.People[id]
		if !ok {
			continue
		}
		state := into.Known(person)
		for i, region := range regions {
			if k, ok := known.Regions[region]; ok {
				state.Accuracy[i] = k
			}
		}
		state.Anchoring = known.Anchoring
		if known.Leaning != nil {
			state.Leaning = *known.Leaning
		}
		if err := into.Resume(person, state); err != nil {
			return err
		}
	}
	return nil
}

// take returns the people of an estimate. Regions of which nothing is known yet are left out.
func take(from *confidence.Reliability, ids, regions []string, people map[string]review.Role) map[string]review.PersonKnown {
	out := map[string]review.PersonKnown{}
	for person, id := range ids {
		state := from.Known(person)
		known := review.PersonKnown{Role: people[id], Regions: map[string]confidence.KnownAccuracy{}, Anchoring: state.Anchoring}
		known.Anchoring.Unlooked, known.Anchoring.Looked = millionths(state.Anchoring.Unlooked), millionths(state.Anchoring.Looked)
		if state.Anchoring.Estimated() {
			known.Leaning = &confidence.KnownLeaning{Toward: millionths(state.Leaning.Toward), Against: millionths(state.Leaning.Against)}
		}
		for i, region := range regions {
			if k := state.Accuracy[i]; k.Verdicts > 0 {
				k.Right, k.Wrong = millionths(k.Right), millionths(k.Wrong)
				known.Regions[region] = k
			}
		}
		out[id] = known
	}
	return out
}

// millionths cuts the digits in which processors may differ, and keeps what is above 0 there.
func millionths(x float64) float64 { return max(math.Round(x*1e6)/1e6, 1e-6) }

// Learn takes in what closed submissions of some specimens say about people: each specimen once, until the next refit.
// The snapshot itself stays as it is; the new one has the next version.
func Learn(j *judgement.Judge, r review.Reliability, specimens []review.Closed, list map[string]float64, at time.Time) (review.Reliability, []string, error) {
	items, people := items(j, specimens, review.Weighing{People: &r, List: list})
	panel, ids := panel(j, people)
	estimate, err := confidence.NewReliability(panel)
	if err != nil {
		return r, nil, err
	}
	regions := j.Tables().Regions()
	if err := resume(r, estimate, ids, regions); err != nil {
		return r, nil, err
	}
	if err := estimate.Add(numbered(items, ids)); err != nil {
		return r, nil, err
	}
	next := r
	next.Version, next.At = r.Version+1, at
	next.Specimens, next.Items = r.Specimens+len(specimens), r.Items+len(items)
	next.Added = slices.Clone(r.Added)
	for _, s := range specimens {
		next.Added = append(next.Added, s.Specimen.ID)
	}
	next.Mentions = withMentions(r.Mentions, mentions(j, specimens))
	next.People = maps.Clone(r.People)
	if next.People == nil {
		next.People = map[string]review.PersonKnown{}
	}
	maps.Copy(next.People, take(estimate, ids, regions, people))
	return next, ids, nil
}

// Refit weighs all reports of all closed submissions together, in place of what was learnt one by one.
func Refit(j *judgement.Judge, r review.Reliability, specimens []review.Closed, list map[string]float64, at time.Time) (review.Reliability, error) {
	out, err := RefitFurther(j, r, review.Reliability{}, specimens, list)
	out.Version, out.At, out.Refitted = r.Version+1, at, at
	return out, err
}

// RefitFurther weighs the reports on some more specimens together, with what a refit under way has found on others so far
// (first: the zero value) as what is known before: so a refit need not hold all of them at once. The first part is exact;
// what further ones differ from weighing all together is as confidence.Reliability.Add says. present is what the states
// of characters are weighed by.
func RefitFurther(j *judgement.Judge, present, sofar review.Reliability, specimens []review.Closed, list map[string]float64) (review.Reliability, error) {
	items, people := items(j, specimens, review.Weighing{People: &present, List: list})
	panel, ids := panel(j, people)
	estimate, err := confidence.NewReliability(panel)
	if err != nil {
		return sofar, err
	}
	regions := j.Tables().Regions()
	if err := resume(sofar, estimate, ids, regions); err != nil {
		return sofar, err
	}
	if err := estimate.Add(numbered(items, ids)); err != nil {
		return sofar, err
	}
	next := review.Reliability{Group: j.Tables().Group.ID, Specimens: sofar.Specimens + len(specimens), Items: sofar.Items + len(items),
		Added: []string{}, People: map[string]review.PersonKnown{}, Mentions: withMentions(sofar.Mentions, mentions(j, specimens)),
		Warnings: nonNilWarnings(estimate.Warnings())}
	maps.Copy(next.People, sofar.People)
	maps.Copy(next.People, take(estimate, ids, regions, people))
	return next, nil
}

func nonNilWarnings(w []confidence.Warning) []confidence.Warning {
	if w == nil {
		return []confidence.Warning{}
	}
	return w
}

// roles are those of confidence.Panel, and roleIndex finds one.
var roles = []confidence.Role{
	confidence.RoleOf(review.MemberAccuracy, review.MemberAnchoring, review.RoleWeight),
	confidence.RoleOf(review.ReviewerAccuracy, review.ReviewerAnchoring, review.RoleWeight),
}

func roleIndex(r review.Role) int {
	if r.States() {
		return 0
	}
	return 1
}
