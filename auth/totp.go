package auth

import (
	"bytes"
	"context"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base32"
	"fmt"
	"image/png"
	"time"

	"github.com/pquerna/otp"
	"github.com/pquerna/otp/hotp"
	"github.com/pquerna/otp/totp"
	"golang.org/x/crypto/chacha20poly1305"

	"revidit/review"
)

// One-time codes are those of RFC 6238 as programs on telephones make them: SHA-1, six digits, 30 seconds. The secret has 160 bits
// (RFC 4226 section 4). A clock may be off by one step (RFC 6238 section 5.2).
const (
	totpPeriod = 30
	totpSecret = 20
	totpSkew   = 1
)

var unpadded = base32.StdEncoding.WithPadding(base32.NoPadding)

// codeAt is the code of a time step.
func codeAt(secret []byte, step int64, digits otp.Digits, algorithm otp.Algorithm) (string, error) {
	code, err := hotp.GenerateCodeCustom(unpadded.EncodeToString(secret), uint64(step), hotp.ValidateOpts{Digits: digits, Algorithm: algorithm})
	if err != nil {
		return "", fmt.Errorf("auth: one-time code: %w", err)
	}
	return code, nil
}

// timeStep is the number of 30 seconds since 1970 (RFC 6238 section 4.2).
func timeStep(t time.Time) int64 { return t.Unix() / totpPeriod }

// stepOf is the time step of which a code is, among those that may be now.
func (a *Accounts) stepOf(person string, sealed []byte, code string) (step int64, ok bool, err error) {
	secret, err := a.unseal(person, sealed)
	if err != nil {
		return 0, false, err
	}
	now := timeStep(a.now())
	for step := now - totpSkew; step <= now+totpSkew; step++ {
		want, err := codeAt(secret, step, otp.DigitsSix, otp.AlgorithmSHA1)
		if err != nil {
			return 0, false, err
		}
		if subtle.ConstantTimeCompare([]byte(want), []byte(code)) == 1 {
			return step, true, nil
		}
	}
	return 0, false, nil
}

// CodeSecret is what a program on a telephone is told, once.
type CodeSecret struct {
	Key string // the secret as people type it (RFC 4648 base32)
	URI string // otpauth://, as programs read it from the picture
	// Picture is a QR code of URI, PNG.
	Picture []byte
}

// codePicture is how many pixels wide and high the picture is: four and more of each module.
const codePicture = 260

// codeSecret is a secret as it is shown.
func codeSecret(login string, secret []byte) (CodeSecret, error) {
	key, err := totp.Generate(totp.GenerateOpts{Issuer: "Revidit", AccountName: login, Secret: secret, Period: totpPeriod})
	if err != nil {
		return CodeSecret{}, fmt.Errorf("auth: one-time codes: %w", err)
	}
	drawn, err := key.Image(codePicture, codePicture)
	if err != nil {
		return CodeSecret{}, fmt.Errorf("auth: picture of a secret: %w", err)
	}
	var picture bytes.Buffer
	if err := png.Encode(&picture, drawn); err != nil {
		return CodeSecret{}, fmt.Errorf("auth: picture of a secret: %w", err)
	}
	return CodeSecret{Key: key.Secret(), URI: key.URL(), Picture: picture.Bytes()}, nil
}

// BeginCodes makes a secret for one-time codes, of who is logged in by a token and knows the password. It counts for nothing until a
// code has been given that it makes.
func (a *Accounts) BeginCodes(ctx context.Context, token, present, clientIP string) (CodeSecret, error) {
	account, err := a.proven(ctx, token, present, clientIP)
	if err != nil {
		return CodeSecret{}, err
	}
	factors, err := a.store.Factors(ctx, account.Person)
	if err != nil {
		return CodeSecret{}, err
	}
	if factors.Codes {
		return CodeSecret{}, review.Errorf(review.KindConflict, "Your login takes one-time codes already. Nothing was changed; remove them first to set up another telephone.")
	}
	secret := make([]byte, totpSecret)
	rand.Read(secret) // never fails: crypto/rand ends the program instead
	made, err := codeSecret(account.Login, secret)
	if err != nil {
		return CodeSecret{}, err
	}
	sealed, err := a.seal(account.Person, secret)
	if err != nil {
		return CodeSecret{}, err
	}
	return made, a.store.BeginCodes(ctx, account.Person, sealed, a.moment())
}

// ConfirmCodes has the login of a person ask for one-time codes from now on, once one was given. It returns recovery codes to be written
// down, where the account had none.
func (a *Accounts) ConfirmCodes(ctx context.Context, token, code string) (recovery []string, err error) {
	account, _, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return nil, err
	}
	if err := a.count(ctx, CodeLimit, "first code of", account.Person); err != nil {
		return nil, err
	}
	factors, err := a.store.Factors(ctx, account.Person)
	if err != nil {
		return nil, err
	}
	if factors.Sealed == nil || factors.Codes {
		return nil, review.Errorf(review.KindConflict, "There are no one-time codes to set up. Nothing was changed; begin once more.")
	}
	step, ok, err := a.stepOf(account.Person, factors.Sealed, plainCode(code))
	if err != nil {
		return nil, err
	}
	if !ok {
		return nil, review.Invalidf("code", "is not the one that the telephone shows now; look whether its clock is right")
	}
	recovery, digests := newRecovery()
	given, err := a.store.ConfirmCodes(ctx, a.ownFactor(account, review.LetterFactorAdded), step, digests)
	if !given {
		recovery = nil
	}
	return recovery, err
}

// PendingCodes is the secret that a person has begun to set up and not confirmed, or a KindNotFound error.
func (a *Accounts) PendingCodes(ctx context.Context, token string) (CodeSecret, error) {
	account, _, err := a.verify(ctx, token, ownToken)
	if err != nil {
		return CodeSecret{}, err
	}
	factors, err := a.store.Factors(ctx, account.Person)
	if err != nil {
		return CodeSecret{}, err
	}
	if factors.Sealed == nil || factors.Codes {
		return CodeSecret{}, review.Errorf(review.KindNotFound, "There is nothing at this address.")
	}
	secret, err := a.unseal(account.Person, factors.Sealed)
	if err != nil {
		return CodeSecret{}, err
	}
	return codeSecret(account.Login, secret)
}

// sealKey is derived from a key of the club (HKDF, RFC 5869): the database alone tells no secret.
func sealKey(key []byte) ([]byte, error) {
	derived, err := hkdf.Key(sha256.New, key, nil, "revidit: secrets of one-time codes", chacha20poly1305.KeySize)
	if err != nil {
		return nil, fmt.Errorf("auth: %w", err)
	}
	return derived, nil
}

// seal encrypts a secret for a person with the key in force (XChaCha20-Poly1305).
func (a *Accounts) seal(person string, secret []byte) ([]byte, error) {
	key, err := sealKey(a.keys.Keys[0])
	if err != nil {
		return nil, err
	}
	aead, err := chacha20poly1305.NewX(key)
	if err != nil {
		return nil, fmt.Errorf("auth: %w", err)
	}
	nonce := make([]byte, aead.NonceSize(), aead.NonceSize()+len(secret)+aead.Overhead())
	rand.Read(nonce) // as above
	return aead.Seal(nonce, nonce, secret, []byte(person)), nil
}

// unseal decrypts one, with whichever key of the club it was sealed.
func (a *Accounts) unseal(person string, sealed []byte) ([]byte, error) {
	for _, one := range a.keys.Keys {
		key, err := sealKey(one)
		if err != nil {
			return nil, err
		}
		aead, err := chacha20poly1305.NewX(key)
		if err != nil {
			return nil, fmt.Errorf("auth: %w", err)
		}
		if len(sealed) < aead.NonceSize() {
			break
		}
		if secret, err := aead.Open(nil, sealed[:aead.NonceSize()], sealed[aead.NonceSize():], []byte(person)); err == nil {
			return secret, nil
		}
	}
	return nil, fmt.Errorf("auth: the secret of one-time codes of %s cannot be read with the keys of this club: restore the key file, or have a curator remove the second factor", person)
}
