package auth

import (
	"testing"

	"github.com/pquerna/otp"
	"github.com/stretchr/testify/require"
)

// The test vectors of RFC 6238 appendix B (from memory): eight digits, a secret as long as the hash.
func TestCodesOfRFC6238(t *testing.T) {
	const digits = "1234567890123456789012345678901234567890123456789012345678901234"
	for _, v := range []struct {
		seconds              int64
		sha1, sha256, sha512 string
	}{
		{59, "94287082", "46119246", "90693936"},
		{1111111109, "07081804", "68084774", "25091201"},
		{1111111111, "14050471", "67062674", "99943326"},
		{1234567890, "89005924", "91819424", "93441116"},
		{2000000000, "69279037", "90698825", "38618901"},
		{20000000000, "65353130", "77737706", "47863826"},
	} {
		for _, c := range []struct {
			algorithm otp.Algorithm
			length    int
			want      string
		}{{otp.AlgorithmSHA1, 20, v.sha1}, {otp.AlgorithmSHA256, 32, v.sha256}, {otp.AlgorithmSHA512, 64, v.sha512}} {
			got, err := codeAt([]byte(digits[:c.length]), v.seconds/totpPeriod, otp.DigitsEight, c.algorithm)
			require.NoError(t, err)
			require.Equal(t, c.want, got, "%d s, %s", v.seconds, c.algorithm)
		}
		// Six digits are the last of them (RFC 4226 section 5.3).
		got, err := codeAt([]byte(digits[:20]), v.seconds/totpPeriod, otp.DigitsSix, otp.AlgorithmSHA1)
		require.NoError(t, err)
		require.Equal(t, v.sha1[2:], got)
	}
}

func TestSecretsAreSealedForAPerson(t *testing.T) {
	former := make([]byte, 32)
	old := &Accounts{keys: &KeyRing{Keys: [][]byte{former}}}
	sealed, err := old.seal("p1", []byte("a secret of 20 bytes"))
	require.NoError(t, err)
	require.NotContains(t, string(sealed), "secret")
	present := []byte("another key, which is in force now")
	turned := &Accounts{keys: &KeyRing{Keys: [][]byte{present, former}}}
	secret, err := turned.unseal("p1", sealed)
	require.NoError(t, err)
	require.Equal(t, "a secret of 20 bytes", string(secret), "by a key that is no more in force")
	for person, text := range map[string][]byte{"p2": sealed, "p1": sealed[:10]} {
		_, err := turned.unseal(person, text)
		require.ErrorContains(t, err, "cannot be read with the keys")
	}
	_, err = (&Accounts{keys: &KeyRing{Keys: [][]byte{present}}}).unseal("p1", sealed)
	require.Error(t, err)
}

func TestRecoveryCodes(t *testing.T) {
	codes, digests := newRecovery()
	require.Len(t, codes, recoveryCodes)
	seen := map[string]bool{}
	for i, code := range codes {
		require.Regexp(t, `^([A-Z2-7]{4}-){3}[A-Z2-7]{4}$`, code)
		require.Len(t, digests[i], 64)
		require.False(t, seen[code])
		seen[code] = true
	}
}

// Where pages are found by a number, or without TLS from another machine, browsers have no passkeys.
func TestWherePasskeysWork(t *testing.T) {
	for address, want := range map[string]string{"": "", "https://beetles.example/": "https://beetles.example", "http://localhost:8080": "http://localhost:8080",
		"http://beetles.example": "", "https://192.0.2.7": "", "http://127.0.0.1:8080": ""} {
		passkeys, err := newPasskeys(address)
		require.NoError(t, err)
		require.Equal(t, want, (&Accounts{passkeys: passkeys}).PasskeyOrigin(), address)
	}
}
