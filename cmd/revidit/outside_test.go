package main

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

var aCheckpoint = review.SignedCheckpoint{Size: 1234, At: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC), Signed: "revidit/club\n1234\nroot\n\n— revidit/club signature\n", Key: "revidit/club+1+a"}

func TestACheckpointGoesIntoAFolder(t *testing.T) {
	folder := t.TempDir()
	places, err := outsideFlags{CheckpointFolder: folder}.places(mailFlags{}, nil)
	require.NoError(t, err)
	require.Len(t, places, 1)
	for range 2 { // the same one may come twice
		require.NoError(t, places[0].Put(t.Context(), aCheckpoint))
	}
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, entries, 1)
	text, err := os.ReadFile(filepath.Join(folder, "checkpoint-000000001234.txt"))
	require.NoError(t, err)
	require.Equal(t, aCheckpoint.Signed, string(text))
	other := aCheckpoint
	other.Signed = "another history"
	require.ErrorContains(t, places[0].Put(t.Context(), other), "one of them was changed")
	_, err = outsideFlags{CheckpointFolder: filepath.Join(folder, "none")}.places(mailFlags{}, nil)
	require.ErrorContains(t, err, "make it first")
}

func TestACheckpointIsPosted(t *testing.T) {
	var got []string
	status := http.StatusNoContent
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		text, _ := io.ReadAll(r.Body)
		got = append(got, r.Method+" "+r.Header.Get("Content-Type")+" "+string(text))
		w.WriteHeader(status)
	}))
	defer server.Close()
	places, err := outsideFlags{CheckpointWebhook: server.URL + "/in"}.places(mailFlags{}, nil)
	require.NoError(t, err)
	require.NoError(t, places[0].Put(t.Context(), aCheckpoint))
	require.Equal(t, []string{"POST text/plain; charset=utf-8 " + aCheckpoint.Signed}, got)
	for _, status = range []int{http.StatusFound, http.StatusForbidden, http.StatusInternalServerError} {
		require.ErrorContains(t, places[0].Put(t.Context(), aCheckpoint), "it answered")
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	require.Error(t, places[0].Put(ended, aCheckpoint))
	for _, wrong := range []string{"archive", "ftp://archive.example", "https://"} {
		_, err := outsideFlags{CheckpointWebhook: wrong}.places(mailFlags{}, nil)
		require.ErrorContains(t, err, "no address")
	}
}

func TestACheckpointIsMailed(t *testing.T) {
	_, err := outsideFlags{CheckpointMail: "archive@museum.example"}.places(mailFlags{}, nil)
	require.ErrorContains(t, err, "needs --mail-server")
	_, err = outsideFlags{CheckpointMail: "nobody"}.places(mailFlags{}, nil)
	require.Error(t, err)
	letter := checkpointLetter("archive@museum.example", aCheckpoint)
	require.Contains(t, letter.Text, "\n--------\n"+aCheckpoint.Signed+"--------\n")
	require.Contains(t, letter.Text, aCheckpoint.Key)
}
