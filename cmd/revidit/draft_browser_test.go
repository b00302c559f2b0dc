package main

import (
	"encoding/base64"
	"net/http"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// TestDraftsSaveThemselvesInABrowser: what is typed is stored without a press, a lost connection and a login that has ended lose
// nothing, and photos come by paste and by drag, with a picture at once.
func TestDraftsSaveThemselvesInABrowser(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	b := openBrowser(t, p.address)
	b.login("member")
	b.open("/submissions/new?group=coleoptera-adults")
	b.fill("remarks", "typed, not saved")
	b.wait(`document.querySelector("[data-saved]").textContent === "Saved."`)
	b.wait(`location.pathname.endsWith("/edit")`)

	// Pasted and dropped files are made in the page: a test has no clipboard and no desktop.
	picture := base64.StdEncoding.EncodeToString(drawnPicture(t, "whole-below"))
	b.script(`window.bring = (type, text) => {
		const bytes = Uint8Array.from(atob(text), c => c.charCodeAt(0)), data = new DataTransfer();
		data.items.add(new File([bytes], type + ".jpg", {type: "image/jpeg"}));
		const event = type === "paste" ? new ClipboardEvent("paste", {clipboardData: data, bubbles: true, cancelable: true})
			: new DragEvent("drop", {dataTransfer: data, bubbles: true, cancelable: true});
		document.body.dispatchEvent(event);
	}`)
	b.script(`window.bring("paste", %q)`, picture)
	b.wait(`document.querySelector(".uploading img") || document.querySelectorAll("[data-photo]").length === 1`)
	b.wait(`document.querySelectorAll("[data-photo]").length === 1`)
	b.script(`window.bring("drop", %q)`, picture)
	b.wait(`document.querySelectorAll("[data-photo]").length === 2`)
	b.wait(`document.querySelector("[data-saved]").textContent === "Saved."`)

	// The connection is lost: the page says so, and saves when it is back.
	b.script(`window.real = window.fetch, window.fetch = () => Promise.reject(new TypeError("no connection"))`)
	b.fill("remarks", "typed without a connection")
	b.wait(`document.querySelector("[data-saved]").textContent.startsWith("No connection")`)
	b.script(`window.fetch = window.real`)
	b.script(`window.dispatchEvent(new Event("online"))`)
	b.wait(`document.querySelector("[data-saved]").textContent === "Saved."`)
	b.open(b.path())
	remarks, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`document.getElementsByName("remarks")[0].value`))
	require.NoError(t, err)
	require.Equal(t, "typed without a connection", remarks)

	// The login ends from elsewhere: what is sent comes back after logging in.
	b.fill("label.habitat", "oak wood, typed for an hour")
	b.wait(`document.querySelector("[data-saved]").textContent === "Saved."`)
	status, err := loginClient(t, p, "member").do("DELETE", "/sessions", "application/json", nil, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusNoContent, status)
	b.fill("label.trip", "typed after the login had ended")
	b.wait(`document.querySelector("[data-saved]").textContent.startsWith("Your login has run out")`)
	b.press("Save draft")
	require.Contains(t, b.path(), "/login?next=")
	require.Contains(t, b.text(), "comes back when you have logged in")
	b.fill("login", "member")
	b.fill("password", testPassword)
	b.press("Log in")
	require.Contains(t, b.text(), "Your login had run out when you sent this")
	b.press("Save draft")
	require.NotContains(t, b.path(), "/login")
	require.Contains(t, b.text(), "typed after the login had ended")
}
