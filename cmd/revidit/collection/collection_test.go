package collection

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"revidit/models"
	"revidit/models/pgserver"
	"runtime/debug"
)

func TestX(t *testing.T) {
	t0 := time.Now()
	m, err := Live(t.Context(), 1, 80, func(int, int) {})
	require.NoError(t, err)
	for k, v := range m.byKind {
		fmt.Println(k, len(v))
		if k == kindClosed {
			n := 0
			for _, x := range v {
				for _, s := range x.streams {
					n += len(s)
				}
			}
			fmt.Println(float64(n) / float64(len(v)))
		}
	}
	fmt.Println("lives", time.Since(t0))
	c := m.Of(5000, 1, time.Now(), "x")
	t0 = time.Now()
	n := 0
	var ev, sub int
	for _, err := range c.Fillings(func(s, e int) { sub, ev = s, e }) {
		require.NoError(t, err)
		n++
	}
	fmt.Println("told", time.Since(t0), sub, ev)
	debug.SetGCPercent(400)
	srv, err := pgserver.Start(t.Context(), pgserver.Options{Parent: "/tmp", Settings: []string{"shared_buffers=512MB", "max_wal_size=8GB"}})
	require.NoError(t, err)
	defer srv.Stop()
	for _, url := range []string{filepath.Join(t.TempDir(), "x"), srv.URL} {
		db, err := models.Open(t.Context(), url)
		require.NoError(t, err)
		require.NoError(t, db.Migrate(t.Context()))
		t0 = time.Now()
		require.NoError(t, db.Fill(t.Context(), c.Fillings(func(s, e int) { sub, ev = s, e })))
		fmt.Println("filled", time.Since(t0), sub, ev)
		db.Close()
	}
}
