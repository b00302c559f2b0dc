package stopwatch

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"log/slog"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"revidit/models"
	"revidit/models/pgserver"
	"revidit/review"
	"revidit/review/service"
)

// clients send submits at the same time.
const clients = 8

// Submits is what came of submitting as fast as possible.
type Submits struct {
	// Ours and Theirs are submits a second by the service, and the same written statements a second by pgbench: medians.
	Ours, Theirs float64
	Statements   int // of one submit, without beginning and end
	Rounds       int
}

// Ratio is how much of the database's speed the service leaves.
func (s Submits) Ratio() float64 { return s.Ours / s.Theirs }

// ErrNoPgbench: the server's programs lack pgbench.
var ErrNoPgbench = errors.New("the programs of PostgreSQL lack pgbench; on Debian it is in the package postgresql")

// SubmitRatio lets eight clients submit through the service, and pgbench send what one submit was seen to write, in
// turns of some length. The server logs as LogSettings say; url is that of the site's database.
func (s *Site) SubmitRatio(ctx context.Context, server *pgserver.Server, url string, rounds int, each time.Duration, watched func(*models.DB) *service.Service) (Submits, error) {
	if _, err := exec.LookPath(filepath.Join(server.Programs, "pgbench")); err != nil {
		return Submits{}, ErrNoPgbench
	}
	if err := s.logIn(ctx); err != nil {
		return Submits{}, err
	}
	recording, err := s.record(ctx, server, url, watched)
	if err != nil {
		return Submits{}, err
	}
	raw, err := sql.Open("pgx", url)
	if err != nil {
		return Submits{}, err
	}
	defer raw.Close()
	defer s.numbering(ctx)()
	result := Submits{Statements: recording.statements, Rounds: rounds}
	var ours, theirs []float64
	for i := range rounds {
		one, err := s.submitFor(ctx, raw, each)
		if err != nil {
			return result, fmt.Errorf("submit: %w", err)
		}
		most := int(20*one*each.Seconds())/clients + 50 // more than pgbench will get through
		if _, err := raw.ExecContext(ctx, recording.script.photosOf(i, clients, most)); err != nil {
			return result, err
		}
		other, err := recording.script.run(ctx, server, url, i, clients, each)
		if errors.Is(err, errNoneDone) { // a machine so busy that not even one came through
			other, err = recording.script.run(ctx, server, url, i, clients, 10*each)
		}
		if err != nil {
			return result, err
		}
		ours, theirs = append(ours, one), append(theirs, other)
	}
	slices.Sort(ours)
	slices.Sort(theirs)
	result.Ours, result.Theirs = ours[rounds/2], theirs[rounds/2]
	return result, nil
}

type recording struct {
	script     script
	statements int
}

// record submits once where everything that is written is logged.
func (s *Site) record(ctx context.Context, server *pgserver.Server, url string, watched func(*models.DB) *service.Service) (r recording, err error) {
	db, err := models.Open(ctx, url+"&"+LogWritten)
	if err != nil {
		return r, err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	acting := watched(db)
	form, err := s.prepared(ctx)
	if err != nil {
		return r, err
	}
	var made service.Done
	statements, err := recorded(ctx, server, func() (err error) {
		made, err = acting.SubmitNew(ctx, s.actors[member], form, "")
		return err
	})
	if err != nil {
		return r, err
	}
	specimen, err := db.Specimen(ctx, made.Specimen)
	if err != nil {
		return r, err
	}
	of := ids{others: []string{made.ID, made.Specimen, specimen.Withholding.ID}}
	for _, p := range specimen.Photos {
		of.photos = append(of.photos, p.ID)
	}
	return recording{script: newScript(statements, of), statements: len(statements)}, nil
}

// numbering gives events their positions, as a server does, until what it returns is called.
func (s *Site) numbering(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	var working sync.WaitGroup
	working.Go(func() { s.DB.RunSequencer(ctx, slog.New(slog.DiscardHandler)) })
	return func() {
		cancel()
		working.Wait()
	}
}

// submitFor submits for a time and returns how many a second. Photos are uploaded before.
func (s *Site) submitFor(ctx context.Context, raw *sql.DB, last time.Duration) (perSecond float64, err error) {
	forms, err := s.forms(ctx, raw, int(last.Seconds()*mostSubmits))
	if err != nil {
		return 0, err
	}
	var done atomic.Int64
	var working sync.WaitGroup
	failed := make(chan error, clients)
	began := time.Now()
	for range clients {
		working.Go(func() {
			for time.Since(began) < last {
				form, ok := <-forms
				if !ok {
					return
				}
				if _, err := s.Service.SubmitNew(ctx, s.actors[member], form, ""); err != nil {
					failed <- err
					return
				}
				done.Add(1)
			}
		})
	}
	working.Wait()
	took := time.Since(began)
	select {
	case err := <-failed:
		return 0, err
	default:
		return float64(done.Load()) / took.Seconds(), nil
	}
}

// mostSubmits a second are prepared for.
const mostSubmits = 1500

// forms are made, and their photos uploaded, some thousands at once.
func (s *Site) forms(ctx context.Context, raw *sql.DB, count int) (<-chan review.SubmissionForm, error) {
	forms := make(chan review.SubmissionForm, count)
	defer close(forms)
	var photos, digests []string
	for range count {
		form, uploads := s.Moulds.Submission(s.dice, s.actors[member].Person, time.Now())
		forms <- form
		for _, u := range uploads {
			photos, digests = append(photos, u.ID), append(digests, u.SHA256)
		}
	}
	_, err := raw.ExecContext(ctx, `INSERT INTO uploads (id, sha256, type, width, height, uploader, at)
		SELECT id, sha256, 'image/jpeg', 1600, 1200, $3, now() FROM unnest($1::text[], $2::text[]) AS photos (id, sha256)`, photos, digests, s.actors[member].Person)
	return forms, err
}
