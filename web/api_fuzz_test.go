package web

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"revidit/review"
	"revidit/review/diagnosis"
)

// FuzzBody: whatever bytes come as a body, the answer is what was asked for or says what is wrong with them, and is never a fault of ours.
func FuzzBody(f *testing.F) {
	operations := []string{"/assessments", "/submissions", "/sessions", "/searches", "/me/password"}
	for id, at := range map[string]uint8{"assess": 0, "create-submission": 1, "log-in": 2, "save-search": 3, "set-password": 4} {
		f.Add(at, []byte(manualBodies[id]))
	}
	for _, text := range []string{"", "null", "[]", "{", `{"draft": 1e400}`, `{"draft": true, "draft": false}`, "{\"remarks\": \"\xff\"}", strings.Repeat("[", 10_000), `{"observations": [null]}`} {
		f.Add(uint8(1), []byte(text))
	}
	club := newAPIClub(f)
	token := club.token("ada")
	f.Fuzz(func(t *testing.T, at uint8, body []byte) {
		path := operations[int(at)%len(operations)]
		method := http.MethodPost
		if path == "/me/password" {
			method = http.MethodPut
		}
		r := httptest.NewRequestWithContext(t.Context(), method, apiPrefix+path, bytes.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Authorization", "Bearer "+token)
		w := httptest.NewRecorder()
		club.handler.ServeHTTP(w, r)
		got := &reply{t: t, status: w.Code, header: w.Header(), body: w.Body.Bytes()}
		require.Less(t, got.status, 500, string(got.body))
		if got.status >= 400 {
			got.problem()
		}
	})
}

// FuzzUnpacked: what is taken out of an archive of tables stays within its limits and has plain names.
func FuzzUnpacked(f *testing.F) {
	valid := zipped(f, smallTables())
	f.Add(valid)
	f.Add(valid[:len(valid)/2])
	f.Add([]byte("PK\x05\x06" + strings.Repeat("\x00", 18)))
	f.Fuzz(func(t *testing.T, data []byte) {
		files, err := unpacked(data)
		if err != nil {
			require.Equal(t, review.KindInvalid, review.KindOf(err), "%v", err)
			return
		}
		size := 0
		for name, text := range files {
			require.NotContains(t, name, "..")
			require.LessOrEqual(t, len(text), diagnosis.MaxFileBytes)
			size += len(text)
		}
		require.LessOrEqual(t, size, maxUnpacked)
		require.LessOrEqual(t, len(files), maxArchiveFiles)
	})
}
