package main

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/blob"
	"revidit/models/modelstest"
	"revidit/review/proof"
	"revidit/review/service"
)

// TestBackupWhilePeopleSubmit copies a club while people submit, on both databases, and restores the copy: every act that was
// acknowledged before the copy began is there, every row is what the events make it, and every photo is what it was.
func TestBackupWhilePeopleSubmit(t *testing.T) {
	t.Parallel()
	for name, place := range map[string]func(t *testing.T) (from, empty []string){
		"SQLite": func(t *testing.T) (from, empty []string) {
			return []string{"--data", newClub(t)}, []string{"--data", filepath.Join(t.TempDir(), "restored")}
		},
		"Postgres": func(t *testing.T) (from, empty []string) {
			return []string{"--data", t.TempDir(), "--database", modelstest.EmptyPostgresURL(t)},
				[]string{"--data", filepath.Join(t.TempDir(), "restored"), "--database", modelstest.EmptyPostgresURL(t)}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			from, empty := place(t)
			with := func(where []string, command string, more ...string) []string {
				return append(append([]string{command}, where...), more...)
			}
			if name == "Postgres" {
				require.Equal(t, 0, runHere(t, "", with(from, "migrate")...).code)
				added := runHere(t, testPassword+"\n", append([]string{"user", "add"}, append(from, "member", "Test member")...)...)
				require.Equal(t, 0, added.code, added.err)
			}
			p := startProgram(t, with(from, "serve", "--insecure", "--addr", "127.0.0.1:0")...)
			member := loginClient(t, p, "member")
			stop, acknowledged := submitOn(t, member)
			require.Eventually(t, func() bool { return len(acknowledged()) > 2 }, modelstest.Patience, 10*time.Millisecond)

			before, copies, keys := acknowledged(), t.TempDir(), filepath.Join(t.TempDir(), "keys")
			made := runHere(t, "", with(from, "backup", "--keys", keys, copies)...)
			require.Equal(t, 0, made.code, made.err)
			require.Eventually(t, func() bool { return len(acknowledged()) > len(before) }, modelstest.Patience, 10*time.Millisecond, "acts went on")
			stop()
			one := onlyCopy(t, copies)
			require.Regexp(t, `holds \d+ events and \d+ files of photos`, made.out)

			private, err := proof.NewKey("another.club")
			require.NoError(t, err)
			another, err := proof.NewSigner(private)
			require.NoError(t, err)
			refused := runHere(t, "", with(empty, "restore", "--key", another.Public(), one)...)
			require.Equal(t, 1, refused.code)
			require.Contains(t, refused.err, "the history of the copy")
			if name == "Postgres" {
				require.Contains(t, refused.err, "emptied again, and nothing was restored")
			}
			require.NoDirExists(t, empty[1])
			restored := runHere(t, "", with(empty, "restore", "--keys", keys, "--digest", digestIn(t, made.out), one)...)
			require.Equal(t, 0, restored.code, restored.err)
			rebuilt := runHere(t, "", with(empty, "rebuild")...)
			require.Equal(t, 0, rebuilt.code, rebuilt.err)
			require.Contains(t, rebuilt.out, "Every row is what the events make it.")

			key := publicKey(t, with(empty, "export", filepath.Join(t.TempDir(), "history.jsonl"))...)
			requireSigned(t, from, key, keys)

			flags := placeFlags{Data: empty[1]}
			if len(empty) > 2 {
				flags.Database = empty[3]
			}
			requireSubmissions(t, flags, before)
			again := startProgram(t, with(empty, "serve", "--insecure", "--addr", "127.0.0.1:0")...)
			require.Equal(t, http.StatusUnauthorized, answerTo(t, again, member.token), "logins have ended")
			whose := loginClient(t, again, "member")
			whose.upload(t, drawnPicture(t, "whole-above"))
			whole := runHere(t, "", with(empty, "restore", one)...)
			require.Equal(t, 1, whole.code)
			require.Contains(t, whole.err, "is not empty. Nothing was restored")
		})
	}
}

func digestIn(t *testing.T, said string) string {
	t.Helper()
	found := regexp.MustCompile(`Its digest is ([0-9a-f]{64})`).FindStringSubmatch(said)
	require.Len(t, found, 2, said)
	return found[1]
}

func onlyCopy(t *testing.T, folder string) string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	require.Len(t, entries, 1)
	return filepath.Join(folder, entries[0].Name())
}

func answerTo(t *testing.T, p *program, token string) int {
	t.Helper()
	c := client{base: p.address + "/api/v1", token: token, http: http.Client{Timeout: 30 * time.Second}}
	status, err := c.send("GET", "/submissions", nil, nil, nil)
	require.NoError(t, err)
	return status
}

// submitOn submits until it is told to stop.
func submitOn(t *testing.T, member *client) (stop func(), acknowledged func() []string) {
	picture := drawnPicture(t, "whole-below")
	var over atomic.Bool
	var lock sync.Mutex
	var group sync.WaitGroup
	var ids []string
	group.Go(func() {
		for n := 0; !over.Load(); n++ {
			var view struct {
				Submission struct {
					ID string `json:"id"`
				} `json:"submission"`
			}
			status, err := member.send("POST", "/submissions", clickBeetle(fmt.Sprint("B-", n), member.upload(t, picture)), nil, &view)
			if err != nil || status != http.StatusCreated {
				return
			}
			lock.Lock()
			ids = append(ids, view.Submission.ID)
			lock.Unlock()
		}
	})
	stop = func() { over.Store(true); group.Wait() }
	return stop, func() []string {
		lock.Lock()
		defer lock.Unlock()
		return append([]string{}, ids...)
	}
}

func requireSubmissions(t *testing.T, flags placeFlags, ids []string) {
	t.Helper()
	db, err := flags.open(t.Context())
	require.NoError(t, err)
	defer db.Close()
	for _, id := range ids {
		_, err := db.Submission(t.Context(), id)
		require.NoError(t, err, "acknowledged before the copy began: %s", id)
	}
}

// aPhoto is a club with a photo in its folder that a specimen has not.
func aPhoto(t *testing.T) (data, digest string) {
	t.Helper()
	data, digest = newClub(t), fmt.Sprintf("%064x", 7)
	photos, err := blob.OpenDir(photoFolder(data))
	require.NoError(t, err)
	require.NoError(t, photos.Put(t.Context(), service.OriginalName(digest), []byte("the bytes of a photo")))
	require.NoError(t, photos.Close())
	return data, digest
}

func TestCopiesThatAreNotWhole(t *testing.T) {
	t.Parallel()
	data, digest := aPhoto(t)
	copies, place := t.TempDir(), filepath.Join(t.TempDir(), "restored")
	require.Equal(t, 0, runHere(t, "", "backup", "--data", data, copies).code)
	one := onlyCopy(t, copies)
	check := func(more ...string) ran {
		return runHere(t, "", append([]string{"restore", "--data", place, one}, more...)...)
	}
	whole := check("--check")
	require.Equal(t, 0, whole.code, whole.err)
	require.Contains(t, whole.out, "The copy is whole: ")
	other := check("--digest", fmt.Sprintf("%064x", 1))
	require.Equal(t, 1, other.code)
	require.Contains(t, other.err, "another copy")
	for _, name := range []string{"data/photos/" + service.OriginalName(digest), "data/database/revidit.sqlite", "data/backup.json", "manifest-sha256.txt"} {
		file := filepath.Join(one, name)
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		for what, harm := range map[string]func() error{
			"a flipped bit": func() error {
				harmed := append([]byte{}, text...)
				harmed[len(harmed)/2] ^= 4
				return os.WriteFile(file, harmed, 0o600)
			},
			"its second half lost": func() error { return os.WriteFile(file, text[:len(text)/2], 0o600) },
			"lost":                 func() error { return os.Remove(file) },
		} {
			require.NoError(t, harm())
			refused := check()
			require.Equal(t, 1, refused.code, "%s: %s", name, what)
			require.Contains(t, refused.err, "Nothing was restored", "%s: %s", name, what)
			require.NoDirExists(t, place)
			require.NoError(t, os.WriteFile(file, text, 0o600))
		}
	}
	cross := runHere(t, "", "restore", "--data", place, "--database", "postgres://nobody@127.0.0.1:1/none", one)
	require.Equal(t, 1, cross.code)
	require.Contains(t, cross.err, "leave --database out")
	require.Equal(t, 0, check().code)
}

// TestCopiesGrowByWhatIsNew: what a former copy has is not written again, and each copy is whole by itself.
func TestCopiesGrowByWhatIsNew(t *testing.T) {
	t.Parallel()
	data, digest := aPhoto(t)
	copies := t.TempDir()
	var photos []os.FileInfo
	for range 2 {
		require.Equal(t, 0, runHere(t, "", "backup", "--data", data, copies).code)
	}
	entries, err := os.ReadDir(copies)
	require.NoError(t, err)
	require.Len(t, entries, 2)
	for _, e := range entries {
		info, err := os.Stat(filepath.Join(copies, e.Name(), "data", "photos", service.OriginalName(digest)))
		require.NoError(t, err)
		photos = append(photos, info)
	}
	require.True(t, os.SameFile(photos[0], photos[1]))
	require.NoError(t, os.RemoveAll(filepath.Join(copies, entries[0].Name())))
	place := filepath.Join(t.TempDir(), "restored")
	require.Equal(t, 0, runHere(t, "", "restore", "--data", place, filepath.Join(copies, entries[1].Name())).code)
	again, err := blob.OpenDir(photoFolder(place))
	require.NoError(t, err)
	defer again.Close()
	body, err := again.Open(t.Context(), service.OriginalName(digest))
	require.NoError(t, err)
	defer body.Close()
	text, err := io.ReadAll(body)
	require.NoError(t, err)
	require.Equal(t, "the bytes of a photo", string(text))
}

func TestPlacesThatACopyIsNotFor(t *testing.T) {
	t.Parallel()
	data, _ := aPhoto(t)
	copies := t.TempDir()
	for words, args := range map[string][]string{
		"lies in the club's data folder": {filepath.Join(data, "copies")},
		"not to lie among the copies":    {"--keys", filepath.Join(copies, "keys"), copies},
		"is there already":               {"--keys", keyFile(data), copies},
	} {
		refused := runHere(t, "", append([]string{"backup", "--data", data}, args...)...)
		require.Equal(t, 1, refused.code, words)
		require.Contains(t, refused.err, words)
	}
	entries, err := os.ReadDir(copies)
	require.NoError(t, err)
	require.Empty(t, entries)
}

// TestOriginalsThatAreMissingAreTold: a copy is made all the same, since the rest is worth having.
func TestOriginalsThatAreMissingAreTold(t *testing.T) {
	t.Parallel()
	data := newClub(t)
	p := startProgram(t, "serve", "--insecure", "--data", data, "--addr", "127.0.0.1:0")
	member := loginClient(t, p, "member")
	status, err := member.send("POST", "/submissions", clickBeetle("M-1", member.upload(t, drawnPicture(t, "whole-below"))), nil, nil)
	require.NoError(t, err)
	require.Equal(t, http.StatusCreated, status)
	stop(t, p)
	require.NoError(t, eachOriginal(t, data, os.Remove))
	made := runHere(t, "", "backup", "--data", data, t.TempDir())
	require.Equal(t, 0, made.code, made.err)
	require.Contains(t, made.out, "has not the original of 1 photo: ")
}

func eachOriginal(t *testing.T, data string, do func(path string) error) error {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(photoFolder(data), "*", "*-original"))
	require.NoError(t, err)
	require.NotEmpty(t, found)
	for _, path := range found {
		if err := do(path); err != nil {
			return err
		}
	}
	return nil
}

// TestACopySaysWhatItHolds: restore goes by it.
func TestACopySaysWhatItHolds(t *testing.T) {
	t.Parallel()
	for name, url := range map[string]string{"SQLite": filepath.Join(t.TempDir(), "one.sqlite"), "Postgres": modelstest.EmptyPostgresURL(t)} {
		t.Run(name, func(t *testing.T) {
			db, err := models.Open(t.Context(), url)
			require.NoError(t, err)
			defer db.Close()
			require.NoError(t, db.Migrate(t.Context()))
			modelstest.Live(t, db, 3, 20)
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			defer cancel()
			copied, err := db.CopyTo(ctx, t.TempDir())
			require.NoError(t, err)
			require.Positive(t, copied.Events)
			require.Positive(t, copied.Schema)
			require.NotEmpty(t, copied.Photos)
			_, err = db.CopyTo(ctx, filepath.Join(t.TempDir(), "missing"))
			require.Error(t, err)
			require.ErrorContains(t, db.CheckEmpty(ctx), "is not empty")
		})
	}
}
