package auth

import (
	"crypto/ed25519"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"
)

// TokenKey signs tokens from a time on, until another one does; what it has signed is good until its tokens run out.
type TokenKey struct {
	ID      string // kid of RFC 7515 section 4.1.4: chance, and nothing else
	Since   time.Time
	Ended   bool // nothing that it has signed counts any more
	private ed25519.PrivateKey
}

// Words that begin the lines of token keys: "token ID SINCE SEED", and "token-ended ID".
const (
	tokenWord = "token "
	endedWord = "token-ended "
)

// newTokenKey makes a key that is in force from a time on.
func newTokenKey(since time.Time) TokenKey {
	seed := make([]byte, ed25519.SeedSize)
	rand.Read(seed) // never fails: crypto/rand ends the program instead
	return TokenKey{ID: rand.Text()[:16], Since: since.UTC().Truncate(time.Second), private: ed25519.NewKeyFromSeed(seed)}
}

func (k TokenKey) line() string {
	return tokenWord + k.ID + " " + k.Since.Format(time.RFC3339) + " " + hex.EncodeToString(k.private.Seed())
}

// readTokenKey reads what follows tokenWord.
func readTokenKey(text string) (TokenKey, error) {
	parts := strings.Fields(text)
	if len(parts) != 3 {
		return TokenKey{}, errors.New("a line of a token key has an id, a time and a seed")
	}
	since, err := time.Parse(time.RFC3339, parts[1])
	if err != nil {
		return TokenKey{}, errors.New("the time of a token key is not one of RFC 3339")
	}
	seed, err := hex.DecodeString(parts[2])
	if err != nil || len(seed) != ed25519.SeedSize {
		return TokenKey{}, fmt.Errorf("the seed of a token key is not %d hexadecimal digits", 2*ed25519.SeedSize)
	}
	return TokenKey{ID: parts[0], Since: since, private: ed25519.NewKeyFromSeed(seed)}, nil
}

// MemoryKeys are keys that stand in no file and end with the program.
func MemoryKeys() *KeyRing {
	key := make([]byte, minKey)
	rand.Read(key)
	return &KeyRing{Keys: [][]byte{key}, tokens: []TokenKey{newTokenKey(time.Unix(0, 0))}}
}

// TokenKeys are the keys that sign tokens, the oldest first.
func (r *KeyRing) TokenKeys() []TokenKey {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]TokenKey{}, r.tokens...)
}

// AddTokenKey adds a key that signs tokens from a time on. What others have signed stays good until it runs out.
func (r *KeyRing) AddTokenKey(since time.Time) (TokenKey, error) {
	key := newTokenKey(since)
	if err := r.add(key.line()); err != nil {
		return TokenKey{}, err
	}
	return key, r.read()
}

// EndTokenKey makes all that a key has signed count for nothing, from now on. The one that signs now cannot be ended.
func (r *KeyRing) EndTokenKey(id string, now time.Time) error {
	known := false
	for _, k := range r.TokenKeys() {
		known = known || k.ID == id
	}
	if !known {
		return fmt.Errorf("the key file has no token key %q. Nothing was changed; revidit keys list tells them", id)
	}
	if k, err := r.signs(now); err != nil || k.ID == id {
		return errors.Join(err, fmt.Errorf("the key %s signs the tokens of now. Nothing was changed; add another one first: revidit keys rotate", id))
	}
	if err := r.add(endedWord + id); err != nil {
		return err
	}
	return r.read()
}

// read takes over what stands in the file now.
func (r *KeyRing) read() error {
	if r.path == "" {
		return nil
	}
	read, err := loadKeys(r.path)
	if err != nil {
		return err
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.tokens, r.stamp = read.tokens, read.stamp
	return nil
}

// lookAgain is how often it is looked whether the file has changed, so that every process has a new key before it is in force.
const lookAgain = 5 * time.Second

// refresh reads the file again where it has changed. A file that cannot be read now changes nothing: what was read stays in force.
func (r *KeyRing) refresh(now time.Time) {
	r.mu.Lock()
	due := r.path != "" && (now.Sub(r.looked) >= lookAgain || now.Before(r.looked))
	if due {
		r.looked = now
	}
	stamp := r.stamp
	r.mu.Unlock()
	if !due {
		return
	}
	if info, err := os.Stat(r.path); err != nil || stampOf(info) == stamp {
		return
	}
	_ = r.read() // told by whoever loads it next; the keys of before go on
}

// signs is the key in force at a time: the last one that has begun.
func (r *KeyRing) signs(now time.Time) (TokenKey, error) {
	r.refresh(now)
	keys := r.TokenKeys()
	for i := len(keys) - 1; i >= 0; i-- {
		if !keys[i].Ended && !keys[i].Since.After(now) {
			return keys[i], nil
		}
	}
	return TokenKey{}, errors.New("auth: the key file has no token key that is in force")
}

// verifies is a key by its id, which is compared and never used otherwise.
func (r *KeyRing) verifies(id string, now time.Time) (TokenKey, bool) {
	r.refresh(now)
	for _, k := range r.TokenKeys() {
		if k.ID == id {
			return k, !k.Ended
		}
	}
	return TokenKey{}, false
}
