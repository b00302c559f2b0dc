package review

import "time"

// Changes of an account. They hold neither login nor name, which are erasable and stand elsewhere, and no word of a password. Who
// keeps the server makes them from the command line: they are of the program, with the reason that was given, without which neither role nor
// logins of anybody are changed, and nobody is erased (before there were reasons for that, without one). A language is chosen by its person.
type (
	// AccountAdded: a person has a login from now on.
	AccountAdded struct {
		Role Role `json:"role"`
	}
	// RoleChanged: what the person may do is another from the next request on.
	RoleChanged struct {
		Role   Role   `json:"role"`
		Reason string `json:"reason,omitempty"`
	}
	// AccountDisabled ends all logins; AccountEnabled lets the person log in again.
	AccountDisabled struct {
		Reason string `json:"reason,omitempty"`
	}
	AccountEnabled struct {
		Reason string `json:"reason,omitempty"`
	}
	// PasswordSet: another password was set, and all logins ended.
	PasswordSet struct{}
	// LanguageChosen: the person reads in it, a tag of BCP 47; empty: as each request says.
	LanguageChosen struct {
		Language string `json:"language"`
	}
	// FamiliesNamed: a reviewer looks at these families alone from now on; none: at all.
	FamiliesNamed struct {
		Families []string `json:"families"`
		Reason   string   `json:"reason"`
	}
	// TokenGiven: a machine can act by a token, named by its id, which is no secret, until it expires or is revoked.
	TokenGiven struct {
		Token   string    `json:"token"`
		Scopes  []Scope   `json:"scopes"`
		Expires time.Time `json:"expires"`
		Reason  string    `json:"reason"` // what it is for
	}
	// TokenRevoked: the token counts no more.
	TokenRevoked struct {
		Token  string `json:"token"`
		Reason string `json:"reason"`
	}
	// PersonErased: name, login and whatever else is erasable are gone. The id stays.
	PersonErased struct {
		Reason string `json:"reason,omitempty"`
	}
)

func (*AccountAdded) EventKind() string    { return "account-added" }
func (*RoleChanged) EventKind() string     { return "role-changed" }
func (*AccountDisabled) EventKind() string { return "account-disabled" }
func (*AccountEnabled) EventKind() string  { return "account-enabled" }
func (*PasswordSet) EventKind() string     { return "password-set" }
func (*LanguageChosen) EventKind() string  { return "language-chosen" }
func (*PersonErased) EventKind() string    { return "person-erased" }
func (*FamiliesNamed) EventKind() string   { return "families-named" }
func (*TokenGiven) EventKind() string      { return "token-given" }
func (*TokenRevoked) EventKind() string    { return "token-revoked" }

func init() {
	for _, make := range []func() Change{
		func() Change { return &AccountAdded{} }, func() Change { return &RoleChanged{} }, func() Change { return &AccountDisabled{} },
		func() Change { return &AccountEnabled{} }, func() Change { return &PasswordSet{} }, func() Change { return &PersonErased{} }, func() Change { return &LanguageChosen{} },
		func() Change { return &FamiliesNamed{} }, func() Change { return &TokenGiven{} }, func() Change { return &TokenRevoked{} },
	} {
		newChange[make().EventKind()] = make
	}
}

// AccountStream is the stream of a person's account.
func AccountStream(person string) string { return "account/" + person }

// ProgramActor is who acts where the program does, or whoever keeps the server by its command line.
const ProgramActor = "program"
