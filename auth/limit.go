package auth

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/netip"
	"strings"
	"time"
)

// ErrTooMany is what every TooManyError is.
var ErrTooMany = errors.New("too many attempts to log in")

// TooManyError refuses an attempt to log in that came too soon after too many others.
type TooManyError struct {
	Wait time.Duration // until another attempt is worth it
}

func (e *TooManyError) Error() string {
	return fmt.Sprintf(TooManyWords, e.Seconds())
}

// TooManyWords is what is said of it, with the seconds.
const TooManyWords = "Too many attempts to log in. This one was not looked at; wait %d seconds and try again."

// Seconds is how long to wait, in whole seconds.
func (e *TooManyError) Seconds() int { return int(e.Wait.Seconds()) + 1 }

// Is makes errors.Is(err, ErrTooMany) true.
func (e *TooManyError) Is(target error) bool { return target == ErrTooMany }

// Limit is how often something may be tried: Burst times at once, and once more after each Every.
type Limit struct {
	Burst int
	Every time.Duration
}

// Limits on attempts to log in, counted from an address, for an account from an address, and for an account from
// wherever.
type Limits struct {
	PerAddress, PerPair, PerAccount Limit
}

// DefaultLimits are our own choice (common practice, no source): a person who mistypes is not stopped, a program that
// guesses is. The bound on an account from wherever is loose, because it is met by the owner too: whoever guesses from
// few addresses meets the other two first.
var DefaultLimits = Limits{
	PerAddress: Limit{Burst: 30, Every: 2 * time.Second},
	PerPair:    Limit{Burst: 10, Every: 30 * time.Second},
	PerAccount: Limit{Burst: 100, Every: time.Second},
}

func (l Limits) orDefault() Limits {
	for _, one := range []struct{ limit, standard *Limit }{{&l.PerAddress, &DefaultLimits.PerAddress},
		{&l.PerPair, &DefaultLimits.PerPair}, {&l.PerAccount, &DefaultLimits.PerAccount}} {
		if one.limit.Burst == 0 {
			*one.limit = *one.standard
		}
	}
	return l
}

// takeAttempt counts an attempt, or returns a TooManyError. The account is counted last: an attempt that its address may
// not make takes nothing away from those of the owner.
func (a *Accounts) takeAttempt(ctx context.Context, login, client string) error {
	address := AddressKey(client)
	for _, one := range []struct {
		key   string
		limit Limit
	}{{attemptKey("address", address), a.limits.PerAddress}, {attemptKey("pair", login, address), a.limits.PerPair},
		{attemptKey("account", login), a.limits.PerAccount}} {
		wait, err := a.store.TakeAttempt(ctx, one.key, one.limit, a.now())
		if err != nil {
			return err
		}
		if wait > 0 {
			return &TooManyError{Wait: wait}
		}
	}
	return nil
}

// attemptKey is a digest: what people type where the login is asked may be their password.
func attemptKey(parts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(parts, "\x00")))
	return hex.EncodeToString(sum[:])
}

// AddressKey is what a client address is counted under: IPv6 by its first 64 bits, which one household or server has
// to itself. An address that cannot be read is counted as it is written.
func AddressKey(client string) string {
	address, err := netip.ParseAddr(client)
	if err != nil {
		return client
	}
	address = address.Unmap().WithZone("")
	if address.Is4() {
		return address.String()
	}
	return netip.PrefixFrom(address, 64).Masked().String()
}
