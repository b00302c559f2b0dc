package service

import (
	"cmp"
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"github.com/google/uuid"

	"revidit/review"
	"revidit/review/photo/apart"
	"revidit/review/proof"
)

// Service is the one way to change anything: it loads, decides, assesses and commits. It is safe for concurrent use.
type Service struct {
	store    Store
	blobs    Blobs
	library  *Library
	reader   PhotoReader
	receiver receiver
	now      func() time.Time
	newID    func() string
	newSeed  func() string
	cursors  *cursorSeal
	links    linkSeal
	post     *Post
	signer   *proof.Signer
	outside  []Place
	log      *slog.Logger
	// checked: this process has asked for a check of the database.
	checked atomic.Bool
	// toldUnread are records of which the log has said that they cannot be read.
	toldUnread sync.Map
	// broughtAlong are the groups whose built-in tables this process has asked to assess with.
	broughtAlong sync.Map
	// scales are what the last reassessment weighs by.
	scales lastScales
	// keys are the printed keys made so far.
	keys keys
	// gallery cuts what is published.
	gallery *gallery
}

// Options replace what a test wants to hold still; zero values are the real thing.
type Options struct {
	Now   func() time.Time
	NewID func() string
	// Seed makes the dice by which blind checks and rechecks are drawn; an empty one draws nobody.
	Seed func() string
	// Arriving is the folder in which uploads stand until they are stored; empty is the system's for temporary files.
	Arriving string
	// Photos reads what is uploaded. nil: each photo in a process of its own, which what strangers send needs.
	Photos PhotoReader
	// Keys are secrets that all processes of a club share, each of at least 32 random bytes: the first seals cursors, all of
	// them open. Without any, this process makes one that nobody shares.
	Keys [][]byte
	// Post writes and sends letters. nil: nothing is sent, and pages say so.
	Post *Post
	// Signer signs what the tree of all events is; nil: nobody does, and it does not grow. Outside are the places that keep what is
	// signed.
	Signer  *proof.Signer
	Outside []Place
	// Log takes what whoever keeps the service has to hear: what cannot be read any more. nil: nothing is told.
	Log *slog.Logger
}

// NewService returns a service over a store, a place for photos and the tables of all groups.
func NewService(store Store, blobs Blobs, library *Library, o Options) *Service {
	s := &Service{store: store, blobs: blobs, library: library, now: o.Now, newID: o.NewID, newSeed: o.Seed,
		reader: o.Photos, receiver: receiver{folder: o.Arriving, people: map[string]*sender{}},
		cursors: newCursorSeal(o.Keys), links: newLinkSeal(o.Keys), gallery: newGallery(), post: o.Post, signer: o.Signer, outside: o.Outside, log: cmp.Or(o.Log, slog.New(slog.DiscardHandler))}
	if s.reader == nil {
		s.reader = apart.NewReader()
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.newID == nil {
		s.newID = randomID
	}
	if s.newSeed == nil {
		s.newSeed = rand.Text
	}
	return s
}

// randomID is a UUID version 7: random, and in order of time, which keeps database indexes compact.
func randomID() string {
	return uuid.Must(uuid.NewV7()).String()
}

func (s *Service) moment(actor review.Actor) review.Moment {
	return review.Moment{Actor: actor, Now: s.now().UTC().Truncate(time.Microsecond), NewID: s.newID}
}

// AnyVersion is given where the actor does not say which version of a submission was decided on.
const AnyVersion = 0

// commit stores what a writer has collected, together with the idempotency key under which it was asked for.
func (s *Service) commit(ctx context.Context, w *review.Writer) error {
	batch := w.Finished()
	if batch.TellsCurators() {
		var err error
		if batch.Curators, err = s.store.Curators(ctx); err != nil {
			return err
		}
	}
	o := keyed(ctx, &batch, w.Moment)
	if err := s.store.Commit(ctx, batch); err != nil {
		if kind := review.KindOf(err); kind == review.KindDown || kind == review.KindFull {
			s.log.Error("an act was not stored", "error", err) // pages show it on the form that it comes from
		}
		if errors.Is(err, ErrRace) && s.lostToItself(ctx, o) {
			return errServed
		}
		return fmt.Errorf("commit: %w", err)
	}
	if o != nil {
		o.taken = true
	}
	return nil
}

// Answers is nil where the store answers.
func (s *Service) Answers(ctx context.Context) error { return s.store.Answers(ctx) }

// newSalt returns 16 random bytes.
func newSalt() []byte {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails: crypto/rand ends the program instead
	return salt
}
