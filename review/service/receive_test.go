package service

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

func newReceiver(t *testing.T) *receiver {
	return &receiver{folder: filepath.Join(t.TempDir(), "arriving"), people: map[string]*sender{}}
}

func TestOneUploadOfAPersonAtATime(t *testing.T) {
	r, now := newReceiver(t), time.Date(2026, 5, 1, 23, 0, 0, 0, time.UTC)
	end, err := r.begin(t.Context(), "ada", now)
	require.NoError(t, err)
	other, err := r.begin(t.Context(), "ben", now)
	require.NoError(t, err, "another person does not wait")
	other(1)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = r.begin(gone, "ada", now)
	require.ErrorIs(t, err, context.Canceled)
	end(5)
	end, err = r.begin(t.Context(), "ada", now)
	require.NoError(t, err)
	end(5)
	require.Equal(t, int64(10), r.people["ada"].bytes)
	require.Zero(t, r.people["ada"].waiting)
}

func TestNoMoreThanSomeWait(t *testing.T) {
	r := newReceiver(t)
	for range waitingUploads + 1 {
		_, err := r.enter("ada", "2026-05-01")
		require.NoError(t, err)
	}
	_, err := r.enter("ada", "2026-05-01")
	require.Equal(t, review.KindTooMany, review.KindOf(err))
}

func TestADayHasItsMeasure(t *testing.T) {
	r, day := newReceiver(t), time.Date(2026, 5, 1, 23, 0, 0, 0, time.UTC)
	end, err := r.begin(t.Context(), "ada", day)
	require.NoError(t, err)
	end(dailyBytes)
	_, err = r.begin(t.Context(), "ada", day)
	require.Equal(t, review.KindTooMany, review.KindOf(err))
	end, err = r.begin(t.Context(), "ada", day.Add(2*time.Hour))
	require.NoError(t, err, "another day")
	end(1)
	r.people["ada"].uploads = dailyUploads
	_, err = r.begin(t.Context(), "ada", day.Add(2*time.Hour))
	require.Equal(t, review.KindTooMany, review.KindOf(err))
	r.forget("2026-05-03")
	require.Empty(t, r.people)
}

func TestSpool(t *testing.T) {
	r := newReceiver(t)
	folder, file, size, err := r.spool(strings.NewReader("a photo"))
	require.NoError(t, err)
	require.Equal(t, int64(7), size)
	require.FileExists(t, file)
	_, _, _, err = r.spool(iotest.ErrReader(os.ErrDeadlineExceeded))
	require.ErrorIs(t, err, os.ErrDeadlineExceeded)
	// What a killed process has left goes after an hour, what is arriving stays.
	old := time.Now().Add(-2 * leftBehind)
	require.NoError(t, os.Chtimes(folder, old, old))
	require.NoError(t, r.clean())
	require.NoDirExists(t, folder)
	left, err := os.ReadDir(r.folder)
	require.NoError(t, err)
	require.Len(t, left, 1)
}
