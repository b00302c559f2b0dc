package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// TestLoginAndLogoutInABrowser serves as for a real club, without --insecure: Chromium takes loopback for as good as TLS, so
// that it keeps a cookie with the prefix __Host-, and obeys Clear-Site-Data. After the logout the way back shows nothing.
func TestLoginAndLogoutInABrowser(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	// The name is written from right to left and turns round what follows it (U+202E).
	added := runHere(t, testPassword+"\n", "user", "add", "--data", data, "--role", "reviewer", "noa", "נועה 12\u202Eb")
	require.Equal(t, 0, added.code, added.err)
	p := startProgram(t, "serve", "--data", data, "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.open("/login")
	b.fill("login", "noa")
	b.fill("password", testPassword)
	b.press("Log in")
	b.open("/policy")
	require.Contains(b, b.text(), "When a name stands")
	b.script(`localStorage.setItem("kept", "yes")`)

	// Seen from left to right: the name, then the role behind it.
	b.wait(`(who => { const after = document.createRange(); after.selectNodeContents(who.lastChild);
		return who.lastChild.textContent === ", reviewer" &&
			after.getBoundingClientRect().left >= who.querySelector("bdi").getBoundingClientRect().right - 1; })(document.querySelector(".who span"))`)

	b.press("Log out")
	b.wait(`location.pathname === "/login"`)
	b.wait(`localStorage.getItem("kept") === null`)
	b.script(`history.back()`)
	b.wait(`location.pathname === "/login" && location.search !== "" && document.readyState === "complete"`)
	require.NotContains(b, b.text(), "When a name stands")
}
