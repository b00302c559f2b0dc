package review

import (
	"context"
	"crypto/rand"
	"fmt"
	"time"

	"github.com/google/uuid"

	"revidit/review/photo"
)

// Service is the one way to change anything: it loads, decides, assesses and commits. It is safe for concurrent use.
type Service struct {
	store   Store
	blobs   Blobs
	library *Library
	gate    *photo.Gate
	now     func() time.Time
	newID   func() string
	newSeed func() string
	failed  func(error)
}

// Options replace what a test wants to hold still; zero values are the real thing.
type Options struct {
	Now   func() time.Time
	NewID func() string
	// Seed makes the dice by which blind checks and rechecks are drawn; an empty one draws nobody.
	Seed func() string
	// Failed is told what went wrong after an act was stored, with what will make up for it; nil tells nobody.
	Failed func(error)
	// Decoders is how many photos may be decoded at once (memory); 0 means 2.
	Decoders int
}

// NewService returns a service over a store, a place for photos and the tables of all groups.
func NewService(store Store, blobs Blobs, library *Library, o Options) *Service {
	s := &Service{store: store, blobs: blobs, library: library, now: o.Now, newID: o.NewID, newSeed: o.Seed, failed: o.Failed}
	if s.now == nil {
		s.now = time.Now
	}
	if s.newID == nil {
		s.newID = randomID
	}
	if s.newSeed == nil {
		s.newSeed = rand.Text
	}
	if s.failed == nil {
		s.failed = func(error) {}
	}
	decoders := o.Decoders
	if decoders == 0 {
		decoders = 2
	}
	s.gate = photo.NewGate(decoders)
	return s
}

// randomID is a UUID version 7: random, and in order of time, which keeps database indexes compact.
func randomID() string {
	return uuid.Must(uuid.NewV7()).String()
}

func (s *Service) moment(actor Actor) Moment {
	return Moment{Actor: actor, Now: s.now().UTC().Truncate(time.Microsecond), NewID: s.newID}
}

// AnyVersion is given where the actor does not say which version of a submission was decided on.
const AnyVersion = 0

// situation is everything that a decision about one submission looks at.
type situation struct {
	Moment
	submission *Submission
	specimen   *Specimen
	siblings   []Submission // all submissions of the specimen, this one included as it was
	policy     Policy
	people     *Reliability // what is known of people who report on this group; nil: the roles only
	seed       func() string
	judge      *Judge // of the submission's group, at the release in force
}

// load fetches a submission with what belongs to it, and checks that the actor may know of it, is not to look at it blind
// first, and has decided on the present version. Everything that shows a submission goes through here.
func (s *Service) load(ctx context.Context, actor Actor, id string, version int) (*situation, error) {
	now, err := s.loadBlind(ctx, actor, id, version)
	if err != nil {
		return nil, err
	}
	return now, now.hidden()
}

// loadBlind is load for those who are to look blind and are shown no more than the question.
func (s *Service) loadBlind(ctx context.Context, actor Actor, id string, version int) (*situation, error) {
	submission, err := s.store.Submission(ctx, id)
	if err != nil {
		return nil, err
	}
	if !mayRead(actor, &submission) {
		return nil, Errorf(KindNotFound, "There is no submission %s.", id)
	}
	if version != AnyVersion && version != submission.Seq {
		return nil, Errorf(KindStale, "This submission has changed since you opened it (version %d, now %d). Nothing was stored: compare what you have with the present version and send it again.",
			version, submission.Seq)
	}
	specimen, err := s.store.Specimen(ctx, submission.Specimen)
	if err != nil {
		return nil, err
	}
	siblings, err := s.store.SubmissionsOf(ctx, submission.Specimen)
	if err != nil {
		return nil, err
	}
	policy, err := s.store.Policy(ctx)
	if err != nil {
		return nil, err
	}
	judge, err := s.Judge(ctx, submission.Group)
	if err != nil {
		return nil, err
	}
	people, err := s.store.Reliability(ctx, judge.Tables().Group.ID)
	if err != nil {
		return nil, err
	}
	return &situation{Moment: s.moment(actor), submission: &submission, specimen: &specimen, siblings: siblings, policy: policy,
		people: &people, seed: s.newSeed, judge: judge}, nil
}

// mayRead: a draft, and a submission withdrawn as a draft, is known to its owner alone.
func mayRead(actor Actor, s *Submission) bool {
	if s.OpenedAt == nil && actor.Person != s.Owner {
		return false
	}
	_, err := Transition(actor, ActRead, s)
	return err == nil
}

// act does one thing to one submission: load, decide, assess, settle, commit.
func (s *Service) act(ctx context.Context, actor Actor, id string, version int, decide func(*situation) (decision, error)) (Submission, error) {
	now, err := s.load(ctx, actor, id, version)
	if err != nil {
		return Submission{}, err
	}
	return s.carryOut(ctx, now, decide)
}

// carryOut decides, assesses, settles and commits.
func (s *Service) carryOut(ctx context.Context, now *situation, decide func(*situation) (decision, error)) (Submission, error) {
	made, err := decide(now)
	if err != nil {
		return Submission{}, err
	}
	w := newWriter(now.Moment)
	if err := now.write(w, made); err != nil {
		return Submission{}, err
	}
	if err := s.commit(ctx, w); err != nil {
		return Submission{}, err
	}
	s.learn(ctx, now)
	return *now.submission, nil
}

// write turns a decision into events, and adds the assessment and the settlement that follow from it.
func (now *situation) write(w *writer, made decision) error {
	for _, c := range made.specimen {
		if err := w.specimen(now.specimen, c); err != nil {
			return err
		}
	}
	for _, c := range made.submission {
		if err := now.change(w, c); err != nil {
			return err
		}
	}
	if changesEvidence(made) {
		if err := w.submission(now.submission, now.assessed()); err != nil {
			return err
		}
	}
	if maySettle(made) && now.submission.Status == StatusOpen && len(now.policy.Missing(now.submission)) == 0 {
		settlement := now.submission.settlement(now.Moment, now.policy)
		return now.change(w, &Confirmed{Settlement: settlement})
	}
	return nil
}

// change writes one change of the submission, with what chance adds to it.
func (now *situation) change(w *writer, c Change) error {
	if submitted, ok := c.(*Submitted); ok && now.policy.BlindRate > 0 {
		if seed := now.seed(); seed != "" {
			submitted.Draw = &Draw{Rate: now.policy.BlindRate, Seed: seed}
		}
	}
	if err := w.submission(now.submission, c); err != nil {
		return err
	}
	if drawn, ok := now.recheck(c); ok {
		return w.submission(now.submission, drawn)
	}
	return nil
}

// changesEvidence says whether the confidence has to be computed again.
func changesEvidence(made decision) bool {
	for _, c := range made.submission {
		switch c.(type) {
		case *Submitted, *VerdictsGiven, *BlindChecked, *Answered, *Reopened:
			return true
		}
	}
	return false
}

// maySettle: a submission settles on what reviewers say, not when it is opened or answered.
func maySettle(made decision) bool {
	for _, c := range made.submission {
		switch c.(type) {
		case *VerdictsGiven, *OpinionGiven, *Replied:
			return true
		}
	}
	return false
}

// commit writes the batch; a lost race is told to the actor.
func (s *Service) commit(ctx context.Context, w *writer) error {
	err := s.store.Commit(ctx, w.finished())
	if KindOf(err) == KindConflict {
		return Errorf(KindConflict, "This has just been changed by another request. Nothing of this one was stored: look at the present version and send it again.")
	}
	if err != nil {
		return fmt.Errorf("commit: %w", err)
	}
	return nil
}

// writer collects the events of one act and the values that they lead to.
type writer struct {
	moment      Moment
	batch       Batch
	specimens   []*Specimen
	submissions []*Submission
	proposals   []*CellProposal
}

func newWriter(m Moment) *writer {
	return &writer{moment: m, batch: Batch{Attach: map[string]string{}}}
}

func (w *writer) event(stream string, seq int, c Change) Event {
	return Event{Stream: stream, Seq: seq, At: w.moment.Now, Actor: w.moment.Actor.Person, Role: w.moment.Actor.Role, Change: c}
}

func (w *writer) specimen(spec *Specimen, c Change) error {
	id := spec.ID
	if registered, ok := c.(*SpecimenRegistered); ok {
		id = registered.ID
	}
	if added, ok := c.(*PhotosAdded); ok {
		for _, p := range added.Photos {
			w.batch.Attach[p.ID] = id
		}
	}
	e := w.event(SpecimenStream(id), spec.Seq+1, c)
	if err := spec.apply(e); err != nil {
		return err
	}
	w.batch.Events = append(w.batch.Events, e)
	w.specimens = appendOnce(w.specimens, spec)
	return nil
}

func (w *writer) submission(sub *Submission, c Change) error {
	id := sub.ID
	if drafted, ok := c.(*Drafted); ok {
		id = drafted.ID
	}
	e := w.event(SubmissionStream(id), sub.Seq+1, c)
	if err := sub.apply(e); err != nil {
		return err
	}
	w.batch.Events = append(w.batch.Events, e)
	w.submissions = appendOnce(w.submissions, sub)
	return nil
}

func (w *writer) proposal(p *CellProposal, c Change) error {
	id := p.ID
	if proposed, ok := c.(*CellProposed); ok {
		id = proposed.ID
	}
	e := w.event(ProposalStream(id), p.Seq+1, c)
	if err := p.apply(e); err != nil {
		return err
	}
	w.batch.Events = append(w.batch.Events, e)
	w.proposals = appendOnce(w.proposals, p)
	return nil
}

func (w *writer) finished() Batch {
	for _, p := range w.proposals {
		w.batch.Proposals = append(w.batch.Proposals, *p)
	}
	for _, s := range w.specimens {
		w.batch.Specimens = append(w.batch.Specimens, *s)
	}
	for _, s := range w.submissions {
		w.batch.Submissions = append(w.batch.Submissions, *s)
	}
	return w.batch
}

func appendOnce[T any](list []*T, item *T) []*T {
	for _, known := range list {
		if known == item {
			return list
		}
	}
	return append(list, item)
}

// newSalt returns 16 random bytes.
func newSalt() []byte {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails: crypto/rand ends the program instead
	return salt
}
