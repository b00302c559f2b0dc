package web

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A page speaks the language that its reader's browser asks for, or the one that was chosen there; the choice leads back within this site.
func TestLanguageOfAPage(t *testing.T) {
	club := newAPIClub(t)
	login := func(headers ...string) string {
		return club.shown(club.call("", http.MethodGet, "/login?next=%2Fqueue", nil, headers...), http.StatusOK)
	}
	require.Contains(t, login(), `<html lang="en">`)
	require.Contains(t, login("Accept-Language", "fr"), ">Log in</button>")
	german := login("Accept-Language", "de-AT, en;q=0.5")
	require.Contains(t, german, `<html lang="de">`)
	require.Contains(t, german, ">Anmelden</button>")
	require.Contains(t, german, `value="/login?next=%2Fqueue"`)
	require.Contains(t, german, `<button class="plain" name="language" value="en" lang="en">English</button>`)
	require.Contains(t, login("Accept-Language", "en", "Cookie", languageCookie+"=de"), `<html lang="de">`)
	require.Contains(t, login("Cookie", languageCookie+"=xx"), `<html lang="en">`)

	chosen := club.post("", "/language", url.Values{"language": {"de"}, "next": {"/queue?family=A"}})
	require.Equal(t, "/queue?family=A", chosen.goesTo())
	require.Contains(t, chosen.header.Get("Set-Cookie"), languageCookie+"=de; Path=/; Max-Age=31536000; HttpOnly; SameSite=Lax")
	require.Equal(t, "/", club.post("", "/language", url.Values{"language": {"de"}, "next": {"https://elsewhere.example/"}}).goesTo())
	refused := club.post("", "/language", url.Values{"language": {"fr"}, "next": {"/"}})
	require.Contains(t, club.shown(refused, http.StatusBadRequest), "language")
	require.Empty(t, refused.header.Get("Set-Cookie"))
	require.NotContains(t, string(refused.body), `action="/language"`, "the answer to a form cannot be asked for again")
}

// What somebody has chosen goes with them to every browser, and before what that asks for; a program says itself what it wants.
func TestLanguageOfAPerson(t *testing.T) {
	club := newAPIClub(t)
	home := func(headers ...string) string {
		return club.shown(club.call("ada", http.MethodGet, "/", nil, headers...), http.StatusOK)
	}
	require.Contains(t, home("Accept-Language", "en"), `<html lang="en">`)
	require.Equal(t, "/", club.post("ada", "/language", url.Values{"language": {"de"}, "next": {"/"}}).goesTo())
	require.Contains(t, home("Accept-Language", "en"), `<html lang="de">`)
	require.Contains(t, home(), ">Abmelden</button>")
	require.Contains(t, club.shown(club.call("ben", http.MethodGet, "/", nil), http.StatusOK), `<html lang="en">`, "each their own")

	detail := func(headers ...string) string {
		return club.call("ada", http.MethodGet, "/api/v1/submissions/nothing", nil, headers...).problem().Detail
	}
	require.Equal(t, detail("Accept-Language", "de"), detail(), "what was chosen holds where a program says nothing")
	require.NotEqual(t, detail("Accept-Language", "de"), detail("Accept-Language", "en"))
}

// Times are told by the clock of who reads, as the script of the pages says, and nothing else is taken for a zone.
func TestZoneOfAPage(t *testing.T) {
	club := newAPIClub(t)
	for cookie, says := range map[string]string{"": "Times are UTC.", zoneCookie + "=Europe%2FBerlin": "Times are those of Europe/Berlin.",
		zoneCookie + "=nowhere": "Times are UTC.", zoneCookie + "=..%2F..%2Fetc%2Fpasswd": "Times are UTC.", zoneCookie + "=Local": "Times are UTC.", zoneCookie + "=Etc%2FUTC": "Times are UTC."} {
		text := club.shown(club.call("", http.MethodGet, "/login", nil, "Cookie", cookie), http.StatusOK)
		require.True(t, strings.Contains(text, says), cookie)
	}
}

// Errors of pages are told in the language of the reader as well.
func TestLanguageOfAnErrorPage(t *testing.T) {
	club := newAPIClub(t)
	text := club.shown(club.call("", http.MethodGet, "/nothing-here", nil, "Accept-Language", "de"), http.StatusNotFound)
	require.Contains(t, text, "<h1>Hier ist nichts</h1>")
	require.Contains(t, text, "Es wurde nichts geändert.")
}
