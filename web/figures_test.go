package web

import (
	"bytes"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/audit"
	"revidit/review/service"
)

// figuresClub is a club like any other, with three more reviewers for panels, in which Rita and Rolf are always drawn to
// look blind, and every closed determination for a recheck.
func figuresClub(t testing.TB) *apiClub {
	t.Helper()
	db := modelstest.SQLite(t)
	club := &apiClub{t: t, log: &bytes.Buffer{}, tokens: map[string]string{}, cookies: map[string]string{}, people: map[string]string{}}
	reviewing := service.NewService(db, &blob.Mem{}, service.NewLibrary(loaded(t, smallTables())), service.Options{Seed: club.seedForAll(0.5)})
	accounts, err := auth.NewAccounts(db, auth.MemoryKeys(), auth.Options{Cheap: true, Limits: auth.Limits{PerAddress: auth.Limit{Burst: 1000, Every: time.Second}}})
	require.NoError(t, err)
	club.server, err = newServer(Config{Service: reviewing, Accounts: accounts, Log: slog.New(slog.NewTextHandler(club.log, nil)), Version: "test"})
	require.NoError(t, err)
	club.engine, err = club.server.engine()
	require.NoError(t, err)
	club.handler = headAsGet(club.engine)
	for _, login := range []string{"ada", "rita", "rolf", "cora", "pia", "paul", "pim"} {
		role, known := clubRoles[login]
		if !known {
			role = review.RoleReviewer
		}
		account := auth.Account{Person: uuid.NewString(), Name: "Name of " + login, Login: login, Role: role, PasswordHash: clubPasswordHash(),
			Version: 1, CreatedAt: time.Now().UTC().Truncate(time.Microsecond)}
		require.NoError(t, db.CreateAccount(t.Context(), account))
		club.people[login] = account.Person
	}
	policy := review.DefaultPolicy()
	policy.Reviewers, policy.OneSuffices, policy.Confidence, policy.BlindRate, policy.RecheckRate, policy.Reason = 1, false, 0.5, 0.5, 0.5, "for the test"
	policy.ReliabilityShown = review.ShownNames
	_, err = reviewing.SetPolicy(t.Context(), club.actor("cora"), service.AnyVersion, policy)
	require.NoError(t, err)
	return club
}

// seedForAll finds dice that fall for Rita, Rolf and the recheck alike.
func (c *apiClub) seedForAll(rate float64) func() string {
	n := 0
	return func() string {
		for {
			n++
			draw := review.Draw{Rate: rate, Seed: fmt.Sprint("seed ", n)}
			if draw.Drawn(c.people["rita"]) && draw.Drawn(c.people["rolf"]) && draw.Drawn("recheck") {
				return draw.Seed
			}
		}
	}
}

func (c *apiClub) as(who string) review.Actor {
	role, known := clubRoles[who]
	if !known {
		role = review.RoleReviewer
	}
	return review.Actor{Person: c.people[who], Name: "Name of " + who, Role: role}
}

// wholeWay is one specimen on its whole way: Rita and Rolf look blind and see so many plates, confirm the five that are
// recorded, and agree with the name.
func (c *apiClub) wholeWay(rita, rolf string) string {
	c.t.Helper()
	ctx, reviewing := c.t.Context(), c.server.Service
	id := c.submitted().Submission.ID
	for _, look := range []struct{ who, plates string }{{"rita", rita}, {"rolf", rolf}} {
		asked, err := reviewing.BlindLook(ctx, c.as(look.who), id)
		require.NoError(c.t, err)
		require.Equal(c.t, "ventrites", asked.Character)
		made, err := reviewing.BlindCheck(ctx, c.as(look.who), id, asked.Version, review.BlindForm{State: look.plates})
		require.NoError(c.t, err)
		form := review.ReviewForm{Verdicts: []review.VerdictForm{{Observation: made.Cites[0], Kind: review.VerdictConfirm}}}
		if look.who == "rolf" {
			form.Opinion = &review.OpinionForm{Kind: review.OpinionAgrees, Basis: review.BasisPhotos}
		}
		_, err = reviewing.Review(ctx, c.as(look.who), id, service.AnyVersion, form)
		require.NoError(c.t, err)
	}
	submission := c.viewWith("cora", id)
	require.Equal(c.t, review.StatusConfirmed, submission.Status)
	require.NotNil(c.t, submission.Recheck)
	return id
}

func (c *apiClub) viewWith(who, id string) review.Submission {
	c.t.Helper()
	v, err := c.server.Service.View(c.t.Context(), c.as(who), id)
	require.NoError(c.t, err)
	return v.Submission
}

func (c *apiClub) panel(id string, families ...string) {
	c.t.Helper()
	for i, family := range families {
		_, err := c.server.Service.PanelOpinion(c.t.Context(), c.as([]string{"pia", "paul", "pim"}[i]), id, service.AnyVersion, review.PanelForm{Family: family})
		require.NoError(c.t, err)
	}
}

// audited is a club with twelve closed specimens, of which nine have a truth.
func audited(t testing.TB) *apiClub {
	t.Helper()
	club := figuresClub(t)
	for i := range 12 {
		rita, rolf := "5", "5"
		if i%3 == 0 {
			rita = "6"
		}
		if i == 0 {
			rolf = "6"
		}
		id := club.wholeWay(rita, rolf)
		switch {
		case i == 0:
			club.panel(id, "Buprestidae", "Buprestidae", "Elateridae")
		case i == 1:
			club.panel(id, "Buprestidae", "", "Elateridae") // divided
		case i < 10:
			club.panel(id, "Elateridae", "Elateridae", "Elateridae")
		default:
			club.panel(id, "Elateridae") // not complete
		}
	}
	return club
}

// TestFiguresOfAClub reads the same figures in the API and on the pages.
func TestFiguresOfAClub(t *testing.T) {
	club := audited(t)
	club.submitted() // stays open
	club.agreementOfTheClub()
	club.calibrationOfTheClub()
	club.reliabilityOfTheClub()
}

func (c *apiClub) agreementOfTheClub() {
	t := c.t
	body := decoded[struct {
		audit.Agreement
		Names map[string]string
	}](c.call("cora", http.MethodGet, "/api/v1/figures/agreement", nil).is(http.StatusOK))
	require.Equal(t, 12, body.Specimens)
	require.Equal(t, 1, body.Waiting, "what is open is left out")
	blind, shown := body.Sets[1], body.Sets[3]
	require.Equal(t, []any{audit.LooksBlind, false, audit.LooksShown, false}, []any{blind.Looks, blind.Observer, shown.Looks, shown.Observer})
	// By hand: of twelve pairs three differ; 19 ratings are five plates and 5 are six. D_o = 3/12, D_e = 2·19·5 / (24·23).
	require.InDelta(t, 1-0.25/(2*19*5/(24.0*23)), *blind.Overall.Alpha.Value, 1e-12)
	require.Nil(t, shown.Overall.Alpha.Value, "all confirmed: agreement beyond chance is not defined")
	require.Len(t, blind.Pairs, 1)
	require.Equal(t, 9, blind.Pairs[0].Same)
	require.Contains(t, []string{"Name of rita", "Name of rolf"}, body.Names[blind.Pairs[0].A])
	require.Equal(t, 1, body.Copying.Pairs[0].Observed, "once both saw six")

	text := c.page("cora", "/figures/agreement", 200)
	for _, words := range []string{"Which figures to trust", "The blind ones", "Abdominal plates", pagesTwo(*blind.Overall.Alpha.Value), "All of one state",
		"Name of rita", "9 of 12 the same", "Do two agree more than their reliability explains?"} {
		require.Contains(t, text, words)
	}
	require.Regexp(t, `<svg class="track"[^>]*>.*<circle`, text)
}

// pagesTwo is a number as a page has it.
func pagesTwo(x float64) string { return strings.Replace(fmt.Sprintf("%.2f", x), "-", "−", 1) }

func (c *apiClub) calibrationOfTheClub() {
	t := c.t
	body := decoded[audit.Calibration](c.call("cora", http.MethodGet, "/api/v1/figures/calibration?group=small-test-group", nil).is(http.StatusOK))
	require.Equal(t, []int{12, 12, 2, 0, 1, 9}, []int{body.Closed, body.Drawn, body.Waiting, body.Ended, body.Divided, body.Cases})
	require.Equal(t, []audit.RateCases{{Rate: 0.5, Cases: 9}}, body.Rates)
	require.Equal(t, 8, body.Closing.Right)
	require.Equal(t, 9, body.Opening.Cases)
	require.Nil(t, body.Closing.Weighted)
	text := c.page("cora", "/figures/calibration", 200)
	for _, words := range []string{"Our own settlement never is", "8 of 9 claims were right", "Reliability diagram", "Expected calibration error", "nothing has to be weighed",
		`role="img"`, "Few cases"} {
		require.Contains(t, text, words)
	}
}

func (c *apiClub) reliabilityOfTheClub() {
	t := c.t
	const path = "/api/v1/figures/reliability"
	require.NoError(t, c.server.Service.CatchUp(t.Context()))
	before := decoded[audit.ReliabilityFigures](c.call("cora", http.MethodGet, path, nil).is(http.StatusOK))
	require.Equal(t, 12, before.Added, "each closed specimen is learnt from")
	after := decoded[audit.ReliabilityFigures](c.call("cora", http.MethodPost, path+"/refit", nil).is(http.StatusOK))
	require.Equal(t, before.Version+1, after.Version)
	require.Zero(t, after.Added)
	require.False(t, after.Refitted.IsZero())
	at := slices.IndexFunc(after.People, func(p audit.PersonFigures) bool { return p.Name == "Name of rita" })
	require.Positive(t, at)
	rita := after.People[at]
	require.Equal(t, review.RoleReviewer, rita.Role)
	require.Equal(t, 12, rita.Anchoring.Blind)
	require.False(t, rita.Anchoring.Estimated)
	require.InDelta(t, review.RoleAnchoring(review.RoleReviewer), rita.Anchoring.Value, 1e-12)
	for _, r := range rita.Regions {
		require.Equal(t, r.Region == "underside", r.Known)
		if r.Known {
			require.Equal(t, 12, r.Blind)
			require.Less(t, r.Accuracy, review.RoleAccuracy(review.RoleReviewer), "sees six where others see five")
			require.Positive(t, r.StandardError)
		}
	}
	require.Equal(t, before, decoded[audit.ReliabilityFigures](c.call("cora", http.MethodGet, path+"?version=1", nil).is(http.StatusOK)))
	c.call("cora", http.MethodGet, path+"?version=99", nil).is(http.StatusNotFound)

	own := decoded[audit.ReliabilityFigures](c.call("rita", http.MethodGet, path, nil).is(http.StatusOK))
	require.Equal(t, []audit.PersonFigures{rita}, own.People, "nobody else's")
	c.reliabilityPages(rita)
}

func (c *apiClub) reliabilityPages(rita audit.PersonFigures) {
	t := c.t
	text := c.page("cora", "/figures/reliability", 200)
	for _, words := range []string{"Reliability of people", "version 2", "the latest", "Name of rita", "Name of ada", "Weigh all reports anew", "What reports cannot tell",
		"it takes thirty blind checks", "Where everybody starts", pagesTwo(rita.Anchoring.Value)} {
		require.Contains(t, text, words)
	}
	require.Contains(t, c.page("cora", "/figures/reliability?version=0", 200), "the latest is version 2")
	c.page("cora", "/figures/reliability?version=99", 404)
	require.Contains(t, c.page("cora", "/figures/reliability?version=many", 400), "whole number")
	require.Equal(t, "/figures/reliability?group=small-test-group",
		c.post("cora", "/figures/reliability", url.Values{"group": {"small-test-group"}}).goesTo())
	require.Contains(t, c.page("cora", "/figures/reliability", 200), "version 3")

	own := c.page("rolf", "/figures/reliability", 200)
	require.Contains(t, own, "What is known of you")
	require.Contains(t, own, "Name of rolf")
	require.NotContains(t, own, "Name of rita")
	require.NotContains(t, own, "Weigh all reports anew")
}

// TestFiguresOfAnEmptyClub: nothing to show is said in words.
func TestFiguresOfAnEmptyClub(t *testing.T) {
	club := newAPIClub(t)
	for path, words := range map[string][]string{
		"/figures":             {"Agreement", "Calibration", "Reliability"},
		"/figures/agreement":   {"No character of a closed specimen has been looked at blind yet", "No reviewer has given a verdict", "no two reviewers have"},
		"/figures/calibration": {"No determination is closed yet."},
		"/figures/reliability": {"Nothing to show yet", "Everybody counts as their role.", "version 0; the latest"},
	} {
		text := club.page("cora", path, 200)
		for _, w := range words {
			require.Contains(t, text, w, path)
		}
		require.NotContains(t, text, "<circle", "%s draws nothing", path)
		require.NotContains(t, text, "NaN")
	}
	club.page("cora", "/figures/agreement?group=none", 404)
}

// TestFiguresAreForCurators: others see what is known of themselves, and no more.
func TestFiguresAreForCurators(t *testing.T) {
	club := newAPIClub(t)
	for _, who := range []string{"ada", "rita"} {
		for _, path := range []string{"/figures/agreement", "/figures/calibration"} {
			require.Contains(t, club.page(who, path, 403), "read the figures")
		}
		require.Contains(t, club.page(who, "/figures", 200), "What is known of you")
		require.NotContains(t, club.page(who, "/figures", 200), "/figures/agreement")
		require.Contains(t, club.page(who, "/figures/reliability", 200), "You count as your role")
		club.shown(club.post(who, "/figures/reliability", url.Values{"group": {"small-test-group"}}), 403)
		require.NotContains(t, club.page(who, "/", 200), `href="/figures"`)
	}
	require.Contains(t, club.page("cora", "/", 200), `href="/figures"`)
}

// TestAnAssessmentNamesItsReliability: whoever reads a number finds by what people were weighed.
func TestAnAssessmentNamesItsReliability(t *testing.T) {
	club := figuresClub(t)
	require.Contains(t, club.page("ada", "/submissions/"+club.submitted().Submission.ID, 200), "How well people see was taken from their roles")
	club.wholeWay("5", "5")
	require.NoError(t, club.server.Service.CatchUp(t.Context()))
	text := club.page("ada", "/submissions/"+club.submitted().Submission.ID, 200)
	require.Contains(t, text, `href="/figures/reliability?group=small-test-group&amp;version=1"`)
	require.Contains(t, text, "version 1 of what is known of their reliability")
}
