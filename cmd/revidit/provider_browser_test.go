package main

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/pquerna/otp/totp"
	"github.com/stretchr/testify/require"

	"revidit/auth/providertest"
	"revidit/web"
)

// TestTheLoginOfAMuseumInABrowser: somebody takes the museum's login with an invitation, adds one-time codes and comes back, to a real
// provider that is another site for the browser: neither the content policy nor the cookies are in the way.
func TestTheLoginOfAMuseumInABrowser(t *testing.T) {
	t.Parallel()
	data, port := newClub(t), freePort(t)
	base := "http://localhost:" + port
	museum := providertest.Start(t, base+web.ProviderPath)
	secret := filepath.Join(t.TempDir(), "secret")
	require.NoError(t, os.WriteFile(secret, []byte(providertest.Secret+"\n"), 0o600))
	invited := runHere(t, "", "user", "invite", "--data", data, "--role", "reviewer", "--url", base, "Test mila")
	require.Equal(t, 0, invited.code, invited.err)
	link := regexp.MustCompile(`http://localhost:\d+(/join/\S+)`).FindStringSubmatch(invited.out)
	require.NotNil(t, link, invited.out)
	startProgram(t, "serve", "--data", data, "--addr", "127.0.0.1:"+port, "--url", base, "--sso-issuer", museum.Issuer, "--sso-client", providertest.Client, "--sso-secret-file", secret)

	b := openBrowser(t, base)
	atMuseum := func(button string) {
		b.script(`[...document.querySelectorAll("button")].find(e => e.textContent.trim() === %q).click()`, button)
		b.wait(`document.readyState === "complete" && document.title === "Museum"`)
		b.fill("username", providertest.Reed)
		b.fill("password", providertest.Password)
		b.script(`document.querySelector("button").click()`)
	}
	home := func() { b.wait(`document.readyState === "complete" && document.body.innerText.includes("Test mila")`) }
	b.open(link[1])
	b.accessible()
	b.fill("login", "mila")
	atMuseum("With my museum's login")
	home()

	b.open("/account")
	require.Contains(t, b.text(), "has just confirmed")
	b.accessible()
	b.script(`document.querySelectorAll("details").forEach(d => d.open = true)`)
	b.press("Set up one-time codes")
	key := regexp.MustCompile(`\b[A-Z2-7]{32}\b`).FindString(b.text())
	code, err := totp.GenerateCode(key, time.Now())
	require.NoError(t, err)
	b.fill("code", code)
	b.press("Confirm")
	recovery := regexp.MustCompile(`(?:[A-Z2-7]{4}-){3}[A-Z2-7]{4}`).FindAllString(b.text(), -1)
	require.Len(t, recovery, 10)
	b.open("/")
	b.press("Log out")
	require.Contains(t, b.text(), "Your museum's login may go on in this browser")
	b.accessible()

	atMuseum("With my museum's login")
	b.wait(`location.pathname === "/login/second" && document.readyState === "complete"`)
	b.fill("code", recovery[0])
	b.press("Log in")
	home()
	b.open("/account")
	require.Contains(t, b.text(), "by your museum's login")

	without := runHere(t, "", "serve", "--data", data, "--addr", "127.0.0.1:0", "--url", base, "--sso-issuer", museum.Issuer, "--sso-client", providertest.Client)
	require.NotEqual(t, 0, without.code)
	require.Contains(t, without.err, "REVIDIT_SSO_SECRET")
	nowhere := runHere(t, "", "serve", "--data", data, "--addr", "127.0.0.1:0", "--sso-issuer", museum.Issuer, "--sso-client", providertest.Client)
	require.Contains(t, nowhere.err, "--sso-issuer needs --url")
}
