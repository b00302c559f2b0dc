package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"io/fs"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/alexedwards/argon2id"
	"github.com/gin-gonic/gin"
	"github.com/google/uuid"
	"github.com/stretchr/testify/require"

	"revidit/auth"
	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/diagnosis"
	"revidit/review/photo/apart"
	"revidit/review/service"
)

// apiClub is a club behind the API: the real service over a real database, and photos in memory. Ada and Ben are
// members, Rita and Rolf reviewers, Cora and Carl curators.
type apiClub struct {
	t       testing.TB
	db      *models.DB
	server  *Server
	engine  *gin.Engine
	handler http.Handler
	log     *bytes.Buffer
	people  map[string]string // ids by login
	// seed is thrown when something is drawn; empty draws nobody.
	seed string
	// fixed numbers everything and stops the clock, so that two clubs in which the same was done are the same.
	fixed *fixture

	mu              sync.Mutex
	tokens, cookies map[string]string
}

const clubPassword = "a long enough password"

var clubRoles = map[string]review.Role{"ada": review.RoleMember, "ben": review.RoleMember, "rita": review.RoleReviewer,
	"rolf": review.RoleReviewer, "cora": review.RoleCurator, "carl": review.RoleCurator}

func newAPIClub(t testing.TB, options ...func(*Config, *auth.Options)) *apiClub {
	t.Helper()
	// Two made-up families: enough to submit and to contradict.
	return newAPIClubWith(t, []*diagnosis.Tables{loaded(t, smallTables())}, options...)
}

// smallTables is the folder of the group small-test-group.
func smallTables() fs.FS { return os.DirFS("../review/diagnosis/testdata/valid") }

func loaded(t testing.TB, folder fs.FS) *diagnosis.Tables {
	t.Helper()
	tables, problems := diagnosis.Load(folder)
	require.Empty(t, problems)
	return tables
}

// newAPIClubWith is a club with other tables.
func newAPIClubWith(t testing.TB, tables []*diagnosis.Tables, options ...func(*Config, *auth.Options)) *apiClub {
	t.Helper()
	return newClub(t, nil, tables, options...)
}

// fixture is what is the same in each club that has one.
type fixture struct{ made int }

// clubDay is when everything happens in a club with a fixture.
var clubDay = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

func (f *fixture) id() string {
	f.made++
	return fmt.Sprintf("id-%05d", f.made)
}

func (f *fixture) options(seed func() string) service.Options {
	// Photos are read apart by the served program; here they are drawn pictures, and a process for each costs more than all the rest.
	if f == nil {
		return service.Options{Seed: seed, Photos: apart.Here{}}
	}
	return service.Options{Seed: seed, Photos: apart.Here{}, NewID: f.id, Now: func() time.Time { return clubDay }}
}

func (f *fixture) person(login string) string {
	if f == nil {
		return uuid.NewString()
	}
	return "person-" + login
}

func newClub(t testing.TB, fixed *fixture, tables []*diagnosis.Tables, options ...func(*Config, *auth.Options)) *apiClub {
	t.Helper()
	db := modelstest.SQLite(t)
	club := &apiClub{t: t, db: db, log: &bytes.Buffer{}, tokens: map[string]string{}, cookies: map[string]string{}, people: map[string]string{}, fixed: fixed}
	config := Config{Service: service.NewService(db, &blob.Mem{}, service.NewLibrary(tables...), fixed.options(func() string { return club.seed })),
		Log: slog.New(slog.NewTextHandler(club.log, nil)), Version: "test", UploadsPerMinute: 1_000_000, DraftsPerMinute: 1_000_000}
	limits := auth.Options{Cheap: true, Limits: auth.Limits{PerAddress: auth.Limit{Burst: 1000, Every: time.Second}}}
	for _, option := range options {
		option(&config, &limits)
	}
	var err error
	config.Accounts, err = auth.NewAccounts(db, auth.MemoryKeys(), limits)
	require.NoError(t, err)
	club.server, err = newServer(config)
	require.NoError(t, err)
	club.engine, err = club.server.engine()
	require.NoError(t, err)
	club.handler, err = around(club.engine)
	require.NoError(t, err)
	for login, role := range clubRoles {
		account := auth.Account{Person: fixed.person(login), Name: "Name of " + login, Login: login, Role: role,
			PasswordHash: clubPasswordHash(), Version: 1, CreatedAt: time.Now().UTC().Truncate(time.Microsecond)}
		require.NoError(t, db.CreateAccount(t.Context(), account))
		club.people[login] = account.Person
		club.token(login)
	}
	return club
}

// linkedInStore is somebody whose account is linked with a museum's login, beside its password.
func (c *apiClub) linkedInStore(login string) {
	c.t.Helper()
	person, now := c.people[login], time.Now().UTC().Truncate(time.Microsecond)
	link := auth.ProviderLogin{Issuer: "https://museum.example", Subject: login, Person: person, MadeAt: now}
	letter := review.Letter{ID: uuid.NewString(), Person: person, Kind: review.LetterProviderLinked, MadeAt: now}
	require.NoError(c.t, c.db.LinkProvider(c.t.Context(), review.Actor{Person: person, Role: clubRoles[login]}, link, letter))
}

// clubPasswordHash is worked out once and with little memory: otherwise it would take most of the time of the tests.
var clubPasswordHash = sync.OnceValue(func() string {
	hash, err := argon2id.CreateHash(clubPassword, &argon2id.Params{Memory: 64, Iterations: 1, Parallelism: 1, SaltLength: 16, KeyLength: 32})
	if err != nil {
		panic(err)
	}
	return hash
})

// token is the login of somebody, who logs in anew where the test has forgotten it.
func (c *apiClub) token(who string) string {
	c.t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.tokens[who] == "" {
		pair, err := c.server.Accounts.LoginProgram(c.t.Context(), who, clubPassword, "", auth.Client{Address: "192.0.2.7"})
		require.NoError(c.t, err)
		c.tokens[who] = pair.Access
	}
	return c.tokens[who]
}

// cookie is the login of somebody in a browser: the one of before where it still is one, so that tests log in less often than anybody may.
func (c *apiClub) cookie(who string) string {
	c.t.Helper()
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, err := c.server.Accounts.Actor(c.t.Context(), c.cookies[who]); err != nil {
		token, _, err := c.server.Accounts.Login(c.t.Context(), who, clubPassword, "192.0.2.7")
		require.NoError(c.t, err)
		c.cookies[who] = token
	}
	return "revidit=" + c.cookies[who]
}

// reply is an answer of the API.
type reply struct {
	t      testing.TB
	status int
	header http.Header
	body   []byte
}

// call sends a request as somebody, or as nobody where who is empty. body is text as it is, or a value for JSON.
func (c *apiClub) call(who, method, path string, body any, headers ...string) *reply {
	c.t.Helper()
	var content io.Reader
	switch b := body.(type) {
	case nil:
	case string:
		content = strings.NewReader(b)
	case []byte:
		content = bytes.NewReader(b)
	default:
		text, err := json.Marshal(b)
		require.NoError(c.t, err)
		content = bytes.NewReader(text)
	}
	r := httptest.NewRequestWithContext(c.t.Context(), method, path, content)
	if content != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	if who != "" {
		r.Header.Set("Authorization", "Bearer "+c.token(who))
	}
	for i := 0; i < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	return c.send(r)
}

func (c *apiClub) send(r *http.Request) *reply {
	c.t.Helper()
	w := httptest.NewRecorder()
	c.handler.ServeHTTP(w, r)
	return &reply{t: c.t, status: w.Code, header: w.Header(), body: w.Body.Bytes()}
}

// is requires a status, and for errors the form of RFC 9457.
func (r *reply) is(status int) *reply {
	r.t.Helper()
	require.Equal(r.t, status, r.status, string(r.body))
	if status >= 400 {
		r.problem()
	}
	return r
}

// problem requires that the answer is a problem in every part, and returns it.
func (r *reply) problem() Problem {
	r.t.Helper()
	require.Equal(r.t, "application/problem+json", r.header.Get("Content-Type"), string(r.body))
	decoder := json.NewDecoder(bytes.NewReader(r.body))
	decoder.DisallowUnknownFields()
	var p Problem
	require.NoError(r.t, decoder.Decode(&p))
	// RFC 9457 section 3.1.2: the same as the status sent; 4.2.1: about:blank has the phrase of the status as title.
	require.Equal(r.t, r.status, p.Status)
	if p.Type != blindType {
		require.Equal(r.t, "about:blank", p.Type)
		require.Equal(r.t, http.StatusText(r.status), p.Title)
		require.Empty(r.t, p.Blind)
	}
	require.NotEmpty(r.t, p.Detail)
	require.Equal(r.t, "urn:uuid:"+r.header.Get("X-Request-Id"), p.Instance)
	require.Equal(r.t, "no-store", r.header.Get("Cache-Control"))
	if r.status == http.StatusBadRequest {
		require.NotEmpty(r.t, p.Errors, string(r.body))
	}
	return p
}

// fields are the names of the fields that a problem is about.
func (r *reply) fields() []string {
	r.t.Helper()
	names := []string{}
	for _, f := range r.problem().Errors {
		require.NotEmpty(r.t, f.Message)
		names = append(names, f.Field)
	}
	return names
}

func decoded[T any](r *reply) T {
	r.t.Helper()
	var v T
	require.NoError(r.t, json.Unmarshal(r.body, &v), string(r.body))
	return v
}

func (r *reply) view() service.SubmissionView {
	r.t.Helper()
	return decoded[service.SubmissionView](r)
}

// picture is a small JPEG; seed makes its bytes differ.
func picture(t testing.TB, seed int) []byte {
	t.Helper()
	img := image.NewNRGBA(image.Rect(0, 0, 40, 30))
	for i := range img.Pix {
		img.Pix[i] = uint8(i * (seed + 3))
	}
	img.Set(1, 1, color.White)
	var buffer bytes.Buffer
	require.NoError(t, jpeg.Encode(&buffer, img, nil))
	return buffer.Bytes()
}

func (c *apiClub) upload(who string) string {
	c.t.Helper()
	r := c.call(who, http.MethodPost, "/api/v1/photos", picture(c.t, 1), "Content-Type", "image/jpeg").is(http.StatusCreated)
	return decoded[Uploaded](r).Photo.ID
}

// form is a whole submission: a click beetle with five abdominal plates.
func (c *apiClub) form(who string) map[string]any {
	c.t.Helper()
	photo := c.upload(who)
	return map[string]any{
		"label":    map[string]any{"catalogue_number": "AB-1", "country": "Austria", "trip": "May trip", "storage_place": "Drawer 7"},
		"withheld": map[string]any{"locality": "A meadow", "latitude": 47.123, "longitude": 15.456},
		"family":   "Elateridae",
		"photos":   []any{map[string]any{"photo": photo, "view": "below"}},
		"observations": []any{map[string]any{"character": "ventrites", "state": "5", "photo": photo,
			"region": map[string]any{"x": 0.1, "y": 0.1, "w": 0.5, "h": 0.5}}},
	}
}

// submitted is an open submission of Ada's.
func (c *apiClub) submitted() service.SubmissionView {
	c.t.Helper()
	return c.call("ada", http.MethodPost, "/api/v1/submissions", c.form("ada")).is(http.StatusCreated).view()
}

func (c *apiClub) draft() service.SubmissionView {
	c.t.Helper()
	form := c.form("ada")
	form["draft"] = true
	return c.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
}

// doubtful is an open submission of Ada's whose plates its family never has.
func (c *apiClub) doubtful() service.SubmissionView {
	c.t.Helper()
	form := c.form("ada")
	form["observations"] = []any{map[string]any{"character": "ventrites", "state": "9"}}
	v := c.call("ada", http.MethodPost, "/api/v1/submissions", form).is(http.StatusCreated).view()
	require.NotEmpty(c.t, v.Assessment.Contradictions)
	return v
}

// policy puts one in force that settles on one agreeing reviewer.
func (c *apiClub) policy(experts map[string][]string) {
	c.t.Helper()
	c.call("cora", http.MethodPut, "/api/v1/policy", policyBody("reviewers", 1, "confidence", 0.5, "experts", experts)).is(http.StatusOK)
}

// policyBody is a whole policy, with other values for some fields: name, value, name, value.
func policyBody(more ...any) map[string]any {
	body := map[string]any{"reviewers": 2, "confidence": 0.9, "excluded_needs_reason": true, "experts": map[string]any{}, "hold_minutes": 30, "holds_at_once": 3,
		"blind_rate": 0.1, "recheck_rate": 0.05, "panel": 3, "list": map[string]any{}, "reason": "for the test"}
	for i := 0; i < len(more); i += 2 {
		body[more[i].(string)] = more[i+1]
	}
	return body
}

var agrees = map[string]any{"opinion": map[string]any{"kind": "agrees", "basis": "photos"}}

func at(v service.SubmissionView, rest string) string {
	return "/api/v1/submissions/" + v.Submission.ID + rest
}
