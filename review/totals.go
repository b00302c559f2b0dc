package review

import (
	"cmp"
	"slices"

	"revidit/review/confidence"
)

// ReliabilityShown says what curators are shown of how reliably others read.
type ReliabilityShown string

const (
	// ShownTotals: totals of roles alone. A policy that does not say is one of these.
	ShownTotals ReliabilityShown = "totals"
	// ShownNames: each person by name.
	ShownNames ReliabilityShown = "names"
)

// ShowsNames says whether curators are shown reliability by name.
func (p Policy) ShowsNames() bool { return p.ReliabilityShown == ShownNames }

// ReliabilityTotal is how a role reads a region of the body, without saying who.
type ReliabilityTotal struct {
	Role     Role    `json:"role"`
	Region   string  `json:"region"`
	People   int     `json:"people" doc:"Persons of whom something is known there; fewer than 3 are left out, because they could be told"`
	Accuracy float64 `json:"accuracy" doc:"Mean over these persons, 0 to 1"`
	Reports  int     `json:"reports" doc:"Reports used, of all of them"`
}

// LeastTotalled is how many persons a total needs at least: of one or two whoever knows the club could tell who is meant. Our own
// choice, no source.
const LeastTotalled = 3

// TotalsOf are the totals of a snapshot, by role and region. Totals of too few persons are left out.
func TotalsOf(people map[string]PersonKnown) []ReliabilityTotal {
	of := map[ReliabilityTotal][]confidence.KnownAccuracy{}
	for _, known := range people {
		for region, accuracy := range known.Regions {
			key := ReliabilityTotal{Role: known.Role, Region: region}
			of[key] = append(of[key], accuracy)
		}
	}
	totals := []ReliabilityTotal{}
	for total, known := range of {
		if total.People = len(known); total.People < LeastTotalled {
			continue
		}
		values := make([]float64, len(known))
		for i, k := range known {
			values[i] = k.Value()
			total.Reports += k.Verdicts
		}
		slices.Sort(values) // one sum whatever the order of a map
		for _, v := range values {
			total.Accuracy += v / float64(len(values))
		}
		totals = append(totals, total)
	}
	slices.SortFunc(totals, func(a, b ReliabilityTotal) int {
		return cmp.Or(cmp.Compare(a.Role, b.Role), cmp.Compare(a.Region, b.Region))
	})
	return totals
}

// SeenBy is a snapshot as an actor may see it: everybody to curators where the policy shows names, else totals beside their own;
// to others their own alone.
func (r Reliability) SeenBy(actor Actor, policy Policy) Reliability {
	mayAll := May(actor, ActReadFigures, "")
	if mayAll && policy.ShowsNames() {
		return r
	}
	if mayAll {
		r.Totals, r.Unnamed = TotalsOf(r.People), len(r.People)
	} else {
		r.Added = []string{}
	}
	own := map[string]PersonKnown{}
	if known, ok := r.People[actor.Person]; ok {
		own[actor.Person] = known
	}
	r.People = own
	return r
}
