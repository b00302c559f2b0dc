package auth

import (
	"context"
	"crypto/rand"
	"fmt"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/secure/precis"

	"revidit/review"
)

// MaxPassword is the greatest length of a password, in letters.
const MaxPassword = 200

// argonParams are 19 MiB, two passes and one lane: the least that the OWASP Password Storage Cheat Sheet gives for
// Argon2id (from memory). The library's own default takes 64 MiB a login.
var argonParams = &argon2id.Params{Memory: 19 * 1024, Iterations: 2, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// cheapParams are the least that the algorithm takes.
var cheapParams = &argon2id.Params{Memory: 8, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32}

// hasher bounds how many passwords are worked on at once: each takes 19 MiB, and a burst of logins must not exhaust
// memory.
type hasher struct {
	slots chan struct{}
	// unknown is the hash of a password that nobody knows: a login that does not exist costs the same work.
	unknown string
	params  *argon2id.Params
}

func newHasher(slots int, params *argon2id.Params) (*hasher, error) {
	dummy, err := argon2id.CreateHash(rand.Text(), params)
	if err != nil {
		return nil, fmt.Errorf("auth: %w", err)
	}
	return &hasher{slots: make(chan struct{}, max(slots, 1)), unknown: dummy, params: params}, nil
}

func (h *hasher) enter(ctx context.Context) error {
	select {
	case h.slots <- struct{}{}:
		return nil
	case <-ctx.Done():
		return fmt.Errorf("auth: waiting to work on a password: %w", ctx.Err())
	}
}

func (h *hasher) leave() { <-h.slots }

// hash returns the PHC string of a password that preparePassword has accepted.
func (h *hasher) hash(ctx context.Context, password string) (string, error) {
	if err := h.enter(ctx); err != nil {
		return "", err
	}
	defer h.leave()
	text, err := argon2id.CreateHash(password, h.params)
	if err != nil {
		return "", fmt.Errorf("auth: %w", err)
	}
	return text, nil
}

// matches says whether a password is the one that was hashed. It fails on a hash that is damaged.
func (h *hasher) matches(ctx context.Context, password, hash string) (bool, error) {
	if err := h.enter(ctx); err != nil {
		return false, err
	}
	defer h.leave()
	ok, err := argon2id.ComparePasswordAndHash(password, hash)
	if err != nil {
		return false, fmt.Errorf("auth: stored password: %w", err)
	}
	return ok, nil
}

// preparePassword brings a password into the one form in which it is hashed (RFC 8265 OpaqueString), so that it is the
// same from every keyboard, and refuses one that is empty, too long, or holds control characters. What else is asked of a
// new one is for checkPassword.
func preparePassword(password string) (string, error) {
	prepared, err := precis.OpaqueString.String(password)
	if err != nil {
		return "", review.Invalidf("password", "must be letters, digits, signs and spaces")
	}
	if utf8.RuneCountInString(prepared) > MaxPassword {
		return "", review.Invalidf("password", "must have at most %d letters", MaxPassword)
	}
	return prepared, nil
}
