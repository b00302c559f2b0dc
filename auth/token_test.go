package auth

import (
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"encoding/base64"
	"encoding/csv"
	"encoding/json"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"github.com/stretchr/testify/require"
)

// vectors are the tokens of testdata/jws_vectors.json; its README names the sources.
type vectors struct {
	A1 struct {
		Payload string `json:"payload"`
		Key     string `json:"key_base64url"`
		Compact string `json:"compact"`
		Exp     int64  `json:"exp"`
	} `json:"rfc7515_a1"`
	Unsecured struct {
		Compact string `json:"compact"`
	} `json:"rfc7519_6_1_unsecured"`
	Refused struct {
		Cases []struct{ Name, Token, Expect string } `json:"cases"`
	} `json:"negative_cases_built_on_a1"`
}

func readVectors(t *testing.T) (vectors, []byte) {
	t.Helper()
	text, err := os.ReadFile("testdata/jws_vectors.json")
	require.NoError(t, err)
	var v vectors
	require.NoError(t, json.Unmarshal(text, &v))
	require.NotEmpty(t, v.Refused.Cases)
	key, err := base64.RawURLEncoding.DecodeString(v.A1.Key)
	require.NoError(t, err)
	return v, key
}

func at(seconds int64) func() time.Time { return func() time.Time { return time.Unix(seconds, 0) } }

// withKey verifies with one key, as HS256: the vectors of the RFC are of that.
func withKey(token string, key []byte, c jwt.Claims, rules ...jwt.ParserOption) (map[string]any, error) {
	return parse(token, jwt.SigningMethodHS256, func(map[string]any) (any, error) { return key, nil }, c, rules...)
}

func parseA1(token string, key []byte, now func() time.Time) error {
	_, err := withKey(token, key, jwt.MapClaims{}, jwt.WithTimeFunc(now))
	return err
}

func TestPublishedTokenIsAccepted(t *testing.T) {
	v, key := readVectors(t)
	got := jwt.MapClaims{}
	header, err := withKey(v.A1.Compact, key, got, jwt.WithIssuer("joe"), jwt.WithTimeFunc(at(v.A1.Exp-1)))
	require.NoError(t, err)
	require.Equal(t, "JWT", header["typ"])
	var want map[string]any
	require.NoError(t, json.Unmarshal([]byte(v.A1.Payload), &want))
	require.Equal(t, want, map[string]any(got))
}

func TestPublishedTokenRunsOut(t *testing.T) {
	v, key := readVectors(t)
	// RFC 7519 section 4.1.4: not on or after the expiration time.
	require.ErrorIs(t, parseA1(v.A1.Compact, key, at(v.A1.Exp)), jwt.ErrTokenExpired)
}

func TestTokensAreRefused(t *testing.T) {
	v, key := readVectors(t)
	inTime := at(v.A1.Exp - 1)
	require.Error(t, parseA1(v.Unsecured.Compact, key, inTime))
	for _, c := range v.Refused.Cases {
		t.Run(c.Name, func(t *testing.T) {
			if c.Token == v.A1.Compact {
				// The one case whose signature is good: it has run out.
				require.ErrorIs(t, parseA1(c.Token, key, time.Now), jwt.ErrTokenExpired)
				return
			}
			require.Error(t, parseA1(c.Token, key, inTime))
		})
	}
}

func TestTokensWithLineEndsAreRefused(t *testing.T) {
	v, key := readVectors(t)
	for _, broken := range []string{"\n", "\r", " "} {
		require.Error(t, parseA1(v.A1.Compact+broken, key, at(v.A1.Exp-1)))
		require.Error(t, parseA1(strings.Replace(v.A1.Compact, ".", broken+".", 1), key, at(v.A1.Exp-1)))
	}
}

// testRing has one token key, in force for ever, and the secret of the time before there were such.
var testRing = MemoryKeys()

var testNow = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

func goodClaims() claims {
	return claims{jwt.RegisteredClaims{ID: "s1", Issuer: issuer, Audience: jwt.ClaimStrings{audience}, Subject: "p1",
		IssuedAt: jwt.NewNumericDate(testNow), NotBefore: jwt.NewNumericDate(testNow), ExpiresAt: jwt.NewNumericDate(testNow.Add(TokenLife))}}
}

// header are further fields of a header; nil takes one away.
type header map[string]any

func signed(t *testing.T, method jwt.SigningMethod, kind string, c jwt.Claims, key any, more header) string {
	t.Helper()
	token := jwt.NewWithClaims(method, c)
	token.Header["typ"], token.Header["kid"] = kind, testRing.tokens[0].ID
	for name, value := range more {
		token.Header[name] = value
		if value == nil {
			delete(token.Header, name)
		}
	}
	text, err := token.SignedString(key)
	require.NoError(t, err)
	return text
}

// ours signs with the key in force.
func ours(t *testing.T, kind string, c jwt.Claims, more header) string {
	t.Helper()
	return signed(t, jwt.SigningMethodEdDSA, kind, c, testRing.tokens[0].private, more)
}

func refuses(t *testing.T, token string, now time.Time) {
	t.Helper()
	for _, kind := range []string{loginType, accessType} {
		_, err := testRing.parseToken(token, kind, func() time.Time { return now })
		require.Error(t, err)
	}
}

func changed(change func(*claims)) claims {
	c := goodClaims()
	change(&c)
	return c
}

// TestPractices goes through the list of RFC 8725. Every row of the list is either checked here or named as not
// applicable, so that a row that is added cannot be overlooked.
func TestPractices(t *testing.T) {
	good := ours(t, loginType, goodClaims(), nil)
	private := testRing.tokens[0].private
	public := []byte(private.Public().(ed25519.PublicKey))
	parts := strings.Split(good, ".")
	with := func(head string) string {
		return base64.RawURLEncoding.EncodeToString([]byte(head)) + "." + parts[1] + "."
	}
	checks := map[string]func(t *testing.T){
		"3.1": func(t *testing.T) {
			elliptic, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
			require.NoError(t, err)
			refuses(t, signed(t, jwt.SigningMethodES256, loginType, goodClaims(), elliptic, nil), testNow)
			refuses(t, signed(t, jwt.SigningMethodHS256, loginType, goodClaims(), testRing.Keys[0], nil), testNow) // one algorithm a key
		},
		"3.2": func(t *testing.T) {
			refuses(t, signed(t, jwt.SigningMethodNone, loginType, goodClaims(), jwt.UnsafeAllowNoneSignatureType, nil), testNow)
		},
		"3.3": func(t *testing.T) {
			refuses(t, signed(t, jwt.SigningMethodEdDSA, loginType, goodClaims(), newTokenKey(testNow).private, nil), testNow)
			refuses(t, parts[0]+"."+parts[1]+"."+strings.Repeat("A", len(parts[2])), testNow)
		},
		"3.5": func(t *testing.T) {
			_, err := NewAccounts(nil, &KeyRing{Keys: [][]byte{[]byte("a human password, longer than thirty-two")}}, Options{})
			require.ErrorContains(t, err, "no token key")
			_, err = readTokenKey("id 2026-05-14T12:00:00Z " + strings.Repeat("ab", 31))
			require.ErrorContains(t, err, "64 hexadecimal digits")
		},
		"3.7": func(t *testing.T) { // UTF-8 alone; RFC 7515 section 5.2, step 3
			text := base64.RawURLEncoding.EncodeToString([]byte("{\"alg\":\"EdDSA\",\"typ\":\"" + loginType + "\",\"kid\":\"\xff\"}"))
			signature, err := jwt.SigningMethodEdDSA.Sign(text+"."+parts[1], private)
			require.NoError(t, err)
			refuses(t, text+"."+parts[1]+"."+base64.RawURLEncoding.EncodeToString(signature), testNow)
		},
		"3.8": func(t *testing.T) {
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.Issuer = "joe" }), nil), testNow)
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.Subject = "" }), nil), testNow)
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.ID = "" }), nil), testNow)
		},
		"3.9": func(t *testing.T) {
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.Audience = nil }), nil), testNow)
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.Audience = jwt.ClaimStrings{"another"} }), nil), testNow)
		},
		"3.10": func(t *testing.T) {
			// A key that the token brings along, or points to, is not looked at; nor is an id anything but an id.
			foreign := newTokenKey(testNow)
			jwk := map[string]string{"kty": "OKP", "crv": "Ed25519", "x": base64.RawURLEncoding.EncodeToString(foreign.private.Public().(ed25519.PublicKey))}
			for _, more := range []header{{"kid": "../../etc/passwd", "jku": "https://example.org/keys"}, {"x5u": "https://example.org/keys"}, {"jwk": jwk},
				{"kid": foreign.ID}, {"kid": "' OR 1=1 --"}, {"kid": nil}, {"kid": 7}, {"kid": []string{testRing.tokens[0].ID}}} {
				refuses(t, signed(t, jwt.SigningMethodEdDSA, loginType, goodClaims(), foreign.private, more), testNow)
			}
			refuses(t, ours(t, loginType, goodClaims(), header{"crit": []string{"exp"}}), testNow) // RFC 7515 section 4.1.11
		},
		"3.11": func(t *testing.T) {
			refuses(t, ours(t, "JWT", goodClaims(), nil), testNow)
			refuses(t, ours(t, "", goodClaims(), header{"typ": nil}), testNow)
		},
		"3.12": func(t *testing.T) {
			refuses(t, ours(t, "revidit-invitation+jwt", goodClaims(), nil), testNow)
			for kind, other := range map[string]string{loginType: accessType, accessType: loginType} {
				_, err := testRing.parseToken(ours(t, kind, goodClaims(), nil), other, func() time.Time { return testNow })
				require.ErrorContains(t, err, "type is not")
			}
		},
		"7519 4.1.4": func(t *testing.T) {
			refuses(t, good, testNow.Add(TokenLife))
			refuses(t, ours(t, loginType, changed(func(c *claims) { c.ExpiresAt = nil }), nil), testNow)
		},
		"7519 4.1.5": func(t *testing.T) {
			refuses(t, good, testNow.Add(-time.Second))
		},
		"2.1": func(t *testing.T) {
			none := with(`{"alg":"none","typ":"` + loginType + `"}`)
			refuses(t, none, testNow)
			refuses(t, none+parts[2], testNow)
			// The public key as the secret of an HMAC: RFC 8725 tells it of RS256, and it is the same of EdDSA.
			refuses(t, signed(t, jwt.SigningMethodHS256, loginType, goodClaims(), public, nil), testNow)
			refuses(t, signed(t, jwt.SigningMethodHS256, loginType, goodClaims(), public, header{"kid": nil}), testNow)
		},
		"bis draft 2.11/3.1": func(t *testing.T) {
			for _, odd := range []string{"eddsa", "EDDSA", "Ed25519", "nOnE", "hs256"} {
				refuses(t, with(`{"alg":"`+odd+`","typ":"`+loginType+`","kid":"`+testRing.tokens[0].ID+`"}`)+parts[2], testNow)
			}
		},
		"bis draft 3.14": func(t *testing.T) {
			refuses(t, good+"=", testNow)
			refuses(t, good+".", testNow)
			refuses(t, good+"\n", testNow)
			refuses(t, strings.Repeat("A", maxToken)+"."+good, testNow)
		},
	}
	notApplicable := map[string]string{
		"3.4": "no ECDH: nobody brings a point of a curve; a signature is checked whole (RFC 8032)",
		"3.6": "nothing is encrypted or compressed",
	}
	file, err := os.Open("testdata/jwt_bcp_checks.csv")
	require.NoError(t, err)
	defer file.Close()
	rows, err := csv.NewReader(file).ReadAll()
	require.NoError(t, err)
	require.Greater(t, len(rows), 15)
	for _, row := range rows[1:] {
		section := row[0]
		if notApplicable[section] != "" {
			continue
		}
		require.Contains(t, checks, section)
		t.Run(section+" "+row[1], checks[section])
	}
	got, err := testRing.parseToken(good, loginType, func() time.Time { return testNow })
	require.NoError(t, err)
	require.Equal(t, "p1", got.Subject)
	require.Equal(t, "s1", got.ID)
}

// TestFormerTokens: logins of the time before there were token keys stay until they run out, and nobody makes such a token later.
func TestFormerTokens(t *testing.T) {
	ring := MemoryKeys()
	ring.tokens[0].Since = testNow.Add(time.Hour)
	former := func(change func(*claims), more header) error {
		token := signed(t, jwt.SigningMethodHS256, loginType, changed(change), ring.Keys[0], more)
		_, err := ring.parseToken(token, loginType, func() time.Time { return testNow.Add(2 * time.Hour) })
		return err
	}
	noKey := header{"kid": nil}
	require.NoError(t, former(func(*claims) {}, noKey))
	require.Error(t, former(func(*claims) {}, nil), "one that names a key")
	require.Error(t, former(func(c *claims) { c.IssuedAt = nil }, noKey))
	require.Error(t, former(func(c *claims) { c.IssuedAt = jwt.NewNumericDate(testNow.Add(2 * time.Hour)) }, noKey), "given later")
	require.Error(t, former(func(c *claims) { c.ExpiresAt = jwt.NewNumericDate(testNow.Add(13 * time.Hour)) }, noKey), "longer than any was")
	access := signed(t, jwt.SigningMethodHS256, accessType, goodClaims(), ring.Keys[0], noKey)
	_, err := ring.parseToken(access, accessType, func() time.Time { return testNow })
	require.Error(t, err, "programs had none of their own")
}

// FuzzToken: no text of a stranger is taken for a token, and none makes the parser fall over.
func FuzzToken(f *testing.F) {
	ring := MemoryKeys()
	text, err := sign(ring.tokens[0], loginType, goodClaims())
	require.NoError(f, err)
	f.Add(text)
	content, err := os.ReadFile("testdata/jws_vectors.json")
	require.NoError(f, err)
	var v vectors
	require.NoError(f, json.Unmarshal(content, &v))
	f.Add(v.A1.Compact)
	f.Add(v.Unsecured.Compact)
	for _, c := range v.Refused.Cases {
		f.Add(c.Token)
	}
	f.Fuzz(func(t *testing.T, token string) {
		for _, kind := range []string{loginType, accessType} {
			c, err := ring.parseToken(token, kind, func() time.Time { return testNow })
			if err == nil && (token != text || kind != loginType || c.Subject != "p1") {
				t.Fatalf("%q was taken for a token", token)
			}
		}
	})
}
