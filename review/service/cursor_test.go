package service

import (
	"encoding/base64"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
)

var (
	oldSecret, newSecret = []byte(strings.Repeat("o", 32)), []byte(strings.Repeat("n", 32))
	herQueue             = cursorPlace{List: "queue", Person: "rita", Filter: QueueFilter{Family: "Elateridae"}}
)

func TestCursorsTellNothing(t *testing.T) {
	seal := newCursorSeal([][]byte{newSecret})
	short, err := seal.seal(herQueue, `{"given":1,"gain":{"urgency":0.5,"id":"a"}}`)
	require.NoError(t, err)
	long, err := seal.seal(herQueue, `{"given":1,"gain":{"urgency":0.517263549812,"id":"a"}}`)
	require.NoError(t, err)
	require.Len(t, long, len(short), "digits would tell")
	text, err := base64.RawURLEncoding.DecodeString(long)
	require.NoError(t, err)
	require.NotContains(t, string(text), "urgency")
	none, err := seal.seal(herQueue, "")
	require.NoError(t, err)
	require.Empty(t, none, "after the last page")
}

func TestCursorsOpenWhereTheyWereGivenAlone(t *testing.T) {
	const position = `{"given":1}`
	cursor, err := newCursorSeal([][]byte{oldSecret}).seal(herQueue, position)
	require.NoError(t, err)
	shared := newCursorSeal([][]byte{newSecret, oldSecret}) // another process, after a new key was put first
	opened, err := shared.open(herQueue, cursor)
	require.NoError(t, err)
	require.Equal(t, position, opened)
	refused := func(seal *cursorSeal, place cursorPlace, cursor string) {
		t.Helper()
		_, err := seal.open(place, cursor)
		require.Equal(t, review.KindInvalid, review.KindOf(err), "%v", err)
		require.ErrorContains(t, err, "cursor:")
	}
	refused(newCursorSeal([][]byte{newSecret}), herQueue, cursor)
	refused(newCursorSeal(nil), herQueue, cursor)
	refused(shared, cursorPlace{List: "queue", Person: "rolf", Filter: herQueue.Filter}, cursor)
	refused(shared, cursorPlace{List: "submissions", Person: "rita", Filter: herQueue.Filter}, cursor)
	refused(shared, cursorPlace{List: "queue", Person: "rita", Filter: QueueFilter{Family: "Buprestidae"}}, cursor)
	for _, made := range []string{"x", "!!", cursor[:20], cursor[:len(cursor)-4], cursor + "AAAA", base64.RawURLEncoding.EncodeToString([]byte(position))} {
		refused(shared, herQueue, made)
	}
	for i := range cursor {
		other := byte('A')
		if cursor[i] == other {
			other = 'B'
		}
		refused(shared, herQueue, cursor[:i]+string(other)+cursor[i+1:])
	}
}

// FuzzCursor: of all texts only the one that was given opens.
func FuzzCursor(f *testing.F) {
	const position = `{"given":1}`
	seal := newCursorSeal([][]byte{newSecret, oldSecret})
	cursor, err := seal.seal(herQueue, position)
	require.NoError(f, err)
	for _, text := range []string{"", "=", "AAAA", cursor[:40], cursor[1:], cursor + "A", strings.ToUpper(cursor), "{}", "\x00"} {
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text string) {
		opened, err := seal.open(herQueue, text)
		if text == "" || text == cursor {
			require.NoError(t, err)
			require.Equal(t, text != "", opened == position)
			return
		}
		require.Equal(t, review.KindInvalid, review.KindOf(err), "%v", err)
		require.Empty(t, opened)
	})
}
