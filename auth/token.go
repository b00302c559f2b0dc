package auth

import (
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/golang-jwt/jwt/v5"
)

// TokenLife is how long a login lasts.
const TokenLife = 12 * time.Hour

// What a login token names, so that no token made for another purpose or by another service passes for one
// (RFC 8725 sections 3.8, 3.9, 3.11 and 3.12).
const (
	issuer    = "revidit"
	audience  = "revidit"
	tokenType = "revidit-login+jwt"
)

// minKey is the least length of a key for HS256: that of the hash (RFC 7518 section 3.2).
const minKey = 32

// claims of a login token. Its id is that of the session.
type claims struct{ jwt.RegisteredClaims }

// compact is the form of a compact token: three parts of base64url without padding. Go's decoder would pass over line
// ends, so that one token could be written in many ways.
var compact = regexp.MustCompile(`^[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+$`)

func sign(key []byte, c claims) (string, error) {
	token := jwt.NewWithClaims(jwt.SigningMethodHS256, c)
	token.Header["typ"] = tokenType
	text, err := token.SignedString(key)
	if err != nil {
		return "", fmt.Errorf("auth: sign token: %w", err)
	}
	return text, nil
}

// parse reads a compact token into c, verifies it and returns the type that its header names: HS256 alone, whatever
// the header says, strict base64url, no critical extensions, and what rules asks of the claims.
func parse(token string, key []byte, c jwt.Claims, rules ...jwt.ParserOption) (kind any, err error) {
	if !compact.MatchString(token) {
		return nil, errors.New("not a compact token")
	}
	rules = append(rules, jwt.WithValidMethods([]string{jwt.SigningMethodHS256.Alg()}), jwt.WithStrictDecoding())
	read, err := jwt.NewParser(rules...).ParseWithClaims(token, c, func(t *jwt.Token) (any, error) {
		// RFC 7515 section 4.1.11: an extension that must be understood and is not makes the token invalid. The
		// library does not look at it, and this service understands none.
		if _, critical := t.Header["crit"]; critical {
			return nil, errors.New("critical header extension")
		}
		return key, nil
	})
	if err != nil {
		return nil, err
	}
	return read.Header["typ"], nil
}

// parseLogin verifies a login token at a time.
func parseLogin(token string, key []byte, now func() time.Time) (claims, error) {
	var c claims
	kind, err := parse(token, key, &c, jwt.WithIssuer(issuer), jwt.WithAudience(audience),
		jwt.WithExpirationRequired(), jwt.WithTimeFunc(now))
	if err != nil {
		return claims{}, err
	}
	if kind != tokenType {
		return claims{}, fmt.Errorf("type is not %s", tokenType)
	}
	if c.Subject == "" {
		return claims{}, errors.New("no subject")
	}
	if c.ID == "" {
		return claims{}, errors.New("no session")
	}
	return c, nil
}
