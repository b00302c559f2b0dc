package auth

import (
	"errors"
	"fmt"
	"regexp"
	"time"

	"github.com/golang-jwt/jwt/v5"
)

// How long what stands for a login is good.
const (
	// TokenLife is how long a login on pages lasts.
	TokenLife = 12 * time.Hour
	// AccessLife is how long the access token of a program lasts; ProgramLife is until when it may be followed by another.
	AccessLife  = 15 * time.Minute
	ProgramLife = 30 * 24 * time.Hour
)

// What a token names, so that no token made for another purpose or by another service passes for one
// (RFC 8725 sections 3.8, 3.9, 3.11 and 3.12).
const (
	issuer     = "revidit"
	audience   = "revidit"
	loginType  = "revidit-login+jwt"  // in the cookie of a browser
	accessType = "revidit-access+jwt" // in the Authorization header of a program
)

// minKey is the least length of a secret: that of the hash of HS256 (RFC 7518 section 3.2).
const minKey = 32

// maxToken bounds what is looked at, in bytes: ours have some 450.
const maxToken = 2048

// claims of a token. Its id is that of the session.
type claims struct{ jwt.RegisteredClaims }

// compact is the form of a compact token: three parts of base64url without padding. Go's decoder would pass over line
// ends, so that one token could be written in many ways.
var compact = regexp.MustCompile(`^[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+\.[A-Za-z0-9_-]+$`)

// sign makes a token of a type. The header names the key and the one algorithm that goes with it.
func sign(key TokenKey, kind string, c claims) (string, error) {
	token := jwt.NewWithClaims(jwt.SigningMethodEdDSA, c)
	token.Header["typ"], token.Header["kid"] = kind, key.ID
	text, err := token.SignedString(key.private)
	if err != nil {
		return "", fmt.Errorf("auth: sign token: %w", err)
	}
	return text, nil
}

// keyFor chooses the key by a header that is not verified yet; the algorithm is that of the parser.
type keyFor func(header map[string]any) (any, error)

// parse reads a compact token into c, verifies it and returns its header: one algorithm, whatever the header says, strict
// base64url, no critical extensions, and what rules asks of the claims.
func parse(token string, algorithm jwt.SigningMethod, key keyFor, c jwt.Claims, rules ...jwt.ParserOption) (header map[string]any, err error) {
	if len(token) > maxToken || !compact.MatchString(token) {
		return nil, errors.New("not a compact token")
	}
	rules = append(rules, jwt.WithValidMethods([]string{algorithm.Alg()}), jwt.WithStrictDecoding())
	read, err := jwt.NewParser(rules...).ParseWithClaims(token, c, func(t *jwt.Token) (any, error) {
		// RFC 7515 section 4.1.11: an extension that must be understood and is not makes the token invalid. The
		// library does not look at it, and this service understands none.
		if _, critical := t.Header["crit"]; critical {
			return nil, errors.New("critical header extension")
		}
		return key(t.Header)
	})
	if err != nil {
		return nil, err
	}
	return read.Header, nil
}

// parseToken verifies a token of a type at a time.
func (r *KeyRing) parseToken(token, kind string, now func() time.Time, further ...jwt.ParserOption) (claims, error) {
	var c claims
	rules := append([]jwt.ParserOption{jwt.WithIssuer(issuer), jwt.WithAudience(audience), jwt.WithExpirationRequired(), jwt.WithTimeFunc(now)}, further...)
	header, err := parse(token, jwt.SigningMethodEdDSA, func(header map[string]any) (any, error) {
		id, _ := header["kid"].(string)
		key, good := r.verifies(id, time.Now())
		if !good {
			return nil, errors.New("no key of ours")
		}
		return key.private.Public(), nil
	}, &c, rules...)
	if err != nil && kind == loginType {
		c = claims{}
		header, err = r.parseFormer(token, &c, rules)
	}
	if err != nil {
		return claims{}, err
	}
	if header["typ"] != kind {
		return claims{}, fmt.Errorf("type is not %s", kind)
	}
	if c.Subject == "" {
		return claims{}, errors.New("no subject")
	}
	if c.ID == "" {
		return claims{}, errors.New("no session")
	}
	return c, nil
}

// parseFormer verifies a login of the time before there were token keys: HS256 with the first secret, no kid, and given before the
// first token key was in force. So an upgrade ends no login, and nobody can make such a token later.
func (r *KeyRing) parseFormer(token string, c *claims, rules []jwt.ParserOption) (map[string]any, error) {
	keys := r.TokenKeys()
	if len(keys) == 0 || len(r.Keys) == 0 {
		return nil, errors.New("no key of ours")
	}
	header, err := parse(token, jwt.SigningMethodHS256, func(header map[string]any) (any, error) {
		if _, named := header["kid"]; named {
			return nil, errors.New("no key of ours")
		}
		return r.Keys[0], nil
	}, c, rules...)
	if err != nil {
		return nil, err
	}
	if c.IssuedAt == nil || c.IssuedAt.After(keys[0].Since) || c.ExpiresAt.After(c.IssuedAt.Add(TokenLife)) {
		return nil, errors.New("given since there are other keys")
	}
	return header, nil
}
