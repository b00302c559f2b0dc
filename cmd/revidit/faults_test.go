package main

import (
	"cmp"
	"fmt"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"revidit/models"
	"revidit/models/modelstest"
	"revidit/review"
	"revidit/review/service"
)

// killsWanted is how often the program is killed on each database: few in deploy/check.sh, 300 in deploy/faults.sh.
func killsWanted(t *testing.T) int {
	text := os.Getenv("REVIDIT_KILLS")
	if text == "" {
		return 3
	}
	kills, err := strconv.Atoi(text)
	require.NoError(t, err)
	return kills
}

// TestKillsUnderLoad kills the program (SIGKILL) at random points while people upload and submit. In the end everything that was
// acknowledged is there, nothing is there by half, the history is what was signed and every row is what the events make it.
func TestKillsUnderLoad(t *testing.T) {
	t.Parallel()
	for name, place := range map[string]func(t *testing.T) placeFlags{
		"SQLite": func(t *testing.T) placeFlags { return placeFlags{Data: newClub(t)} },
		"Postgres": func(t *testing.T) placeFlags {
			at := placeFlags{Data: filepath.Join(t.TempDir(), "club"), Database: modelstest.EmptyPostgresURL(t)}
			require.Equal(t, 0, runHere(t, "", "migrate", "--data", at.Data, "--database", at.Database).code)
			added := runHere(t, testPassword+"\n", "user", "add", "--data", at.Data, "--database", at.Database, "member", "Test member")
			require.Equal(t, 0, added.code, added.err)
			return at
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			k := &killing{at: place(t), kills: killsWanted(t), dice: rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 1)), picture: drawnPicture(t, "whole-below")}
			for range k.kills {
				k.round(t)
			}
			lost, half := k.count(t)
			verify := "ok"
			if said := k.broken(t); said != "" {
				verify = "broken"
				t.Log(said)
			}
			fmt.Printf("faults %s kills=%d acknowledged=%d lost=%d half=%d verify=%s\n", name, k.kills, len(k.acknowledged)+len(k.corrected), lost, half, verify)
			require.NotEmpty(t, k.acknowledged)
			require.Zero(t, lost)
			require.Zero(t, half)
			require.Equal(t, "ok", verify)
		})
	}
}

// killing is a club whose program is killed again and again.
type killing struct {
	at       placeFlags
	kills    int
	dice     *rand.Rand
	picture  []byte
	token    string // a login outlives the program
	loggedIn time.Time
	number   int

	mu           sync.Mutex
	acknowledged []string // submissions
	specimen     string   // of the first of them
	corrected    []string // reasons of corrections of its label that were acknowledged
}

func (k *killing) with(command ...string) []string {
	return append(command, "--data", k.at.Data, "--database", k.at.Database)
}

// longestLife is how long a program lives at most before it is killed; most of the points lie in the first half second, where it
// begins and jobs wake up.
const longestLife = 2 * time.Second

func (k *killing) round(t *testing.T) {
	p := startProgram(t, k.with("serve", "--insecure", "--uploads-per-minute", "100000", "--drafts-per-minute", "100000", "--addr", "127.0.0.1:0")...)
	if time.Since(k.loggedIn) > 5*time.Minute { // a token of a program lasts a quarter of an hour
		k.token, k.loggedIn = loginClient(t, p, "member").token, time.Now()
	}
	var people sync.WaitGroup
	photos := make(chan string, 3)
	people.Go(func() { k.uploadUntilGone(p.address, photos) })
	for range 3 {
		k.number++
		prefix := fmt.Sprint("K-", k.number)
		people.Go(func() { k.submitUntilGone(p.address, prefix, photos) })
	}
	if specimen := k.specimen; specimen != "" {
		prefix := fmt.Sprint("L-", k.number)
		people.Go(func() { k.correctUntilGone(p.address, prefix, specimen) })
	}
	life := time.Duration(k.dice.Float64() * k.dice.Float64() * float64(longestLife))
	if k.number <= 3 { // the first one: something is acknowledged, however few kills there are
		require.Eventually(t, func() bool { k.mu.Lock(); defer k.mu.Unlock(); return len(k.acknowledged) > 0 }, modelstest.Patience, 10*time.Millisecond)
	}
	time.Sleep(life)
	require.NoError(t, p.cmd.Process.Kill())
	require.Error(t, p.cmd.Wait())
	people.Wait()
}

func (k *killing) client(address string) *client {
	return &client{base: address + "/api/v1", token: k.token, http: http.Client{Timeout: 10 * time.Second}}
}

// uploadUntilGone uploads until there is no answer any more: one photo of a person at a time.
func (k *killing) uploadUntilGone(address string, photos chan<- string) {
	defer close(photos)
	for c := k.client(address); ; {
		photo, status, err := c.tryUpload(k.picture)
		if err != nil {
			return
		}
		if status == http.StatusCreated {
			photos <- photo
		}
	}
}

// submitUntilGone submits what was uploaded. What is uploaded when nobody answers any more is let go.
func (k *killing) submitUntilGone(address, prefix string, photos <-chan string) {
	c, n, gone := k.client(address), 0, false
	for photo := range photos {
		if gone {
			continue
		}
		n++
		var view struct {
			Submission struct {
				ID       string `json:"id"`
				Specimen string `json:"specimen"`
			} `json:"submission"`
		}
		status, err := c.send("POST", "/submissions", clickBeetle(fmt.Sprint(prefix, "-", n), photo), nil, &view)
		if gone = err != nil; !gone && status == http.StatusCreated {
			k.mu.Lock()
			k.acknowledged = append(k.acknowledged, view.Submission.ID)
			k.specimen = cmp.Or(k.specimen, view.Submission.Specimen)
			k.mu.Unlock()
		}
	}
}

// correctUntilGone corrects one label over and over: an act of a few milliseconds, so that hardly any kill falls between two.
func (k *killing) correctUntilGone(address, prefix, specimen string) {
	c := k.client(address)
	for n := 0; ; n++ {
		reason := fmt.Sprint(prefix, "-", n)
		status, err := c.send("PUT", "/specimens/"+specimen+"/label", map[string]any{"label": map[string]any{"catalogue_number": reason}, "withheld": map[string]any{}, "reason": reason}, nil, nil)
		if err != nil {
			return
		}
		if status == http.StatusOK {
			k.mu.Lock()
			k.corrected = append(k.corrected, reason)
			k.mu.Unlock()
		}
	}
}

// lostCorrections is how many acknowledged corrections no event tells of.
func (k *killing) lostCorrections(t *testing.T, db *models.DB) (lost int) {
	events, err := db.Events(t.Context(), review.SpecimenStream(k.specimen))
	require.NoError(t, err)
	told := map[string]bool{}
	for _, e := range events {
		if c, ok := e.Change.(*review.LabelCorrected); ok {
			told[c.Reason] = true
		}
	}
	for _, reason := range k.corrected {
		if !told[reason] {
			t.Log("lost:", reason)
			lost++
		}
	}
	return lost
}

// count is how many acknowledged submissions are missing, and how many are there by half: without their specimen, their
// assessment, or otherwise than their events make them.
func (k *killing) count(t *testing.T) (lost, half int) {
	db, err := k.at.open(t.Context())
	require.NoError(t, err)
	defer db.Close()
	for _, id := range k.acknowledged {
		if _, err := db.Submission(t.Context(), id); err != nil {
			t.Log("lost:", id, err)
			lost++
		}
	}
	lost += k.lostCorrections(t, db)
	for cursor := ""; ; {
		lines, next, err := db.FindSubmissions(t.Context(), service.SubmissionFilter{}, service.Page{Size: 200, Cursor: cursor})
		require.NoError(t, err)
		for _, l := range lines {
			if err := wholeSubmission(t, db, l.ID); err != nil {
				t.Log("half:", l.ID, err)
				half++
			}
		}
		if next == "" {
			return lost, half
		}
		cursor = next
	}
}

func wholeSubmission(t *testing.T, db *models.DB, id string) error {
	stored, err := db.Submission(t.Context(), id)
	if err != nil {
		return err
	}
	events, err := db.Events(t.Context(), review.SubmissionStream(id))
	if err != nil {
		return err
	}
	replayed, err := review.ReplaySubmission(events)
	if err != nil {
		return err
	}
	if replayed.Seq != stored.Seq || replayed.Status != stored.Status || stored.Status != review.StatusOpen || stored.Assessment == nil {
		return fmt.Errorf("stored as %s at event %d, events make it %s at %d", stored.Status, stored.Seq, replayed.Status, replayed.Seq)
	}
	_, err = db.Specimen(t.Context(), stored.Specimen)
	return err
}

// broken is what is wrong with the history or the rows; empty where nothing is.
func (k *killing) broken(t *testing.T) string {
	file := filepath.Join(t.TempDir(), "history.jsonl")
	made := runHere(t, "", k.with("export", file)...)
	key := regexp.MustCompile(`--key (\S+)`).FindStringSubmatch(made.out)
	if made.code != 0 || key == nil {
		return "export: " + made.out + made.err
	}
	checked := runHere(t, "", "verify", file, "--key", key[1])
	if checked.code != 0 {
		return "verify: " + checked.out + checked.err
	}
	for until := time.Now().Add(50 * time.Second); ; { // a program that was killed counts as running for half a minute
		rebuilt := runHere(t, "", k.with("rebuild")...)
		if strings.Contains(rebuilt.err, "a server is running") && time.Now().Before(until) {
			time.Sleep(time.Second)
			continue
		}
		if rebuilt.code != 0 || !strings.Contains(rebuilt.out, "Every row is what the events make it.") {
			return "rebuild: " + rebuilt.out + rebuilt.err
		}
		return ""
	}
}
