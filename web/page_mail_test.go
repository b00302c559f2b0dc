package web

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/service"
	"revidit/web/pages"
)

func TestMailIsChosen(t *testing.T) {
	club := newAPIClub(t)
	text := club.page("ada", "/mail", 200)
	require.Contains(t, text, "No address of yours is known")
	require.Contains(t, text, "sends no mail yet", "nobody has set up a mail server")
	require.NotContains(t, text, "second curator", "of that a member is told nothing")

	wrong := club.shown(club.post("ada", "/mail", url.Values{"address": {"ada@example.org\r\nBcc: x@example.org"}, "rhythm": {"daily"}}), http.StatusBadRequest)
	require.Contains(t, wrong, "is no address for mail")
	require.Equal(t, "/mail?saved=yes", club.post("ada", "/mail", url.Values{"address": {"ada@example.org"}, "rhythm": {"daily"}, "codes": {"returned", "disputed"}}).goesTo())
	text = club.page("ada", "/mail?saved=yes", 200)
	require.Contains(t, text, `value="ada@example.org"`)
	require.Contains(t, text, "Saved.")
	view := decoded[service.MailView](club.call("ada", "GET", "/api/v1/me/mail", nil).is(http.StatusOK))
	require.Equal(t, service.MailView{Address: "ada@example.org", Rhythm: review.MailDaily, Codes: []review.NewsCode{review.NewsReturned, review.NewsDisputed},
		Offered: review.NewsFor(club.actor("ada"))}, view)
	require.Empty(t, decoded[service.MailView](club.call("ben", "GET", "/api/v1/me/mail", nil).is(http.StatusOK)).Address, "each their own")
	require.Equal(t, []string{"address"}, club.call("ada", "PUT", "/api/v1/me/mail", map[string]any{"rhythm": "daily", "address": "", "codes": []string{}}).is(http.StatusBadRequest).fields())
}

// Invented people are offered where there are any, one press each, and nobody elsewhere.
func TestInventedPeopleLogIn(t *testing.T) {
	club := newAPIClub(t)
	require.NotContains(t, club.page("", "/login", 200), "Invented")
	club.server.Invented = []pages.InventedLogin{{Login: "ada", Password: clubPassword, Name: "Ada Invented", Role: review.RoleMember}}
	text := club.page("", "/login?next=%2Fnews", 200)
	require.Contains(t, text, "<button>Ada Invented</button>")
	require.Contains(t, text, "member: submits specimens")
	fields := url.Values{}
	_, form, _ := strings.Cut(text, `id="invented"`)
	form, _, _ = strings.Cut(form, "</section>")
	for _, m := range regexp.MustCompile(`type="hidden" name="([a-z]+)" value="([^"]*)"`).FindAllStringSubmatch(form, -1) {
		fields.Set(m[1], m[2])
	}
	require.Equal(t, "/news", club.post("", "/login", fields).goesTo())
}

// Links of letters ask before they do anything, want no login, and are worth nothing when they are made up.
func TestLinksOfLetters(t *testing.T) {
	club := newAPIClub(t)
	for _, path := range []string{"/unsubscribe/a.b.c", "/mail/confirm/a.b.c"} {
		require.Contains(t, club.page("", path, 200), `action="`+path+`"`)
		// As a program for mail presses the button (RFC 8058 section 3.2): without cookies, and from nowhere.
		r := club.call("", http.MethodPost, path, "List-Unsubscribe=One-Click", "Content-Type", "application/x-www-form-urlencoded")
		require.Contains(t, club.shown(r, http.StatusNotFound), "This link is none of ours")
	}
}
