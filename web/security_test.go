package web

import (
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/review"
)

// securityLines are those of a log, without their time and level.
func securityLines(log string) []string {
	lines := []string{}
	for line := range strings.Lines(log) {
		if _, rest, found := strings.Cut(strings.TrimSpace(line), "msg=security "); found {
			lines = append(lines, regexp.MustCompile(` request_id=.*`).ReplaceAllString(rest, ""))
		}
	}
	return lines
}

func TestSecurityLines(t *testing.T) {
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Limits.PerPair = auth.Limit{Burst: 3, Every: time.Hour} })
	id := club.submitted().Submission.ID
	club.token("carl")
	club.log.Reset()
	enter := func(login, password string, status int) {
		t.Helper()
		club.call("", "POST", "/api/v1/sessions", map[string]any{"login": login, "password": password}).is(status)
	}
	enter(" CARL ", clubPassword, http.StatusCreated)
	enter("carl", "a mistyped secret", http.StatusUnauthorized)
	enter("my secret by mistake", "carl", http.StatusUnauthorized)
	require.NoError(t, club.server.Accounts.Disable(t.Context(), "carl", "a test"))
	enter("carl", clubPassword, http.StatusUnauthorized)
	enter("carl", clubPassword, http.StatusTooManyRequests)
	club.call("ada", "POST", "/api/v1/submissions/"+id+"/reviews", agrees).is(http.StatusForbidden)
	club.shown(club.call("ada", "GET", "/figures/agreement", nil), http.StatusForbidden)
	club.call("ada", "POST", "/api/v1/submissions", map[string]any{}, "Origin", "https://evil.example").is(http.StatusForbidden)
	require.NoError(t, club.server.Accounts.SetRole(t.Context(), "ben", review.RoleReviewer, "a test"))
	club.call("cora", "GET", "/submissions?as=csv", nil)
	club.post("ada", "/logout", nil).goesTo()
	club.call("ben", "DELETE", "/api/v1/sessions", nil).is(http.StatusNoContent)
	require.Equal(t, []string{
		`event="logged in" account=carl address=192.0.2.1`,
		`event="wrong password" account=carl address=192.0.2.1`,
		`event="unknown login" account="" address=192.0.2.1`,
		`event="account suspended" account=carl address=""`,
		`event="account disabled" account=carl address=192.0.2.1`,
		`event="too many attempts" account=carl address=192.0.2.1`,
		`event=forbidden account=ada address=192.0.2.1`,
		`event=forbidden account=ada address=192.0.2.1`,
		`event="from another site" account="" address=192.0.2.1`,
		`event="role changed" account=ben address=""`,
		`event="file handed over" account=cora address=192.0.2.1`,
		`event="logged out" account=ada address=192.0.2.1`,
		`event="logged out everywhere" account=ben address=192.0.2.1`,
	}, securityLines(club.log.String()))
	for _, secret := range []string{clubPassword, "mistyped", "by mistake", club.tokens["ada"], club.tokens["ben"]} {
		require.NotContains(t, club.log.String(), secret)
	}
}

// A token by which nobody is logged in any more is told of, with the account that it was given to.
func TestEndedLoginsAreTold(t *testing.T) {
	now := time.Now()
	club := newAPIClub(t, func(_ *Config, o *auth.Options) { o.Now = func() time.Time { return now } })
	for _, who := range []string{"ada", "ben", "carl", "rita"} {
		club.token(who)
	}
	club.call("ben", "DELETE", "/api/v1/sessions", nil).is(http.StatusNoContent)
	require.NoError(t, club.server.Accounts.Disable(t.Context(), "carl", "a test"))
	require.NoError(t, club.server.Accounts.Erase(t.Context(), "rita", "left the club"))
	club.log.Reset()
	for _, who := range []string{"ben", "carl", "rita"} {
		club.call(who, "GET", "/api/v1/counts", nil).is(http.StatusUnauthorized)
	}
	now = now.Add(auth.TokenLife + time.Minute)
	club.call("ada", "GET", "/api/v1/counts", nil).is(http.StatusUnauthorized)
	club.call("", "GET", "/api/v1/counts", nil, "Authorization", "Bearer made.up.token").is(http.StatusUnauthorized)
	club.call("", "GET", "/api/v1/counts", nil).is(http.StatusUnauthorized)
	require.Equal(t, []string{
		`event="login has ended" account=ben address=192.0.2.1`,
		`event="login has ended" account=carl address=192.0.2.1`,
		`event="login has ended" account="" address=192.0.2.1`,
		`event="login has ended" account=ada address=192.0.2.1`,
		`event="unknown token" account="" address=192.0.2.1`,
	}, securityLines(club.log.String()))
	require.NotContains(t, club.log.String(), club.tokens["ben"])
}
