package auth

// Outcome is how an attempt to log in ended.
type Outcome string

const (
	LoggedIn      Outcome = "logged in"
	WrongPassword Outcome = "wrong password"
	UnknownLogin  Outcome = "unknown login"
	AccountEnded  Outcome = "account disabled"
	TooOften      Outcome = "too many attempts"
	WrongCode     Outcome = "wrong second factor"
	WrongPasskey  Outcome = "wrong passkey"
	PasswordReset Outcome = "password set by a link"
)

// Attempt is an attempt to log in, as whoever watches over the accounts is told of it.
type Attempt struct {
	// Login is that of an account. It is empty where there is none: what people type there may be their password.
	Login   string
	Address string // that it is counted under; as Login was given it
	Outcome Outcome
}

// Watch has every attempt told to somebody, who is called by several goroutines. It is set before the first one.
func (a *Accounts) Watch(tell func(Attempt)) { a.watch = tell }

func (a *Accounts) tell(login, address string, outcome Outcome) {
	if a.watch != nil {
		a.watch(Attempt{Login: login, Address: address, Outcome: outcome})
	}
}
