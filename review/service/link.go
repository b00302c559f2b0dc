package service

import (
	"crypto/hkdf"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"strconv"
	"strings"
	"time"

	"revidit/review"
)

// linkSeal signs what stands in links of letters, by which somebody acts who is not logged in: one purpose each, for one person, so
// that a link does what it says and nothing else. It is HMAC-SHA-256 (RFC 2104) of purpose, person and what else it is about.
type linkSeal struct{ keys [][]byte } // the first one signs, all are believed

// Purposes of links.
const (
	linkUnsubscribe = "unsubscribe" // has no end: a letter may be read years later
	linkConfirm     = "confirm"     // about the address and the day
)

// confirmFor is how long the question may be answered whether an address is somebody's.
const confirmFor = 3 // days

// newLinkSeal derives a key from each secret (HKDF, RFC 5869).
func newLinkSeal(secrets [][]byte) linkSeal {
	if len(secrets) == 0 {
		secret := make([]byte, sha256.Size)
		rand.Read(secret) // never fails: crypto/rand ends the program instead
		secrets = [][]byte{secret}
	}
	var seal linkSeal
	for _, secret := range secrets {
		key, err := hkdf.Key(sha256.New, secret, nil, "revidit: links of letters", sha256.Size)
		if err != nil {
			panic(err) // only for lengths that are too large, or short secrets where FIPS 140 is enforced
		}
		seal.keys = append(seal.keys, key)
	}
	return seal
}

func sum(key []byte, parts ...string) []byte {
	mac := hmac.New(sha256.New, key)
	for _, part := range parts {
		mac.Write([]byte(strconv.Itoa(len(part)) + ":" + part)) // so that no two lists of parts are one text
	}
	return mac.Sum(nil)
}

// sign is a token for an address: what it says stands in it, readable, and about is what both sides know.
func (s linkSeal) sign(purpose, person, said, about string) string {
	encode := base64.RawURLEncoding.EncodeToString
	return encode([]byte(person)) + "." + encode([]byte(said)) + "." + encode(sum(s.keys[0], purpose, person, said, about))
}

// read returns what a token says, before anybody knows whether that is so.
func readLink(token string) (person, said string, ok bool) {
	parts := strings.Split(token, ".")
	if len(token) > 400 || len(parts) != 3 {
		return "", "", false
	}
	decode := base64.RawURLEncoding.Strict().DecodeString
	first, err1 := decode(parts[0])
	second, err2 := decode(parts[1])
	return string(first), string(second), err1 == nil && err2 == nil
}

// holds says whether a token is one that sign has made with the same purpose and the same about.
func (s linkSeal) holds(token, purpose, about string) bool {
	person, said, ok := readLink(token)
	if !ok {
		return false
	}
	given, err := base64.RawURLEncoding.Strict().DecodeString(token[strings.LastIndexByte(token, '.')+1:])
	if err != nil {
		return false
	}
	for _, key := range s.keys {
		if hmac.Equal(given, sum(key, purpose, person, said, about)) {
			return true
		}
	}
	return false
}

// day numbers days since 1970.
func day(t time.Time) int64 { return t.Unix() / int64(24*time.Hour/time.Second) }

func badLink() error {
	return review.Errorf(review.KindNotFound, "This link is none of ours, or is too old. Nothing was changed; log in to choose what you are sent.")
}
