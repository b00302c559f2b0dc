package review

import "time"

// Changes of an account. They hold neither login nor name, which are erasable and stand elsewhere, and no word of a password, a link or
// whatever else lets somebody in. A curator makes them, or who keeps the server, from the command line: then they are of the program. They
// have the reason that was given, without which neither role nor logins of anybody are changed, and nobody is erased (before there were
// reasons for that, without one). What a person does with the own account is of that person. A machine's tokens and the
// families of a reviewer are a curator's.
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
	// PasswordSet: another password was set, and all logins ended, but for the one by which a person has done so.
	PasswordSet struct{}
	// Invited: somebody may make an account under this id until then, with this role. The account that comes of it is AccountAdded, by
	// its person.
	Invited struct {
		Role  Role      `json:"role"`
		Until time.Time `json:"until"`
	}
	// InvitationTakenBack: nobody can any more.
	InvitationTakenBack struct{}
	// FactorAdded: the person's login asks for it beside the password from now on. FactorRemoved: not any more; the reason is of who has
	// removed those of somebody else.
	FactorAdded struct {
		Factor FactorKind `json:"factor"`
	}
	FactorRemoved struct {
		Factor FactorKind `json:"factor"`
		Reason string     `json:"reason,omitempty"`
	}
	// ProviderLinked: the person can log in by the OpenID provider of the club from now on. ProviderUnlinked: not any more.
	ProviderLinked struct{}
	// The reason is of who has taken the login off the account of somebody else.
	ProviderUnlinked struct {
		Reason string `json:"reason,omitempty"`
	}
	// RecoveryRenewed: the person has new recovery codes.
	RecoveryRenewed struct{}
	// RefreshUsedTwice: two have had a refresh token of a program, which has ended its login. The program records it.
	RefreshUsedTwice struct{}
	// SessionsEnded: somebody else has ended all logins of the person.
	SessionsEnded struct {
		Reason string `json:"reason"`
	}
	// LinkHandedOver: whoever keeps accounts was shown a new link, of an invitation or for another password, to hand over.
	LinkHandedOver struct {
		Purpose LinkPurpose `json:"purpose"`
		Until   time.Time   `json:"until"`
	}
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

func (*AccountAdded) EventKind() string        { return "account-added" }
func (*RoleChanged) EventKind() string         { return "role-changed" }
func (*AccountDisabled) EventKind() string     { return "account-disabled" }
func (*AccountEnabled) EventKind() string      { return "account-enabled" }
func (*PasswordSet) EventKind() string         { return "password-set" }
func (*LanguageChosen) EventKind() string      { return "language-chosen" }
func (*PersonErased) EventKind() string        { return "person-erased" }
func (*FamiliesNamed) EventKind() string       { return "families-named" }
func (*TokenGiven) EventKind() string          { return "token-given" }
func (*TokenRevoked) EventKind() string        { return "token-revoked" }
func (*Invited) EventKind() string             { return "invited" }
func (*InvitationTakenBack) EventKind() string { return "invitation-taken-back" }
func (*FactorAdded) EventKind() string         { return "second-factor-added" }
func (*FactorRemoved) EventKind() string       { return "second-factor-removed" }
func (*RecoveryRenewed) EventKind() string     { return "recovery-codes-renewed" }
func (*RefreshUsedTwice) EventKind() string    { return "refresh-token-used-twice" }
func (*ProviderLinked) EventKind() string      { return "provider-linked" }
func (*ProviderUnlinked) EventKind() string    { return "provider-unlinked" }
func (*SessionsEnded) EventKind() string       { return "sessions-ended" }
func (*LinkHandedOver) EventKind() string      { return "account-link-handed-over" }

func init() {
	for _, make := range []func() Change{
		func() Change { return &AccountAdded{} }, func() Change { return &RoleChanged{} }, func() Change { return &AccountDisabled{} },
		func() Change { return &AccountEnabled{} }, func() Change { return &PasswordSet{} }, func() Change { return &PersonErased{} }, func() Change { return &LanguageChosen{} },
		func() Change { return &FamiliesNamed{} }, func() Change { return &TokenGiven{} }, func() Change { return &TokenRevoked{} },
		func() Change { return &Invited{} }, func() Change { return &InvitationTakenBack{} }, func() Change { return &LinkHandedOver{} },
		func() Change { return &SessionsEnded{} }, func() Change { return &FactorAdded{} }, func() Change { return &FactorRemoved{} }, func() Change { return &RecoveryRenewed{} },
		func() Change { return &ProviderLinked{} }, func() Change { return &ProviderUnlinked{} },
		func() Change { return &RefreshUsedTwice{} },
	} {
		newChange[make().EventKind()] = make
	}
}

// AccountStream is the stream of a person's account.
func AccountStream(person string) string { return "account/" + person }

// ProgramActor is who acts where the program does, or whoever keeps the server by its command line.
const ProgramActor = "program"

// FactorKind is what an account asks for beside a password.
type FactorKind string

const (
	FactorPasskey FactorKind = "passkey"
	FactorCodes   FactorKind = "one-time-codes"
	FactorAll     FactorKind = "all" // of them, removed together
)
