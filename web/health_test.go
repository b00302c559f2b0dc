package web

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// TestHealth: anybody may ask, with or without a login, and hears nothing but the status.
func TestHealth(t *testing.T) {
	db := modelstest.SQLite(t)
	accounts, err := auth.NewAccounts(db, auth.MemoryKeys(), auth.Options{})
	require.NoError(t, err)
	handler, err := New(Config{Service: service.NewService(db, &blob.Mem{}, service.NewLibrary(loaded(t, smallTables())), service.Options{}), Accounts: accounts, Log: slog.New(slog.DiscardHandler)})
	require.NoError(t, err)
	ask := func(method string) *httptest.ResponseRecorder {
		request := httptest.NewRequest(method, "/healthz", nil)
		request.AddCookie(&http.Cookie{Name: plainCookie, Value: "of nobody"})
		answer := httptest.NewRecorder()
		handler.Handler.ServeHTTP(answer, request)
		return answer
	}
	for _, method := range []string{"GET", "HEAD"} {
		answer := ask(method)
		require.Equal(t, http.StatusOK, answer.Code)
		require.Empty(t, answer.Body.String())
		require.Equal(t, "no-store", answer.Header().Get("Cache-Control"))
	}
	require.NoError(t, db.Close())
	time.Sleep(pulseKept)
	answer := ask("GET")
	require.Equal(t, http.StatusServiceUnavailable, answer.Code)
	require.Empty(t, answer.Body.String())
	require.Equal(t, "5", answer.Header().Get("Retry-After"))
}

// TestPulse: of many who ask at once one asks the database, and nobody waits for longer than it may take twice.
func TestPulse(t *testing.T) {
	var p pulse
	var asked atomic.Int32
	hung := func(ctx context.Context) error {
		asked.Add(1)
		<-ctx.Done()
		return ctx.Err()
	}
	began := time.Now()
	var group sync.WaitGroup
	for range 50 {
		group.Go(func() { require.Error(t, p.feel(hung)) })
	}
	group.Wait()
	require.Less(t, time.Since(began), 2*pulseTime)
	require.EqualValues(t, 1, asked.Load())
	time.Sleep(pulseKept)
	require.NoError(t, p.feel(func(context.Context) error { return nil }))
}

// TestFaultsSpeak: of a fault people hear the words, and the log has the cause.
func TestFaultsSpeak(t *testing.T) {
	club := newAPIClub(t)
	for kind, c := range map[review.Kind]struct {
		status      int
		wait, title string
	}{
		review.KindDown:    {http.StatusServiceUnavailable, "5", "Not possible just now"},
		review.KindFull:    {http.StatusInsufficientStorage, "60", "There is no room left"},
		review.KindDamaged: {http.StatusInternalServerError, "", "Something stored is damaged"},
	} {
		for _, path := range []string{"/fault-", apiPrefix + "/fault-"} {
			cause := "cause of " + string(kind) + " at " + path
			club.engine.GET(path+string(kind), func(c *gin.Context) {
				club.server.fail(c, review.Fault(kind, errors.New(cause), "These are the words."))
			})
			answer := club.call("ada", "GET", path+string(kind), nil)
			require.Equal(t, c.status, answer.status)
			require.Equal(t, c.wait, answer.header.Get("Retry-After"))
			text := string(answer.body)
			require.Contains(t, text, "These are the words.")
			require.NotContains(t, text, "cause of")
			require.Contains(t, club.log.String(), cause)
			if path == "/fault-" {
				require.Contains(t, text, c.title)
			}
		}
	}
}
