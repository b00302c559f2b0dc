package review

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"revidit/review/confidence"
	"revidit/review/diagnosis"
	"revidit/review/judgement"
)

// What people are taken to be before anything is known of them: the probability of naming the true state of a
// character where it is an ordinary one (the tables say by role which are read more easily or less), and the anchoring,
// the probability of confirming what one was shown without looking. Assumed, no source; estimates from reports take their
// place (Reliability).
const (
	MemberAccuracy    = 0.85
	ReviewerAccuracy  = 0.95
	MemberAnchoring   = 0.4
	ReviewerAnchoring = 0.2
	// RoleWeight is how many reports of known truth an assumption about a role counts as. Assumed, no source.
	RoleWeight = 20
)

// RoleAccuracy is the accuracy that a role starts with, in (0, 1).
func RoleAccuracy(r Role) float64 {
	if r.States() {
		return MemberAccuracy
	}
	return ReviewerAccuracy
}

// RoleAnchoring is the anchoring that a role starts with, in [0, 1).
func RoleAnchoring(r Role) float64 {
	if r.States() {
		return MemberAnchoring
	}
	return ReviewerAnchoring
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
	// Mentions are, by character, how often first free lists mention it.
	Mentions map[string]Mentions `json:"mentions,omitempty"`
	// Warnings are those of the last refit.
	Warnings []confidence.Warning `json:"warnings"`
	// Totals are what is shown of everybody in place of People, with no names, and Unnamed is how many they are of. Both are made
	// when somebody looks.
	Totals  []ReliabilityTotal `json:"-"`
	Unnamed int                `json:"-"`
	// Unread names stored rows that could not be read, and of which nothing is in it.
	Unread []string `json:"-"`
}

// PersonKnown is what is known about one person. What stands in a snapshot made by judgement.FirstMethod is a mean accuracy over
// all states; it is read as that at ordinary ones, and δ as its distance from the role's, until the next refit weighs all
// reports anew.
type PersonKnown struct {
	Role      Role                                `json:"role"`
	Regions   map[string]confidence.KnownAccuracy `json:"regions"`
	Anchoring confidence.KnownAnchoring           `json:"anchoring"`
	Leaning   *confidence.KnownLeaning            `json:"leaning,omitempty"` // nil until there are blind checks enough
}

// Accuracy of a person at ordinary states of a region of the body, in (0, 1): that of the role where nothing is known.
func (r *Reliability) Accuracy(person string, role Role, region string) float64 {
	if r != nil {
		if known, ok := r.People[person].Regions[region]; ok {
			return known.Value()
		}
	}
	return RoleAccuracy(role)
}

// Reader is as what a person reads on a region of the body: in the role that what is known there is about, else in that of
// the report.
func (r *Reliability) Reader(person string, role Role, region string) judgement.Reader {
	if r != nil {
		known := r.People[person]
		if _, ok := known.Regions[region]; ok {
			role = known.Role
		}
	}
	return ReaderOf(role)
}

// ReaderOf is as what somebody of a role reads.
func ReaderOf(r Role) judgement.Reader {
	if r.States() {
		return judgement.Member
	}
	return judgement.Reviewer
}

// New says whether nothing has been learnt of a member yet: none of their specimens has closed. Where no snapshot is at hand
// nobody is.
func (r *Reliability) New(person string, role Role) bool {
	return r != nil && role.States() && len(r.People[person].Regions) == 0
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

// Leaning of a person towards saying what is striking, in logits: 0 until there are blind checks enough.
func (r *Reliability) Leaning(person string) float64 {
	if r != nil {
		if known := r.People[person]; known.Anchoring.Estimated() && known.Leaning != nil {
			return known.Leaning.Value()
		}
	}
	return 0
}

// report is one by a person about a region of the body, as Accuracy, Reader, Anchoring and Leaning tell.
func (r *Reliability) report(kind judgement.ReportKind, better, person string, role Role, region string) judgement.Report {
	out := judgement.Report{Kind: kind, Better: better, Reader: ReaderOf(role), Accuracy: RoleAccuracy(role), Anchoring: RoleAnchoring(role)}
	if r == nil {
		return out
	}
	known, ok := r.People[person]
	if !ok {
		return out
	}
	if accuracy, ok := known.Regions[region]; ok {
		out.Reader, out.Accuracy = ReaderOf(known.Role), accuracy.Value()
	}
	if known.Anchoring.Estimated() {
		out.Anchoring = known.Anchoring.Value()
		if known.Leaning != nil {
			out.Leaning = known.Leaning.Value()
		}
	}
	return out
}

// Look is a person as the one who looks next.
func (r *Reliability) Look(person string, role Role, t *diagnosis.Tables) judgement.Look {
	look := judgement.Look{Reader: ReaderOf(role), Accuracy: RoleAccuracy(role), ByRegion: map[string]float64{}, Leaning: r.Leaning(person)}
	for _, region := range t.Regions() {
		look.ByRegion[region] = r.Accuracy(person, role, region)
	}
	return look
}

// NewJudge is a judge of tables to whom whoever states something is a member, and whoever would look next a reviewer, where
// nothing else is said.
func NewJudge(t *diagnosis.Tables) *judgement.Judge {
	return judgement.New(t, judgement.Taken{Stated: RoleAccuracy(RoleMember), Look: RoleAccuracy(RoleReviewer)})
}

// ReliabilityStream is the stream of what is known of people who report on a group.
func ReliabilityStream(group string) string { return "reliability/" + group }

// Changes of a Reliability. Persons are random ids, as everywhere in events.
type (
	// ReliabilityLearned: closed specimens were taken in. People holds those about whom something was learnt, Mentions the
	// characters that their free lists could have mentioned, with all that is known of each.
	ReliabilityLearned struct {
		Specimens []string               `json:"specimens"`
		Items     int                    `json:"items"`
		People    map[string]PersonKnown `json:"people"`
		Mentions  map[string]Mentions    `json:"mentions,omitempty"`
	}
	// ReliabilityRefitted: all reports were weighed together.
	ReliabilityRefitted struct {
		Reliability Reliability `json:"reliability"`
	}
)

// EventKind implements Change.
func (*ReliabilityLearned) EventKind() string { return "reliability-learned" }

// EventKind implements Change.
func (*ReliabilityRefitted) EventKind() string { return "reliability-refitted" }

func init() {
	newChange["reliability-learned"] = func() Change { return &ReliabilityLearned{} }
	newChange["reliability-refitted"] = func() Change { return &ReliabilityRefitted{} }
}

// ReplayReliability returns the snapshot that events of a group's stream make, in order from the first, or from a refit, which holds
// everything that was known.
func ReplayReliability(group string, events []Event) (Reliability, error) {
	r := NewReliability(group)
	if len(events) > 0 {
		if _, whole := events[0].Change.(*ReliabilityRefitted); whole {
			r.Version = events[0].Seq - 1
		}
	}
	for _, e := range events {
		if e.Seq != r.Version+1 {
			return Reliability{}, fmt.Errorf("%s: event %d follows event %d", e.Stream, e.Seq, r.Version)
		}
		if err := r.apply(e); err != nil {
			return Reliability{}, err
		}
	}
	return r, nil
}

// NewReliability knows the roles only.
func NewReliability(group string) Reliability {
	return Reliability{Group: group, Added: []string{}, People: map[string]PersonKnown{}, Warnings: []confidence.Warning{}}
}

func (r *Reliability) apply(e Event) error {
	switch c := e.Change.(type) {
	case *ReliabilityLearned:
		r.Specimens, r.Items = r.Specimens+len(c.Specimens), r.Items+c.Items
		r.Added = append(slices.Clone(r.Added), c.Specimens...)
		r.People = maps.Clone(r.People)
		maps.Copy(r.People, c.People)
		if len(c.Mentions) > 0 {
			mentions := maps.Clone(c.Mentions)
			for character, m := range r.Mentions {
				if _, again := mentions[character]; !again {
					mentions[character] = m
				}
			}
			r.Mentions = mentions
		}
	case *ReliabilityRefitted:
		*r = c.Reliability
	default:
		return fmt.Errorf("%s: event %d is %T, not one of reliability", e.Stream, e.Seq, e.Change)
	}
	r.Version, r.At = e.Seq, e.At
	return nil
}
