package auth

import (
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

func parseA1(token string, key []byte, now func() time.Time) error {
	_, err := parse(token, key, jwt.MapClaims{}, jwt.WithTimeFunc(now))
	return err
}

func TestPublishedTokenIsAccepted(t *testing.T) {
	v, key := readVectors(t)
	got := jwt.MapClaims{}
	kind, err := parse(v.A1.Compact, key, got, jwt.WithIssuer("joe"), jwt.WithTimeFunc(at(v.A1.Exp-1)))
	require.NoError(t, err)
	require.Equal(t, "JWT", kind)
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

var testKey = []byte("0123456789abcdef0123456789abcdef")

var testNow = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

func goodClaims() claims {
	return claims{jwt.RegisteredClaims{ID: "s1", Issuer: issuer, Audience: jwt.ClaimStrings{audience},
		Subject: "p1", IssuedAt: jwt.NewNumericDate(testNow), ExpiresAt: jwt.NewNumericDate(testNow.Add(TokenLife))}}
}

func signed(t *testing.T, method jwt.SigningMethod, kind string, c jwt.Claims, key any) string {
	t.Helper()
	token := jwt.NewWithClaims(method, c)
	token.Header["typ"] = kind
	text, err := token.SignedString(key)
	require.NoError(t, err)
	return text
}

func refuses(t *testing.T, token string, now time.Time) {
	t.Helper()
	_, err := parseLogin(token, testKey, func() time.Time { return now })
	require.Error(t, err)
}

func changed(change func(*claims)) claims {
	c := goodClaims()
	change(&c)
	return c
}

// TestPractices goes through the list of RFC 8725. Every row of the list is either checked here or named as not
// applicable, so that a row that is added cannot be overlooked.
func TestPractices(t *testing.T) {
	good, err := sign(testKey, goodClaims())
	require.NoError(t, err)
	hs := jwt.SigningMethodHS256
	checks := map[string]func(t *testing.T){
		"3.1": func(t *testing.T) {
			refuses(t, signed(t, jwt.SigningMethodHS384, tokenType, goodClaims(), testKey), testNow)
		},
		"3.2": func(t *testing.T) {
			refuses(t, signed(t, jwt.SigningMethodNone, tokenType, goodClaims(), jwt.UnsafeAllowNoneSignatureType), testNow)
		},
		"3.3": func(t *testing.T) { refuses(t, signed(t, hs, tokenType, goodClaims(), testKey[1:]), testNow) },
		"3.5": func(t *testing.T) {
			_, err := NewAccounts(nil, testKey[1:], Options{})
			require.ErrorContains(t, err, "at least 32")
		},
		"3.8": func(t *testing.T) {
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.Issuer = "joe" }), testKey), testNow)
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.Subject = "" }), testKey), testNow)
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.ID = "" }), testKey), testNow)
		},
		"3.9": func(t *testing.T) {
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.Audience = nil }), testKey), testNow)
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.Audience = jwt.ClaimStrings{"another"} }), testKey), testNow)
		},
		"3.10": func(t *testing.T) {
			// A key that the token brings along, or points to, is not looked at.
			token := jwt.NewWithClaims(hs, goodClaims())
			token.Header["typ"], token.Header["kid"], token.Header["jku"] = tokenType, "../../etc/passwd", "https://example.org/keys"
			text, err := token.SignedString([]byte("another key of another service, 32"))
			require.NoError(t, err)
			refuses(t, text, testNow)
		},
		"3.11": func(t *testing.T) { refuses(t, signed(t, hs, "JWT", goodClaims(), testKey), testNow) },
		"3.12": func(t *testing.T) {
			refuses(t, signed(t, hs, "revidit-invitation+jwt", goodClaims(), testKey), testNow)
		},
		"7519 4.1.4": func(t *testing.T) {
			refuses(t, good, testNow.Add(TokenLife))
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.ExpiresAt = nil }), testKey), testNow)
		},
		"7519 4.1.5": func(t *testing.T) {
			refuses(t, signed(t, hs, tokenType, changed(func(c *claims) { c.NotBefore = jwt.NewNumericDate(testNow.Add(time.Minute)) }), testKey), testNow)
		},
		"2.1": func(t *testing.T) {
			parts := strings.Split(good, ".")
			none := base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"none","typ":"` + tokenType + `"}`))
			refuses(t, none+"."+parts[1]+".", testNow)
			refuses(t, none+"."+parts[1]+"."+parts[2], testNow)
		},
		"bis draft 2.11/3.1": func(t *testing.T) {
			parts := strings.Split(good, ".")
			odd := base64.RawURLEncoding.EncodeToString([]byte(`{"alg":"hs256","typ":"` + tokenType + `"}`))
			refuses(t, odd+"."+parts[1]+"."+parts[2], testNow)
		},
		"bis draft 3.14": func(t *testing.T) { refuses(t, good+"=", testNow) },
	}
	notApplicable := map[string]string{
		"3.4": "no curve points: HMAC alone",
		"3.6": "nothing is encrypted or compressed",
		"3.7": "claims are written by encoding/json, which writes UTF-8, and only our own tokens pass the signature",
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
	got, err := parseLogin(good, testKey, func() time.Time { return testNow })
	require.NoError(t, err)
	require.Equal(t, "p1", got.Subject)
	require.Equal(t, "s1", got.ID)
}
