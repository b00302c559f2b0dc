package main

import (
	"bytes"
	"context"
	database "database/sql"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"revidit/models/modelstest"
)

// answered is what an address of a program answers, as somebody without a login.
func answered(t *testing.T, p *program, path string) (status int, body string, took time.Duration) {
	t.Helper()
	began := time.Now()
	response, err := (&http.Client{Timeout: 30 * time.Second}).Get(p.address + path)
	require.NoError(t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	return response.StatusCode, string(text), time.Since(began)
}

type problem struct {
	Status int    `json:"status"`
	Detail string `json:"detail"`
}

// TestADamagedPhotoIsNoticedAndMended, in each size, whether a byte of its file has changed, the end is missing or all of it.
func TestADamagedPhotoIsNoticedAndMended(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	member, picture := pagesClient(t, p, "member"), drawnPicture(t, "whole-below")
	photo := member.upload(t, picture)
	found, err := filepath.Glob(filepath.Join(photoFolder(data), "*", "*-*"))
	require.NoError(t, err)
	require.Len(t, found, 5)
	whole := files(t, photoFolder(data))
	for _, file := range found {
		_, size, _ := strings.Cut(filepath.Base(file), "-")
		for what, damage := range map[string]func(text []byte){
			"a byte":  func(text []byte) { text[len(text)/2] ^= 1; require.NoError(t, os.WriteFile(file, text, 0o600)) },
			"its end": func(text []byte) { require.NoError(t, os.WriteFile(file, text[:len(text)/2], 0o600)) },
			"all":     func([]byte) { require.NoError(t, os.Remove(file)) },
		} {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			damage(text)
			asked := size
			if size == "sums" {
				asked = "middle" // whose digest stands in the middle of them
			}
			if size != "sums" || what != "all" { // copies without digests are those of an earlier program
				var said problem
				status, err := member.do("GET", "/photos/"+photo+"/"+asked, "", nil, nil, &said)
				require.NoError(t, err, "%s of %s", what, size)
				require.Equal(t, http.StatusInternalServerError, status, "%s of %s", what, size)
				require.Contains(t, said.Detail, "damaged")
				require.Contains(t, said.Detail, "uploading the same file again")
			}
			member.upload(t, picture)
			require.Equal(t, whole, files(t, photoFolder(data)), "%s of %s", what, size)
			status, err := member.do("GET", "/photos/"+photo+"/"+asked, "", nil, nil, nil)
			require.NoError(t, err)
			require.Equal(t, http.StatusOK, status)
		}
	}
}

// TestServeWithoutItsDatabaseFile: the file is removed, or another one put in its place, under a running server.
func TestServeWithoutItsDatabaseFile(t *testing.T) {
	t.Parallel()
	for name, harm := range map[string]func(t *testing.T, place string){
		"removed": func(t *testing.T, place string) { require.NoError(t, os.Remove(place)) },
		"replaced": func(t *testing.T, place string) {
			text, err := os.ReadFile(place)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(place+".new", text, 0o600))
			require.NoError(t, os.Rename(place+".new", place))
		},
		"without its log": func(t *testing.T, place string) { require.NoError(t, os.Remove(place+"-wal")) },
	} {
		t.Run(name, func(t *testing.T) {
			data := newClub(t)
			p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
			member := pagesClient(t, p, "member")
			photo := member.upload(t, drawnPicture(t, "whole-below"))
			status, _, _ := answered(t, p, "/healthz")
			require.Equal(t, http.StatusOK, status)

			harm(t, filepath.Join(data, "revidit.sqlite"))
			var said problem
			status, err := member.send("POST", "/submissions", clickBeetle("F-1", photo), nil, &said)
			require.NoError(t, err)
			require.Equal(t, http.StatusServiceUnavailable, status)
			require.Contains(t, said.Detail, "removed or replaced")
			require.Contains(t, said.Detail, "keeper of this server")
			if name != "without its log" {
				page, text := asked(t, member, "GET", "/submissions", "")
				require.Equal(t, http.StatusServiceUnavailable, page.StatusCode)
				require.Equal(t, "5", page.Header.Get("Retry-After"))
				require.Contains(t, text, "Not possible just now")
				require.Contains(t, text, "removed or replaced")
				require.NotContains(t, text, data, "where it lies is nobody's business")
			}
			if name != "without its log" { // which reading does not need
				time.Sleep(300 * time.Millisecond) // as long as an answer is kept
				status, body, _ := answered(t, p, "/healthz")
				require.Equal(t, http.StatusServiceUnavailable, status)
				require.Empty(t, body)
			}
		})
	}
}

// TestServeWhileTheFileIsLocked: another program keeps the file to itself. Nobody waits for long, what is typed is not
// lost, and reading goes on.
func TestServeWhileTheFileIsLocked(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	member := pagesClient(t, p, "member")
	photo := member.upload(t, drawnPicture(t, "whole-below"))

	other, err := database.Open("sqlite", filepath.Join(data, "revidit.sqlite"))
	require.NoError(t, err)
	defer other.Close()
	connection, err := other.Conn(t.Context())
	require.NoError(t, err)
	defer connection.Close()
	_, err = connection.ExecContext(t.Context(), "PRAGMA busy_timeout = 10000")
	require.NoError(t, err)
	_, err = connection.ExecContext(t.Context(), "BEGIN IMMEDIATE")
	require.NoError(t, err)

	var said problem
	began := time.Now()
	status, err := member.send("POST", "/submissions", clickBeetle("L-1", photo), nil, &said)
	require.NoError(t, err)
	require.Equal(t, http.StatusServiceUnavailable, status)
	// Which bound is met first, that of the file or that of the whole task, is a matter of how busy the machine is.
	const told = "The database (is kept busy by something else|does not answer) just now"
	require.Regexp(t, told, said.Detail)
	require.Less(t, time.Since(began), 10*time.Second, "what is known of a fault is told before a person gives up; the bound is that of the task")
	typed := url.Values{"label.catalogue_number": {"TYPED-1"}, "family": {"Elateridae"}, "do": {"draft"}, "key": {"k"}}
	page, text := asked(t, member, "POST", "/submissions", typed.Encode())
	require.Equal(t, http.StatusServiceUnavailable, page.StatusCode)
	require.Equal(t, "5", page.Header.Get("Retry-After"))
	require.Regexp(t, told, text)
	require.Contains(t, text, `value="TYPED-1"`, "the form, with what was typed")
	status, _, _ = answered(t, p, "/healthz")
	require.Equal(t, http.StatusOK, status, "it can be read")

	_, err = connection.ExecContext(context.WithoutCancel(t.Context()), "ROLLBACK")
	require.NoError(t, err)
	status, err = member.send("POST", "/submissions", clickBeetle("L-1", photo), nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
}

// asked sends a request with a login in a cookie, as a browser does, and requires an answer soon.
func asked(t *testing.T, c *client, method, path, form string) (*http.Response, string) {
	t.Helper()
	request, err := http.NewRequest(method, strings.TrimSuffix(c.base, "/api/v1")+path, strings.NewReader(form))
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.AddCookie(c.cookie)
	began := time.Now()
	response, err := (&http.Client{Timeout: 30 * time.Second}).Do(request)
	require.NoError(t, err)
	defer response.Body.Close()
	text, err := io.ReadAll(response.Body)
	require.NoError(t, err)
	require.Less(t, time.Since(began), 10*time.Second, "%s %s", method, path)
	return response, string(text)
}

// TestServeWhilePostgresIsHung: every request is answered within seconds, with words, and all goes on when the database does.
func TestServeWhilePostgresIsHung(t *testing.T) {
	server, data := modelstest.OwnPostgres(t), t.TempDir()
	place := []string{"--data", data, "--database", server.URL}
	require.Equal(t, 0, runHere(t, "", append([]string{"migrate"}, place...)...).code)
	added := runHere(t, testPassword+"\n", append([]string{"user", "add", "member", "Test member"}, place...)...)
	require.Equal(t, 0, added.code, added.err)
	p := startProgram(t, append([]string{"serve", "--insecure", "--addr", "127.0.0.1:0"}, place...)...)
	member, picture := pagesClient(t, p, "member"), drawnPicture(t, "whole-below")
	photo := member.upload(t, picture)

	require.NoError(t, server.Signal(syscall.SIGSTOP))
	resume := sync.OnceFunc(func() { require.NoError(t, server.Signal(syscall.SIGCONT)) })
	defer resume()
	var all sync.WaitGroup
	for range 3 { // more at once than there are connections
		for _, c := range []struct{ method, path, form string }{
			{"GET", "/submissions", ""}, {"GET", "/photos/" + photo + "/thumb", ""}, {"POST", "/login", "login=member&password=" + url.QueryEscape(testPassword)},
			{"POST", "/submissions/x/submit", ""}, {"GET", "/api/v1/submissions", ""}, {"GET", "/api/v1/me", ""}, {"POST", "/logout", ""},
		} {
			all.Go(func() {
				response, body := asked(t, member, c.method, c.path, c.form)
				assert.Equal(t, http.StatusServiceUnavailable, response.StatusCode, "%s %s", c.method, c.path)
				assert.NotEmpty(t, response.Header.Get("Retry-After"), "%s %s", c.method, c.path)
				assert.Contains(t, body, "The database does not answer just now", "%s %s", c.method, c.path)
				assert.Contains(t, body, "What was stored before is safe", "%s %s", c.method, c.path)
			})
		}
	}
	all.Wait()
	status, body, took := answered(t, p, "/healthz")
	require.Equal(t, http.StatusServiceUnavailable, status)
	require.Empty(t, body)
	require.Less(t, took, 2*time.Second, "a second is the task's")
	response, _ := asked(t, member, "GET", "/login", "")
	require.Equal(t, http.StatusServiceUnavailable, response.StatusCode, "whose login it is stands in the database")

	resume()
	require.Eventually(t, func() bool {
		status, _, _ := answered(t, p, "/healthz")
		return status == http.StatusOK
	}, modelstest.Patience, 100*time.Millisecond)
	status, err := member.send("POST", "/submissions", clickBeetle("H-1", photo), nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
}

// TestServeOnAFullDisk: 507 with words, nothing half stored, reading goes on, and so does all when there is room.
func TestServeOnAFullDisk(t *testing.T) {
	disk := modelstest.SmallDisk(t, "24m")
	data := filepath.Join(disk, "club")
	require.NoError(t, os.CopyFS(data, os.DirFS(newClub(t))))
	require.NoError(t, os.Chmod(keyFile(data), 0o600))
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	member, picture := pagesClient(t, p, "member"), drawnPicture(t, "whole-below")
	draft := func(i int) map[string]any {
		return map[string]any{"family": "Elateridae", "withheld": map[string]any{}, "label": map[string]any{"catalogue_number": fmt.Sprint("D-", i)}}
	}
	first := draft(0)
	first["draft"] = true
	var view struct {
		Submission struct {
			ID string `json:"id"`
		} `json:"submission"`
	}
	status, err := member.send("POST", "/submissions", first, nil, &view)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	stored, _ := asked(t, member, "GET", "/submissions", "")
	require.Equal(t, http.StatusOK, stored.StatusCode)

	filler, err := os.Create(filepath.Join(disk, "filler"))
	require.NoError(t, err)
	for err == nil {
		_, err = filler.Write(make([]byte, 4096))
	}
	require.ErrorIs(t, err, syscall.ENOSPC)
	require.NoError(t, filler.Close())

	var said problem
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	part, err := w.CreateFormFile("photo", "beetle.jpg")
	require.NoError(t, err)
	_, err = part.Write(drawnPicture(t, "whole-above"))
	require.NoError(t, err)
	require.NoError(t, w.Close())
	status, err = member.do("POST", "/photos", w.FormDataContentType(), form.Bytes(), nil, &said)
	require.NoError(t, err)
	require.Equal(t, http.StatusInsufficientStorage, status, said.Detail)
	require.Contains(t, said.Detail, "disk of this server is full")
	require.Contains(t, said.Detail, "nothing of this request was stored")

	status = http.StatusOK
	for i := 0; i < 1000 && status == http.StatusOK; i++ { // SQLite's log has some room left
		said = problem{}
		status, err = member.send("PUT", "/submissions/"+view.Submission.ID, draft(i), nil, &said)
		require.NoError(t, err)
	}
	require.Equal(t, http.StatusInsufficientStorage, status, said.Detail)
	require.Contains(t, said.Detail, "disk of the database is full")
	response, _ := asked(t, member, "GET", "/submissions", "")
	require.Equal(t, http.StatusOK, response.StatusCode, "what is stored can be read")

	require.NoError(t, os.Remove(filepath.Join(disk, "filler")))
	status, err = member.send("POST", "/submissions", clickBeetle("D-last", member.upload(t, picture)), nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	stop(t, p)
	db := openClub(t, data)
	defer db.Close()
	for after := ""; ; {
		part, problems, err := db.CheckPart(t.Context(), after)
		require.NoError(t, err)
		require.Empty(t, problems)
		if after = part; part == "" {
			break
		}
	}
}
