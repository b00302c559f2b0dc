package demo_test

import (
	"context"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/cmd/revidit/demo"
	"revidit/models"
	"revidit/models/blob"
	"revidit/review"
	"revidit/review/audit"
	"revidit/review/diagnosis"
	"revidit/review/photo/apart"
	"revidit/review/service"
)

// TestFillMakesEveryStatus drives the whole scenario through the real service on a real database.
func TestFillMakesEveryStatus(t *testing.T) {
	ctx := t.Context()
	db, err := models.Open(ctx, filepath.Join(t.TempDir(), "demo.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	require.NoError(t, db.Migrate(ctx))
	ids := demo.IDs()
	accounts, err := auth.NewAccounts(db, auth.MemoryKeys(), auth.Options{Cheap: true, NewID: ids})
	require.NoError(t, err)
	today := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	clock := demo.NewClock(demo.Start(today))
	reviewing := service.NewService(db, &blob.Mem{}, service.NewLibrary(diagnosis.Default()), service.Options{Now: clock.Now, Seed: demo.Seeds(), NewID: ids, Photos: apart.Here{}})
	told := 0
	club := demo.Club{Service: reviewing, Accounts: accounts, Clock: clock, Size: demo.Size{Width: 240, Height: 180},
		Progress: func(done, all int) { told = done; require.LessOrEqual(t, done, all) }}
	require.NoError(t, club.Fill(ctx, today))

	counts := countAll(t, db, reviewing, accounts)
	all := 0
	for _, status := range review.Statuses {
		require.NotZero(t, counts[status], "no submission is %s", status)
		all += counts[status]
	}
	require.GreaterOrEqual(t, all, 40)
	require.LessOrEqual(t, told, all)
	require.False(t, clock.Now().After(today.Add(time.Hour)), "nothing happens in the future")

	// A login that is printed works, and a hold is running when somebody looks.
	_, henrike, err := accounts.Login(ctx, "henrike", demo.Password, "127.0.0.1")
	require.NoError(t, err)
	lines, _, err := reviewing.Queue(ctx, henrike, service.QueueFilter{AsOf: today.Add(time.Minute)}, service.Page{Size: 200})
	require.NoError(t, err)
	held, reasons, panels := 0, map[string]bool{}, 0
	for i, l := range lines {
		if i < 10 { // as her home shows them
			reasons[kindOfReason(l)] = true
			panels += count(l.Recheck)
		}
		if l.HeldUntil != nil && l.HeldUntil.After(today) {
			held++
		}
		require.NotEmpty(t, l.Why)
	}
	require.Equal(t, 1, held)
	require.GreaterOrEqual(t, len(reasons), 4, "why something stands there differs: %v", reasons)
	require.NotZero(t, panels, "a blind panel is one click from a reviewer's home")
	requireShown(t, reviewing, accounts)
	requireFigures(t, reviewing, accounts)
	requireSeries(t, reviewing, accounts)
}

// requireSeries: one beginner's series is half way through, most of it answered, with confusions that came again.
func requireSeries(t *testing.T, reviewing *service.Service, accounts *auth.Accounts) {
	t.Helper()
	ctx := t.Context()
	_, sabine, err := accounts.Login(ctx, "sabine", demo.Password, "127.0.0.1")
	require.NoError(t, err)
	lists, err := reviewing.FindSeries(ctx, sabine)
	require.NoError(t, err)
	require.Len(t, lists.Own, 1)
	v, err := reviewing.Series(ctx, sabine, lists.Own[0].ID)
	require.NoError(t, err)
	require.Equal(t, []any{review.SeriesRunning, review.SeriesLength / 2, 3}, []any{v.Status, v.Count.All, v.Count.Waiting})
	seen, err := reviewing.SeriesSeen(ctx, sabine, v.ID)
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(seen.Mixed), 2)
	require.Equal(t, []int{3, 2}, []int{seen.Mixed[0].Specimens, seen.Mixed[1].Specimens}, "three times the antenna, twice the plates")
}

// kindOfReason is what a line of the queue stands there for, without its numbers.
func kindOfReason(l service.QueueLine) string {
	switch {
	case l.Recheck:
		return "recheck"
	case l.Blind:
		return "blind"
	case l.Region != "":
		return "a look at the " + l.Region
	case l.LongestWaiting:
		return "longest"
	case l.Reviewers > 0:
		return "others"
	}
	return "waits"
}

func count(is bool) int {
	if is {
		return 1
	}
	return 0
}

// requireShown: what a club is for can be seen from the homes of three people: a name that reviewers see otherwise, a contradiction, and
// a release that puts names in doubt.
func requireShown(t *testing.T, reviewing *service.Service, accounts *auth.Accounts) {
	t.Helper()
	ctx := t.Context()
	_, ida, err := accounts.Login(ctx, "ida", demo.Password, "127.0.0.1")
	require.NoError(t, err)
	own, _, err := reviewing.Find(ctx, ida, service.SubmissionFilter{Owner: ida.Person}, service.Page{Size: 10})
	require.NoError(t, err)
	disputed, contradicted := 0, 0
	for _, l := range own {
		contradicted += count(l.Contradictions > 0)
		if l.Status != review.StatusOpen || l.Reviewers == 0 {
			continue
		}
		view, err := reviewing.View(ctx, ida, l.ID)
		require.NoError(t, err)
		for _, v := range view.Submission.Verdicts {
			disputed += count(v.Kind == review.VerdictDispute)
		}
	}
	require.NotZero(t, disputed)
	require.NotZero(t, contradicted)

	_, odile, err := accounts.Login(ctx, "odile", demo.Password, "127.0.0.1")
	require.NoError(t, err)
	doubted, err := reviewing.Doubted(ctx, odile, "")
	require.NoError(t, err)
	require.NotZero(t, doubted.InDoubt)
}

// requireFigures: a curator of the made-up club has something to audit on every page of figures.
func requireFigures(t *testing.T, reviewing *service.Service, accounts *auth.Accounts) {
	t.Helper()
	ctx := t.Context()
	_, odile, err := accounts.Login(ctx, "odile", demo.Password, "127.0.0.1")
	require.NoError(t, err)
	agreement, _, err := reviewing.Agreement(ctx, odile, "", review.Period{})
	require.NoError(t, err)
	for _, set := range agreement.Sets {
		if set.Observer || set.Looks == audit.LooksShown {
			require.Greater(t, set.Overall.Alpha.Units, 30, "%s, observer %t", set.Looks, set.Observer)
			require.NotEmpty(t, set.Pairs)
		}
	}
	require.NotEmpty(t, agreement.Copying.Pairs)
	calibration, err := reviewing.Calibration(ctx, odile, "", review.Period{})
	require.NoError(t, err)
	require.GreaterOrEqual(t, calibration.Cases, 10)
	require.NotZero(t, calibration.Waiting)
	require.Len(t, calibration.Rates, 2, "the rate was lowered")
	require.NotNil(t, calibration.Closing.Weighted)
	t.Logf("of %d names %d right before review and %d after", calibration.Cases, calibration.Opening.Right, calibration.Closing.Right)
	require.Greater(t, calibration.Closing.Right, calibration.Opening.Right+1, "review improves names")
	require.GreaterOrEqual(t, calibration.Closing.Right, calibration.Cases-1)
	people, names, err := reviewing.Reliability(ctx, odile, "")
	require.NoError(t, err)
	require.Equal(t, people.At, people.Refitted)
	estimated := false
	for id, known := range people.People {
		require.NotEmpty(t, names[id])
		estimated = estimated || known.Anchoring.Estimated()
	}
	require.True(t, estimated, "somebody has looked blind often enough")
}

// countAll counts the submissions of every status, drafts of everybody included.
func countAll(t *testing.T, db *models.DB, reviewing *service.Service, accounts *auth.Accounts) map[review.Status]int {
	t.Helper()
	ctx := context.Background()
	people, err := db.FindPeople(ctx, service.PeopleFilter{}, 200)
	require.NoError(t, err)
	counts := map[review.Status]int{}
	for i, p := range people {
		of, err := reviewing.Counts(ctx, review.Actor{Person: p.ID, Role: p.Role})
		require.NoError(t, err)
		for status, n := range of {
			if status == review.StatusDraft {
				counts[status] += n
			} else if i == 0 {
				counts[status] = n
			}
		}
	}
	return counts
}
