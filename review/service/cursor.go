package service

import (
	"bytes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"

	"golang.org/x/crypto/chacha20poly1305"

	"revidit/review"
)

// cursorSeal closes what the store says of where a page has ended, before it goes out. It holds how urgent a sealed
// submission is and by which weights the list is ordered: nobody may read them, and nobody may choose them.
//
// A cursor is, in base64url: the id of a key (4 bytes), a random nonce (24), and XChaCha20-Poly1305 of the position
// (draft-irtf-cfrg-xchacha-03, RFC 8439). The position is filled up with spaces to a multiple of cursorLength, since its
// length tells of the digits in it. Whose cursor it is, of which list and of which filter is associated data, so that it
// opens nowhere else.
type cursorSeal struct {
	keys []cursorKey // the first one seals
}

type cursorKey struct {
	id  []byte
	box cipher.AEAD
}

const (
	cursorKeyID = 4
	// cursorLength has room for a place in both orders of the queue and the weights of twenty regions.
	cursorLength = 1200
)

// cursorPlace is where alone a cursor is good.
type cursorPlace struct {
	List   string
	Person string
	Filter any
}

// newCursorSeal derives a key and its id from each secret (HKDF, RFC 5869).
func newCursorSeal(secrets [][]byte) *cursorSeal {
	if len(secrets) == 0 {
		secret := make([]byte, sha256.Size)
		rand.Read(secret) // never fails: crypto/rand ends the program instead
		secrets = [][]byte{secret}
	}
	seal := &cursorSeal{}
	for _, secret := range secrets {
		derived, err := hkdf.Key(sha256.New, secret, nil, "revidit: cursors of lists", cursorKeyID+chacha20poly1305.KeySize)
		if err != nil {
			panic(err) // only for lengths that are too large, or short secrets where FIPS 140 is enforced
		}
		box, err := chacha20poly1305.NewX(derived[cursorKeyID:])
		if err != nil {
			panic(err) // only for keys of another length
		}
		seal.keys = append(seal.keys, cursorKey{id: derived[:cursorKeyID], box: box})
	}
	return seal
}

// seal closes a position; there is none after the last page.
func (c *cursorSeal) seal(place cursorPlace, position string) (string, error) {
	if position == "" {
		return "", nil
	}
	about, err := json.Marshal(place)
	if err != nil {
		return "", fmt.Errorf("seal a cursor: %w", err)
	}
	padded := append([]byte(position), bytes.Repeat([]byte(" "), (cursorLength-len(position)%cursorLength)%cursorLength)...)
	key := c.keys[0]
	sealed := make([]byte, cursorKeyID+chacha20poly1305.NonceSizeX, cursorKeyID+chacha20poly1305.NonceSizeX+len(padded)+chacha20poly1305.Overhead)
	copy(sealed, key.id)
	nonce := sealed[cursorKeyID:]
	rand.Read(nonce)
	return base64.RawURLEncoding.EncodeToString(key.box.Seal(sealed, nonce, padded, about)), nil
}

// open is the inverse of seal. What was altered, and what was given to somebody else or for another list, is refused.
func (c *cursorSeal) open(place cursorPlace, cursor string) (string, error) {
	if cursor == "" {
		return "", nil
	}
	about, err := json.Marshal(place)
	if err != nil {
		return "", fmt.Errorf("open a cursor: %w", err)
	}
	// Strict: otherwise the last digit can be altered without altering a byte.
	sealed, err := base64.RawURLEncoding.Strict().DecodeString(cursor)
	if err != nil || len(sealed) < cursorKeyID+chacha20poly1305.NonceSizeX {
		return "", foreignCursor()
	}
	id, nonce, closed := sealed[:cursorKeyID], sealed[cursorKeyID:cursorKeyID+chacha20poly1305.NonceSizeX], sealed[cursorKeyID+chacha20poly1305.NonceSizeX:]
	for _, key := range c.keys {
		if !bytes.Equal(id, key.id) {
			continue
		}
		position, err := key.box.Open(nil, nonce, closed, about)
		if err != nil {
			return "", foreignCursor()
		}
		return string(bytes.TrimRight(position, " ")), nil
	}
	return "", foreignCursor()
}

func foreignCursor() error {
	return review.Invalidf("cursor", "is none that this service gave you for this list and filter; begin again with the first page")
}
