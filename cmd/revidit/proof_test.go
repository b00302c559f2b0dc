package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
)

// publicKey exports a history and returns the key that the program names.
func publicKey(t *testing.T, export ...string) string {
	t.Helper()
	made := runHere(t, "", export...)
	require.Equal(t, 0, made.code, made.err)
	found := regexp.MustCompile(`--key (\S+)`).FindStringSubmatch(made.out)
	require.Len(t, found, 2, made.out)
	checked := runHere(t, "", "verify", "--key", found[1], export[len(export)-1])
	require.Equal(t, 0, checked.code, checked.out+checked.err)
	require.Regexp(t, `All \d+ events are what was signed\.`, checked.out)
	return found[1]
}

// requireSigned: the club that was copied signs by the same key as the restored one, which stands in the file of keys.
func requireSigned(t *testing.T, from []string, key, keys string) {
	t.Helper()
	require.Equal(t, key, publicKey(t, append(append([]string{"export"}, from...), filepath.Join(t.TempDir(), "history.jsonl"))...))
	text, err := os.ReadFile(keys)
	require.NoError(t, err)
	require.Contains(t, string(text), "checkpoints PRIVATE+KEY+revidit/")
}

func register(t *testing.T, db *models.DB, ids ...string) {
	t.Helper()
	for _, id := range ids {
		w := review.NewWriter(review.Moment{Now: time.Now(), Actor: review.Actor{Person: "ada", Role: review.RoleMember}})
		require.NoError(t, w.Specimen(&review.Specimen{}, &review.SpecimenRegistered{ID: id}))
		require.NoError(t, db.Commit(t.Context(), w.Finished()))
	}
}

// TestTheHistoryIsProved goes the way of somebody who keeps a history in mind: exports, checks, and finds what was altered.
func TestTheHistoryIsProved(t *testing.T) {
	t.Parallel()
	for name, place := range map[string]func(t *testing.T) placeFlags{
		"SQLite": func(t *testing.T) placeFlags { return placeFlags{Data: t.TempDir()} },
		"Postgres": func(t *testing.T) placeFlags {
			return placeFlags{Data: t.TempDir(), Database: modelstest.EmptyPostgresURL(t)}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at := place(t)
			where := []string{"--data", at.Data, "--database", at.Database}
			with := func(command ...string) ran { return runHere(t, "", append(command, where...)...) }
			require.Equal(t, 0, with("migrate").code)
			db, err := at.open(t.Context())
			require.NoError(t, err)
			defer db.Close()
			register(t, db, "s1", "s2", "s3", "s4", "s5")

			folder := t.TempDir()
			file := func(name string) string { return filepath.Join(folder, name) }
			first := with("export", file("first.jsonl"), "--leaves", file("leaves"))
			require.Equal(t, 0, first.code, first.err)
			require.Contains(t, first.out, "first.jsonl holds 5 events.")
			key := regexp.MustCompile(`--key (\S+)`).FindStringSubmatch(first.out)[1]
			require.Equal(t, 1, with("export", file("first.jsonl")).code, "no file is replaced")
			require.NoError(t, os.WriteFile(file("key"), []byte(key+"\n"), 0o600))
			newest, err := db.NewestCheckpoint(t.Context())
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(file("checkpoint"), []byte(newest.Signed), 0o600))

			proved := with("prove", "event", "3")
			require.Equal(t, 0, proved.code, proved.err)
			require.NoError(t, os.WriteFile(file("three"), []byte(proved.out), 0o600))
			checked := runHere(t, "", "verify", file("three"), "--key", file("key"))
			require.Equal(t, 0, checked.code, checked.err)
			require.Contains(t, checked.out, "Event 1 of specimen/s3, specimen-registered by ada (member)")
			require.Contains(t, checked.out, "stands at position 3 of the 5 events")
			require.Equal(t, 1, with("prove", "event", "6").code)

			register(t, db, "s6", "s7")
			grown := with("prove", "growth", file("checkpoint"))
			require.Equal(t, 0, grown.code, grown.err)
			require.NoError(t, os.WriteFile(file("grown"), []byte(grown.out), 0o600))
			checked = runHere(t, "", "verify", file("grown"), "--key", key, "--checkpoint", file("checkpoint"))
			require.Equal(t, 0, checked.code, checked.err)
			require.Contains(t, checked.out, "The history of 7 events begins with the 5 events of the former checkpoint, unaltered.")
			require.Contains(t, runHere(t, "", "verify", file("grown"), "--key", key).err, "--checkpoint")

			second := with("export", file("second.jsonl"))
			require.Equal(t, 0, second.code, second.err)
			text, err := os.ReadFile(file("second.jsonl"))
			require.NoError(t, err)
			verify := func(changed string, more ...string) ran {
				t.Helper()
				name := file(fmt.Sprint("changed-", len(changed), len(more)))
				require.NoError(t, os.WriteFile(name, []byte(changed), 0o600))
				return runHere(t, "", append([]string{"verify", name, "--key", key}, more...)...)
			}
			whole := verify(string(text), "--checkpoint", file("checkpoint"), "--leaves", file("leaves"))
			require.Equal(t, 0, whole.code, whole.out+whole.err)
			altered := strings.Replace(string(text), `"position":2,`, `"position":22,`, 1)
			said := verify(altered)
			require.Equal(t, 1, said.code)
			require.Contains(t, said.out, "Between positions 1 to 5 something was altered, added or removed")
			said = verify(altered, "--leaves", file("leaves"))
			require.Equal(t, 1, said.code)
			require.Contains(t, said.out, `The event at position 2 was altered; the file has event 1 of "specimen/s2" there`)
			later := verify(strings.Replace(string(text), `"position":6,`, `"position":66,`, 1))
			require.Contains(t, later.out, "events 1 to 5 are what was signed.\nBetween positions 6 to 7 something was")
			require.Equal(t, 1, verify(proved.out[:len(proved.out)/2]).code)
			strange := runHere(t, "", "verify", file("second.jsonl"), "--key", "other+00000000+AAAA")
			require.Equal(t, 1, strange.code)
			require.Contains(t, strange.err, "no public key")
		})
	}
}
