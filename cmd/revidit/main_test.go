package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// runAsProgram makes the test binary the program itself, so that a test can start, stop and kill the real thing.
const runAsProgram = "REVIDIT_TEST_RUN_AS_PROGRAM"

func TestMain(m *testing.M) {
	cheapPasswords = true
	if os.Getenv(runAsProgram) != "" {
		main()
		return
	}
	if err := os.Setenv(runAsProgram, "1"); err != nil { // for whatever is started of it, by a test or by a command
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
	code := modelstest.Main(m)
	chromium.stop()
	for _, err := range []error{madeUp.stop(), os.RemoveAll(firstClub.folder)} {
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			code = 1
		}
	}
	os.Exit(code)
}

// program is a started revidit.
type program struct {
	cmd     *exec.Cmd
	address string // http://host:port
}

// startProgram starts a command that serves, waits until it listens, and stops it at the end of the test.
func startProgram(t *testing.T, args ...string) *program {
	t.Helper()
	p := launch(t, args...)
	t.Cleanup(func() {
		if p.cmd.ProcessState == nil {
			_ = p.cmd.Process.Kill() // it may have ended by itself in between
			_ = p.cmd.Wait()
		}
	})
	return p
}

// launch starts a command that serves, and waits until it listens; whoever calls it ends it.
func launch(t *testing.T, args ...string) *program {
	t.Helper()
	cmd := exec.Command(os.Args[0], args...)
	var errors bytes.Buffer
	cmd.Stderr = &errors
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if _, address, found := strings.Cut(lines.Text(), "listening on "); found {
			go func() {
				for lines.Scan() { // a full pipe would hold the program up
				}
			}()
			return &program{cmd: cmd, address: address}
		}
	}
	_ = cmd.Process.Kill() // it has said what is wrong
	_ = cmd.Wait()
	require.Failf(t, "the program did not listen", "%v\n%s", args, errors.String())
	return nil
}

// stop ends a program as its operator would and waits until it has ended without an error.
func stop(t *testing.T, p *program) {
	t.Helper()
	require.NoError(t, p.cmd.Process.Signal(os.Interrupt))
	require.NoError(t, p.cmd.Wait())
}

// newClub makes a data folder with a migrated database and four people whose password is testPassword. Nobody is drawn to
// look blind, so that a test can foresee what is asked of whom. It is a copy of one that is made once: hashing four
// passwords takes seconds where each step is watched.
func newClub(t *testing.T) string {
	t.Helper()
	data := filepath.Join(t.TempDir(), "club")
	firstClub.Lock()
	defer firstClub.Unlock()
	if firstClub.folder == "" {
		folder, err := os.MkdirTemp("", "revidit-club-")
		require.NoError(t, err)
		makeClub(t, filepath.Join(folder, "club"))
		firstClub.folder = folder
	}
	require.NoError(t, os.CopyFS(data, os.DirFS(filepath.Join(firstClub.folder, "club"))))
	require.NoError(t, filepath.WalkDir(data, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		return os.Chmod(path, 0o600) // a key that others can read is refused
	}))
	return data
}

// firstClub is what newClub copies; folder is empty until it was made.
var firstClub struct {
	sync.Mutex
	folder string
}

func makeClub(t *testing.T, data string) {
	t.Helper()
	require.Equal(t, 0, runHere(t, "", "migrate", "--data", data).code)
	for login, role := range map[string]string{"member": "member", "reviewer": "reviewer", "second": "reviewer", "curator": "curator"} {
		added := runHere(t, testPassword+"\n", "user", "add", "--data", data, "--role", role, login, "Test "+login)
		require.Equal(t, 0, added.code, added.err)
	}
	db := openClub(t, data)
	drawNobody(t, db)
	require.NoError(t, db.Close())
}

// drawNobody stores a policy without blind checks and rechecks, by which two who agree settle a name.
func drawNobody(t *testing.T, db *models.DB) {
	t.Helper()
	policy := review.DefaultPolicy()
	policy.Version, policy.Reviewers, policy.OneSuffices, policy.BlindRate, policy.RecheckRate = 1, 2, false, 0, 0
	set := review.Event{Stream: review.PolicyStream, Seq: 1, At: time.Now(), Actor: "curator", Role: review.RoleCurator, Change: &review.PolicySet{Policy: policy}}
	require.NoError(t, db.Commit(t.Context(), review.Batch{Events: []review.Event{set}, Policy: &policy}))
}

const testPassword = "a password for tests"

type ran struct {
	code     int
	out, err string
}

// runHere runs a command in this process.
func runHere(t *testing.T, stdin string, args ...string) ran {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	var out, errs bytes.Buffer
	code := run(ctx, args, console{in: strings.NewReader(stdin), out: &out, err: &errs})
	return ran{code: code, out: out.String(), err: errs.String()}
}

func TestCommandLineErrors(t *testing.T) {
	mistyped := runHere(t, "", "asess")
	require.Equal(t, 2, mistyped.code)
	require.Contains(t, mistyped.err, "assess")
	require.Equal(t, 0, runHere(t, "", "--help").code)
	version := runHere(t, "", "--version")
	require.Equal(t, 0, version.code)
	require.Equal(t, "0.1.0-dev\n", version.out)
}

func TestAssessCommand(t *testing.T) {
	good := `{"id":"1","family":"Elateridae","observations":{"prosternal-process":"click-spine","antenna-form":"serrate","pronotum-hind-corners":"pointed"}}` + "\n"
	result := runHere(t, good, "assess")
	require.Equal(t, 0, result.code, result.err)
	require.Contains(t, result.out, `"contradictions":[]`)
	mixed := runHere(t, "not json\n"+good, "assess")
	require.Equal(t, 1, mixed.code)
	require.Contains(t, mixed.err, "1 line could not be assessed")
	require.Equal(t, 2, strings.Count(mixed.out, "\n"), "the run goes on")
}

func TestLintCommand(t *testing.T) {
	require.Equal(t, 0, runHere(t, "", "lint").code)
	broken := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(broken, "group.yaml"), []byte("grup: x\n"), 0o600))
	result := runHere(t, "", "lint", "--tables", broken)
	require.Equal(t, 1, result.code)
	require.Contains(t, result.out, "group.yaml:1:")
	served := runHere(t, "", "assess", "--tables", broken)
	require.Equal(t, 1, served.code)
	require.Contains(t, served.err, "revidit tables check")
}

func TestTablesCheckIsLint(t *testing.T) {
	for _, args := range [][]string{{}, {"--sources"}, {"--tables", smallTables(t, ""), "--pairs", "--strict"}} {
		check, lint := runHere(t, "", append([]string{"tables", "check"}, args...)...), runHere(t, "", append([]string{"lint"}, args...)...)
		require.Equal(t, check, lint)
		require.NotEmpty(t, check.out)
	}
}

// TestAMistypedFolderMakesNothing: only migrate and demo begin a club.
func TestAMistypedFolderMakesNothing(t *testing.T) {
	t.Parallel()
	mistyped, foreign := filepath.Join(t.TempDir(), "clbu"), t.TempDir()
	for _, args := range [][]string{{"serve", "--addr", "127.0.0.1:0"}, {"user", "list"}, {"user", "add", "somebody", "Somebody"},
		{"tables", "list"}, {"rebuild"}, {"user", "erase", "somebody", "--yes", "--reason", "asked for it"}, {"refit", "--as", "curator"}, {"reassess", "--as", "curator"}} {
		for _, data := range []string{mistyped, foreign} {
			refused := runHere(t, testPassword+"\n", append(args, "--data", data)...)
			require.Equal(t, 1, refused.code, args)
			require.Contains(t, refused.err, "Nothing was made")
			require.Contains(t, refused.err, "revidit migrate --data "+data)
		}
	}
	require.NoDirExists(t, mistyped)
	there, err := os.ReadDir(foreign)
	require.NoError(t, err)
	require.Empty(t, there)
}

func TestATakenPortIsToldBeforeAnythingIsMade(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	data := filepath.Join(t.TempDir(), "demo")
	refused := runHere(t, "", "demo", "--data", data, "--addr", taken.Addr().String())
	require.Equal(t, 1, refused.code)
	require.Contains(t, refused.err, "--addr")
	require.NotContains(t, refused.err, "Drawing")
	require.NoDirExists(t, data)
}

func TestServeRefusesASchemaThatIsBehind(t *testing.T) {
	data := filepath.Join(t.TempDir(), "club")
	require.NoError(t, os.Mkdir(data, 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(data, "revidit.sqlite"), nil, 0o600))
	refused := runHere(t, "", "serve", "--data", data, "--addr", "127.0.0.1:0")
	require.Equal(t, 1, refused.code)
	require.Contains(t, refused.err, "revidit migrate")
}

func TestUsers(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	list := runHere(t, "", "user", "list", "--data", data)
	require.Equal(t, 0, list.code, list.err)
	require.Equal(t, 4, strings.Count(list.out, "\n"))
	taken := runHere(t, testPassword+"\n", "user", "add", "--data", data, "member", "Somebody Else")
	require.Equal(t, 1, taken.code)
	short := runHere(t, "short\n", "user", "add", "--data", data, "other", "Somebody Else")
	require.Equal(t, 1, short.code)
	for _, args := range [][]string{{}, {"--reason", " "}} {
		why := runHere(t, "", append([]string{"user", "role", "--data", data, "member", "reviewer"}, args...)...)
		require.Equal(t, 2, why.code)
		require.Contains(t, why.err, "reason")
	}
	require.Equal(t, 0, runHere(t, "", "user", "role", "--reason", "a test", "--data", data, "member", "reviewer").code)
	require.Equal(t, 0, runHere(t, "", "user", "disable", "--reason", "a test", "--data", data, "second").code)
	list = runHere(t, "", "user", "list", "--data", data)
	require.Regexp(t, `member\s+reviewer`, list.out)
	require.Regexp(t, `second\s+reviewer.*disabled`, list.out)
	unknown := runHere(t, "", "user", "role", "--reason", "a test", "--data", data, "nobody", "curator")
	require.Equal(t, 1, unknown.code)
}

func TestEnableAndErase(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	user := func(args ...string) ran {
		return runHere(t, "", append([]string{"user"}, append(args, "--data", data)...)...)
	}
	require.Equal(t, 0, user("disable", "--reason", "a test", "second").code)
	require.Regexp(t, `second.*disabled`, user("list").out)
	enabled := user("enable", "--reason", "a test", "SECOND")
	require.Equal(t, 0, enabled.code, enabled.err)
	require.NotContains(t, user("list").out, "disabled")
	require.Equal(t, 1, user("enable", "--reason", "a test", "nobody").code)

	asked := user("erase", "second")
	require.Equal(t, 1, asked.code)
	require.Contains(t, asked.err, "run it again with --yes")
	require.Contains(t, asked.out, "the name (Test second)")
	require.Contains(t, asked.out, "What stays")
	require.NotContains(t, asked.out, "Mind")
	require.Contains(t, user("list").out, "second", "nothing was erased")
	require.Contains(t, user("erase", "curator").out, "Mind: this is the only curator")

	require.NotEqual(t, 0, user("erase", "second", "--yes").code, "not without a reason")
	require.Contains(t, user("list").out, "second", "nothing was erased")
	erased := user("erase", "second", "--yes", "--reason", "asked for it")
	require.Equal(t, 0, erased.code, erased.err)
	require.NotContains(t, user("list").out, "second")
	require.Contains(t, asked.out, "Slips of paper under specimens keep the name")
	require.Equal(t, 1, user("erase", "second", "--yes", "--reason", "asked for it").code, "there is none any more")
	requireErasedProof(t, data)
	again := runHere(t, testPassword+"\n", "user", "add", "--data", data, "second", "Somebody Else")
	require.Equal(t, 0, again.code, "the login is free again: %s", again.err)
}

func TestPasswordsThatAreRefused(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	for password, words := range map[string]string{"eleven char": "at least 12 letters", "member-member": "must not be the login", "Password2026!": "commonest"} {
		refused := runHere(t, password+"\n", "user", "password", "--data", data, "member")
		require.Equal(t, 1, refused.code)
		require.Contains(t, refused.err, words)
	}
}

func openClub(t *testing.T, data string) *models.DB {
	t.Helper()
	db, err := placeFlags{Data: data}.open(t.Context())
	require.NoError(t, err)
	return db
}

// requireErasedProof: of somebody who was erased an export has a pseudonym, says so, and holds.
func requireErasedProof(t *testing.T, data string) {
	t.Helper()
	file := filepath.Join(t.TempDir(), "history.jsonl")
	exported := runHere(t, "", "export", file, "--data", data)
	require.Equal(t, 0, exported.code, exported.err)
	require.Contains(t, exported.out, "Slips of paper under specimens keep the name")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	head, events, _ := strings.Cut(string(text), "\n")
	require.Contains(t, head, "pseudonyms")
	require.Contains(t, events, "person-erased")
	for _, personal := range []string{"second", "Second Person"} {
		require.NotContains(t, events, personal)
	}
	key := regexp.MustCompile(`--key (\S+)`).FindStringSubmatch(exported.out)[1]
	verified := runHere(t, "", "verify", file, "--key", key)
	require.Equal(t, 0, verified.code, verified.err+verified.out)
}
