package main

import (
	"context"
	"net"
	"regexp"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/webauthn"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// freePort is a port of the loopback that nobody listens on just now: a passkey is bound to an address that is known before.
func freePort(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer listener.Close()
	_, port, err := net.SplitHostPort(listener.Addr().String())
	require.NoError(t, err)
	return port
}

// called calls a command of the DevTools protocol.
func called[P, R any](b *browser, command cdp.Command[P, R], params P) R {
	b.Helper()
	result, err := chromedp.Run(b.ctx, func(ctx context.Context, t *chromedp.Target) (R, error) { return cdp.Call(ctx, t, command, params) })
	require.NoError(b, err)
	return result
}

// TestPasskeysInABrowser: the first curator comes by the link of the command line, registers a passkey that Chromium's virtual
// authenticator makes (W3C Web Authentication section 11), logs in with it alone and behind the password, and with nothing that is forged.
func TestPasskeysInABrowser(t *testing.T) {
	t.Parallel()
	data, port := newClub(t), freePort(t)
	refused := runHere(t, "", "user", "first", "--data", data)
	require.NotEqual(t, 0, refused.code, "this club has a curator")
	invited := runHere(t, "", "user", "invite", "--data", data, "--role", "curator", "--url", "http://localhost:"+port, "Test kara")
	require.Equal(t, 0, invited.code, invited.err)
	link := regexp.MustCompile(`http://localhost:\d+(/join/\S+)`).FindStringSubmatch(invited.out)
	require.NotNil(t, link, invited.out)
	startProgram(t, "serve", "--data", data, "--addr", "127.0.0.1:"+port, "--url", "http://localhost:"+port)

	b := openBrowser(t, "http://localhost:"+port)
	called(b, webauthn.Enable, webauthn.EnableParams{})
	key := called(b, webauthn.AddVirtualAuthenticator, webauthn.AddVirtualAuthenticatorParams{Options: &webauthn.VirtualAuthenticatorOptions{
		Protocol: webauthn.AuthenticatorProtocolCtap2, Transport: webauthn.AuthenticatorTransportInternal, HasResidentKey: true, HasUserVerification: true,
		IsUserVerified: true, AutomaticPresenceSimulation: true}}).AuthenticatorID
	b.open(link[1])
	b.accessible()
	b.fill("login", "kara")
	b.fill("password", testPassword)
	b.press("Make my login")
	require.Contains(b, b.text(), "Test kara")
	require.Contains(b, b.text(), "Add a second factor")

	b.open("/account")
	passkey := `document.querySelector("form[data-passkey]")`
	b.script(`%s.closest("details").open = true`, passkey)
	b.script(`%s.elements.present.value = %q`, passkey, testPassword)
	b.script(`%s.elements.name.value = "lens table"`, passkey)
	b.pressOn(passkey + `.querySelector("button")`)
	require.Contains(b, b.text(), "Your recovery codes", b.path())
	b.accessible()
	codes := regexp.MustCompile(`(?:[A-Z2-7]{4}-){3}[A-Z2-7]{4}`).FindAllString(b.text(), -1)
	require.Len(b, codes, 10)
	b.open("/account")
	require.Contains(b, b.text(), "Passkey: lens table")
	b.accessible()

	leave := func() {
		b.open("/")
		b.press("Log out")
		b.open("/login")
	}
	again := func(words string) {
		b.script(`%s.querySelector("button").click()`, passkey)
		b.wait(`document.readyState === "complete" && document.body.innerText.includes("` + words + `")`)
	}
	leave()
	b.press("Use a passkey")
	require.Contains(b, b.text(), "Test kara", "without a password")

	leave()
	called(b, webauthn.SetResponseOverrideBits, webauthn.SetResponseOverrideBitsParams{AuthenticatorID: key, IsBogusSignature: new(true)})
	again("This passkey is not known here")
	called(b, webauthn.SetResponseOverrideBits, webauthn.SetResponseOverrideBitsParams{AuthenticatorID: key, IsBadUV: new(true)})
	b.open("/login")
	again("This passkey is not known here")
	called(b, webauthn.SetResponseOverrideBits, webauthn.SetResponseOverrideBitsParams{AuthenticatorID: key})
	called(b, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: key, IsUserVerified: false})
	b.open("/login")
	again("No passkey was used")
	called(b, webauthn.SetUserVerified, webauthn.SetUserVerifiedParams{AuthenticatorID: key, IsUserVerified: true})

	byPassword := func() {
		b.open("/login")
		b.fill("login", "kara")
		b.fill("password", testPassword)
		b.press("Log in")
		require.True(b, strings.HasPrefix(b.path(), "/login/second"), b.path())
	}
	byPassword()
	b.accessible()
	b.press("Use a passkey")
	require.Contains(b, b.text(), "Test kara", "as the second factor")
	leave()
	byPassword()
	b.fill("code", codes[3])
	b.press("Log in")
	require.Contains(b, b.text(), "Test kara", "a recovery code")
}
