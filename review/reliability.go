package review

import (
	"maps"
	"math"
	"slices"
	"time"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
)

// What people are taken to be before anything is known of them: the probability of naming the true state of a
// character, and the anchoring, the probability of confirming what one was shown without looking. Assumed, no source;
// estimates from reports take their place (Reliability).
const (
	memberAccuracy    = 0.85
	reviewerAccuracy  = 0.95
	memberAnchoring   = 0.4
	reviewerAnchoring = 0.2
	// roleWeight is how many reports of known truth an assumption about a role counts as. Assumed, no source.
	roleWeight = 20
)

// RoleAccuracy is the accuracy that a role starts with, in (0, 1).
func RoleAccuracy(r Role) float64 {
	if r == RoleMember {
		return memberAccuracy
	}
	return reviewerAccuracy
}

// RoleAnchoring is the anchoring that a role starts with, in [0, 1).
func RoleAnchoring(r Role) float64 {
	if r == RoleMember {
		return memberAnchoring
	}
	return reviewerAnchoring
}

// Reliability is what people have turned out to be like when they report on characters of one group, by region of the
// body: a snapshot. Assessments name its version. Version 0 knows the roles only.
type Reliability struct {
	Group   string    `json:"group"`
	Version int       `json:"version"` // sequence in the stream of the group
	At      time.Time `json:"at"`
	// Specimens and Items are what it rests on: specimens whose submissions are all closed, and characters of them.
	Specimens int `json:"specimens"`
	Items     int `json:"items"`
	// Added are the specimens taken in since the last refit, each once.
	Added []string `json:"added"`
	// Refitted is when all reports were last weighed together.
	Refitted time.Time              `json:"refitted"`
	People   map[string]PersonKnown `json:"people"` // by id
	// Warnings are those of the last refit.
	Warnings []confidence.Warning `json:"warnings"`
}

// PersonKnown is what is known about one person.
type PersonKnown struct {
	Role      Role                                `json:"role"`
	Regions   map[string]confidence.KnownAccuracy `json:"regions"`
	Anchoring confidence.KnownAnchoring           `json:"anchoring"`
}

// Accuracy of a person on a region of the body, in (0, 1): that of the role where nothing is known.
func (r *Reliability) Accuracy(person string, role Role, region string) float64 {
	if r != nil {
		if known, ok := r.People[person].Regions[region]; ok {
			return known.Value()
		}
	}
	return RoleAccuracy(role)
}

// Anchoring of a person, in (0, 1): that of the role until there are blind checks enough.
func (r *Reliability) Anchoring(person string, role Role) float64 {
	if r != nil {
		if known, ok := r.People[person]; ok && known.Anchoring.Estimated() {
			return known.Anchoring.Value()
		}
	}
	return RoleAnchoring(role)
}

// Look is a person as the one who looks next.
func (r *Reliability) Look(person string, role Role, t *diagnosis.Tables) Look {
	look := Look{Accuracy: RoleAccuracy(role), ByRegion: map[string]float64{}}
	for _, region := range regionsOf(t) {
		look.ByRegion[region] = r.Accuracy(person, role, region)
	}
	return look
}

// regionsOf are the regions of the body that characters belong to, in the order of the tables.
func regionsOf(t *diagnosis.Tables) []string {
	var regions []string
	for i := range t.Characters {
		if region := t.Characters[i].Region; !slices.Contains(regions, region) {
			regions = append(regions, region)
		}
	}
	return regions
}

// roles are those of confidence.Panel, and roleIndex finds one.
var roles = []confidence.Role{
	confidence.RoleOf(memberAccuracy, memberAnchoring, roleWeight),
	confidence.RoleOf(reviewerAccuracy, reviewerAnchoring, roleWeight),
}

func roleIndex(r Role) int {
	if r == RoleMember {
		return 0
	}
	return 1
}

// panel lists people for confidence, in the order of their ids.
func (j *Judge) panel(people map[string]Role) (confidence.Panel, []string) {
	regions := regionsOf(j.tables)
	p := confidence.Panel{Characters: make([]confidence.Character, len(j.tables.Characters)), Regions: len(regions), Roles: roles, SharedError: sharedError}
	for i := range j.tables.Characters {
		p.Characters[i] = j.character(i)
		p.Region = append(p.Region, slices.Index(regions, j.tables.Characters[i].Region))
	}
	ids := slices.Sorted(maps.Keys(people))
	for _, id := range ids {
		p.Persons = append(p.Persons, roleIndex(people[id]))
	}
	return p, ids
}

// resume puts what the snapshot knows into an estimate of confidence.
func (r *Reliability) resume(into *confidence.Reliability, ids, regions []string) error {
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
		if err := into.Resume(person, state); err != nil {
			return err
		}
	}
	return nil
}

// take returns the people of an estimate. Regions of which nothing is known yet are left out.
func take(from *confidence.Reliability, ids, regions []string, people map[string]Role) map[string]PersonKnown {
	out := map[string]PersonKnown{}
	for person, id := range ids {
		state := from.Known(person)
		known := PersonKnown{Role: people[id], Regions: map[string]confidence.KnownAccuracy{}, Anchoring: state.Anchoring}
		known.Anchoring.Unlooked, known.Anchoring.Looked = millionths(state.Anchoring.Unlooked), millionths(state.Anchoring.Looked)
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
func (j *Judge) Learn(r Reliability, specimens []Closed, list map[string]float64, at time.Time) (Reliability, []string, error) {
	items, people := j.items(specimens, weighing{people: &r, list: list})
	panel, ids := j.panel(people)
	estimate, err := confidence.NewReliability(panel)
	if err != nil {
		return r, nil, err
	}
	regions := regionsOf(j.tables)
	if err := r.resume(estimate, ids, regions); err != nil {
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
	next.People = maps.Clone(r.People)
	if next.People == nil {
		next.People = map[string]PersonKnown{}
	}
	maps.Copy(next.People, take(estimate, ids, regions, people))
	return next, ids, nil
}

// Refit weighs all reports of all closed submissions together, in place of what was learnt one by one.
func (j *Judge) Refit(r Reliability, specimens []Closed, list map[string]float64, at time.Time) (Reliability, error) {
	items, people := j.items(specimens, weighing{people: &r, list: list})
	panel, ids := j.panel(people)
	estimate, err := confidence.FitReliability(panel, numbered(items, ids), confidence.ReliabilityOptions{})
	if err != nil {
		return r, err
	}
	return Reliability{Group: j.tables.Group.ID, Version: r.Version + 1, At: at, Refitted: at, Specimens: len(specimens), Items: len(items),
		Added: []string{}, People: take(estimate, ids, regionsOf(j.tables), people), Warnings: nonNilWarnings(estimate.Warnings())}, nil
}

func nonNilWarnings(w []confidence.Warning) []confidence.Warning {
	if w == nil {
		return []confidence.Warning{}
	}
	return w
}
