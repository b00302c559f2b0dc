package review

// Role is what a person is trusted with.
type Role string

const (
	// RoleMember submits specimens and answers about them.
	RoleMember Role = "member"
	// RoleReviewer also looks again at the submissions of others.
	RoleReviewer Role = "reviewer"
	// RoleCurator also answers for the collection: policy, reopening, exact places.
	RoleCurator Role = "curator"
)

// Roles are all roles, the least trusted first.
var Roles = []Role{RoleMember, RoleReviewer, RoleCurator}

// Valid says whether the role is one of Roles.
func (r Role) Valid() bool {
	return r == RoleMember || r == RoleReviewer || r == RoleCurator
}

// Actor is who acts, resolved at the edge from a login and passed as an argument.
type Actor struct {
	Person string // id
	Name   string
	Role   Role
}

// Person is somebody whom events name by a random id. The name stands outside the events, so that it can be erased.
// A determiner of an old slip is a person without an account.
type Person struct {
	ID   string `json:"id"`
	Name string `json:"name"`
	Role Role   `json:"role,omitempty"` // empty without an account
}
