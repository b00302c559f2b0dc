package review

import (
	"fmt"
	"maps"
	"slices"

	"revidit/review/confidence"
)

// ReliabilityStream is the stream of what is known of people who report on a group.
func ReliabilityStream(group string) string { return "reliability/" + group }

// Changes of a Reliability. Persons are random ids, as everywhere in events.
type (
	// ReliabilityLearned: closed specimens were taken in. People holds those about whom something was learnt.
	ReliabilityLearned struct {
		Specimens []string               `json:"specimens"`
		Items     int                    `json:"items"`
		People    map[string]PersonKnown `json:"people"`
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

// ReplayReliability returns the snapshot that events of a group's stream make, in order from the first.
func ReplayReliability(group string, events []Event) (Reliability, error) {
	r := NewReliability(group)
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
	case *ReliabilityRefitted:
		*r = c.Reliability
	default:
		return fmt.Errorf("%s: event %d is %T, not one of reliability", e.Stream, e.Seq, e.Change)
	}
	r.Version, r.At = e.Seq, e.At
	return nil
}
