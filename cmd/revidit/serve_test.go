package main

import (
	"bufio"
	"io"
	"net"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// TestServeOnPostgres: the same program with a database URL. Two servers share one database; two who
// judge the same evidence both get through, and who has missed an answer of the owner is told.
func TestServeOnPostgres(t *testing.T) {
	t.Parallel()
	url, data := modelstest.EmptyPostgresURL(t), t.TempDir()
	behind := runHere(t, "", "serve", "--data", data, "--database", url, "--addr", "127.0.0.1:0")
	require.Equal(t, 1, behind.code)
	require.Contains(t, behind.err, "revidit migrate")
	require.Equal(t, 0, runHere(t, "", "migrate", "--data", data, "--database", url).code)
	for login, role := range map[string]string{"member": "member", "reviewer": "reviewer", "second": "reviewer"} {
		added := runHere(t, testPassword+"\n", "user", "add", "--data", data, "--database", url, "--role", role, login, "Test "+login)
		require.Equal(t, 0, added.code, added.err)
	}
	db, err := models.Open(t.Context(), url)
	require.NoError(t, err)
	defer db.Close()
	drawNobody(t, db)
	first := startProgram(t, "serve", "--insecure", "--data", data, "--database", url, "--addr", "127.0.0.1:0")
	other := startProgram(t, "serve", "--insecure", "--data", data, "--database", url, "--addr", "127.0.0.1:0")

	member := loginClient(t, first, "member")
	var view struct {
		Submission struct {
			ID    string   `json:"id"`
			Cites []string `json:"cites"`
			Seq   int      `json:"seq"`
		} `json:"submission"`
	}
	photo := member.upload(t, drawnPicture(t, "whole-below"))
	status, err := member.send("POST", "/submissions", clickBeetle("P-1", photo), nil, &view)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)

	path, body := "/submissions/"+view.Submission.ID+"/reviews", map[string]any{
		"verdicts": []map[string]string{{"observation": view.Submission.Cites[0], "kind": "confirm"}}}
	version := map[string]string{"If-Match": `"` + strconv.Itoa(view.Submission.Seq) + `"`}
	status, err = loginClient(t, first, "reviewer").send("POST", path, body, version, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	var problem struct {
		Status int    `json:"status"`
		Detail string `json:"detail"`
	}
	second := loginClient(t, other, "second")
	status, err = second.send("POST", path, body, version, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status, "what the other reviewer said makes nothing stale")
	moved := second.hears(t)
	status, err = loginClient(t, first, "reviewer").send("POST", "/submissions/"+view.Submission.ID+"/hold", nil, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	told := <-moved
	for strings.Contains(told, `"move":"opened"`) { // what was before, where the machine is busy
		told = <-moved
	}
	require.Contains(t, told, `"move":"held"`, "what one server stores is told by the other")
	status, err = member.send("POST", "/submissions/"+view.Submission.ID+"/answers", map[string]string{"text": "counted again"}, nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, status)
	status, err = second.send("POST", path, body, version, &problem)
	require.NoError(t, err)
	require.Equal(t, http.StatusPreconditionFailed, status)
	require.Contains(t, problem.Detail, "has changed since")
	requireNumbered(t, db, view.Submission.ID)
}

// hears is what the server tells of the queue, a message each; closed after half a minute. It returns when it is told.
func (c *client) hears(t *testing.T) <-chan string {
	t.Helper()
	request, err := http.NewRequest(http.MethodGet, strings.TrimSuffix(c.base, "/api/v1")+"/queue/live", nil)
	require.NoError(t, err)
	request.Header.Set("Authorization", "Bearer "+c.token)
	response, err := c.http.Do(request)
	require.NoError(t, err)
	require.Equal(t, http.StatusOK, response.StatusCode)
	t.Cleanup(func() { response.Body.Close() })
	messages, scanner := make(chan string, 99), bufio.NewScanner(response.Body)
	require.True(t, scanner.Scan())
	time.Sleep(2 * time.Second) // the other process looks where the queue stands when the first one listens
	go func() {
		defer close(messages)
		for scanner.Scan() {
			if strings.HasPrefix(scanner.Text(), "data") {
				messages <- scanner.Text()
			}
		}
	}()
	return messages
}

// requireNumbered requires that one of the servers gives everything that was stored of a submission its position.
func requireNumbered(t *testing.T, db *models.DB, id string) {
	t.Helper()
	stored, err := db.Events(t.Context(), review.SubmissionStream(id))
	require.NoError(t, err)
	require.Eventually(t, func() bool {
		events, err := db.EventsAfter(t.Context(), 0, 1000)
		return err == nil && slices.ContainsFunc(events, func(e review.Placed) bool {
			return e.Stream == review.SubmissionStream(id) && e.Seq == len(stored)
		})
	}, modelstest.Patience, 20*time.Millisecond)
}

// TestStopsWhenTold: the program ends by itself on SIGINT, with code 0.
func TestStopsWhenTold(t *testing.T) {
	t.Parallel()
	p := startProgram(t, "serve", "--insecure", "--data", newClub(t), "--addr", "127.0.0.1:0")
	stop(t, p)
}

// TestBoundsForOneAddressAreSet: what the flags say is what one address may have.
func TestBoundsForOneAddressAreSet(t *testing.T) {
	t.Parallel()
	club := newClub(t)
	refused := runHere(t, "", "serve", "--data", club, "--addr", "127.0.0.1:0", "--bodies-per-address", "0")
	require.Equal(t, 1, refused.code)
	require.Contains(t, refused.err, "--bodies-per-address, --uploads-per-minute and --drafts-per-minute must be at least 1")
	p := startProgram(t, "serve", "--insecure", "--data", club, "--addr", "127.0.0.1:0", "--connections-per-address", "2")
	answered := func() bool {
		conn, err := net.Dial("tcp", strings.TrimPrefix(p.address, "http://"))
		require.NoError(t, err)
		t.Cleanup(func() { conn.Close() })
		require.NoError(t, conn.SetDeadline(time.Now().Add(30*time.Second)))
		if _, err := io.WriteString(conn, "GET /healthz HTTP/1.1\r\nHost: a\r\n\r\n"); err != nil {
			return false
		}
		_, err = http.ReadResponse(bufio.NewReader(conn), nil)
		return err == nil
	}
	require.Equal(t, []bool{true, true, false}, []bool{answered(), answered(), answered()})
}
