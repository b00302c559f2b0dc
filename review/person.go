package review

import (
	"slices"
	"strings"
)

// Role is what a person is trusted with.
type Role string

const (
	// RoleMember submits specimens and answers about them.
	RoleMember Role = "member"
	// RoleReviewer also looks again at the submissions of others.
	RoleReviewer Role = "reviewer"
	// RoleKeeper also looks after the collection: specimens, labels, places, photos, archives, intakes. They have no say about names.
	RoleKeeper Role = "keeper"
	// RoleCurator also answers for the collection: policy, reopening, exact places.
	RoleCurator Role = "curator"
	// RoleMachine is a program with a token of its own: it does what its scopes allow, and never reviews or decides.
	RoleMachine Role = "machine"
)

// Roles are all roles, the least trusted with names first, machines last.
var Roles = []Role{RoleMember, RoleKeeper, RoleReviewer, RoleCurator, RoleMachine}

// PeopleRoles are those that a person may have.
var PeopleRoles = Roles[:4]

// Valid says whether the role is one of Roles.
func (r Role) Valid() bool { return slices.Contains(Roles, r) }

// ForPeople says whether the role is one of PeopleRoles.
func (r Role) ForPeople() bool { return slices.Contains(PeopleRoles, r) }

// Reviews says whether the role looks again at what others have submitted.
func (r Role) Reviews() bool { return r == RoleReviewer || r == RoleCurator }

// States says whether what the role reports is weighed as that of a member: they state, and nobody has named them to look again.
func (r Role) States() bool { return r == RoleMember || r == RoleKeeper || r == RoleMachine }

// Families are those that a reviewer is named for, in order, with a space between; empty: all.
type Families string

// FamiliesOf is the families as they are kept: each once, in order.
func FamiliesOf(names []string) Families {
	sorted := slices.Compact(slices.Sorted(slices.Values(names)))
	return Families(strings.Join(sorted, " "))
}

// Names are the families one by one; none: all.
func (f Families) Names() []string {
	if f == "" {
		return nil
	}
	return strings.Fields(string(f))
}

// Cover says whether a family is one of them.
func (f Families) Cover(family string) bool { return f == "" || slices.Contains(f.Names(), family) }

// Scope is what a machine's token is given for.
type Scope string

const (
	ScopeRead   Scope = "read"   // submissions, specimens with what is open of their labels, tables
	ScopeSubmit Scope = "submit" // photos, drafts, submissions of its own, and answers about them
	ScopeExport Scope = "export" // archives for others, what came about in the collection
	ScopePrint  Scope = "print"  // labels, and the sheets that it has printed
)

// AllScopes are all scopes.
var AllScopes = []Scope{ScopeRead, ScopeSubmit, ScopeExport, ScopePrint}

// Scopes are those of a token, in the order of AllScopes, with a space between (RFC 6749 section 3.3).
type Scopes string

// ScopesOf is the scopes as they are kept: each once, in order. One that there is not is left out.
func ScopesOf(given []Scope) Scopes {
	var kept []string
	for _, s := range AllScopes {
		if slices.Contains(given, s) {
			kept = append(kept, string(s))
		}
	}
	return Scopes(strings.Join(kept, " "))
}

// Has says whether a scope is among them; the empty one, which takes none, always is.
func (s Scopes) Has(scope Scope) bool {
	return scope == "" || slices.Contains(strings.Fields(string(s)), string(scope))
}

// Actor is who acts, resolved at the edge from a login and passed as an argument.
type Actor struct {
	Person string // id
	Name   string
	Role   Role
	// Families are those that a reviewer is named for; empty: all.
	Families Families
	// Scopes of the token by which a machine acts.
	Scopes Scopes
	// Machines are those that the actor has given a token: what they submit is as the actor's own where it is judged.
	Machines Machines
}

// Behind says whether an actor is a person, or has given a token to what acts under that id.
func (a Actor) Behind(person string) bool { return a.Person == person || a.Machines.Has(person) }

// Machines are ids of machines, with a space between.
type Machines string

// IDs are the ids one by one.
func (m Machines) IDs() []string { return strings.Fields(string(m)) }

// Has says whether a machine is among them.
func (m Machines) Has(id string) bool { return slices.Contains(m.IDs(), id) }

// LooksBlind says whether an actor takes part in blind looks and panels: reviewers of all families. Before one who is named for
// some, that a submission stands in the queue tells its name.
func (a Actor) LooksBlind() bool { return a.Role == RoleReviewer && a.Families == "" }

// Person is somebody whom events name by a random id. The name stands outside the events, so that it can be erased.
// A determiner of an old slip is a person without an account.
type Person struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Role Role   `json:"role,omitempty"` // empty without an account
	// Families are those that a reviewer is named for.
	Families []string `json:"families,omitempty" doc:"Families that a reviewer is named for; left out: all"`
}
